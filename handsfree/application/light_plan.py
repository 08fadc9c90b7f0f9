"""Planning the light of a visit: seconds for each spot and zone, dose at beam centre, positions around a limb."""

from handsfree.application.figures import Figures
from handsfree.definition.loader import light_of, load_device, load_light, zones_of
from handsfree.drawing.stations_picture import stations_picture
from handsfree.exposure.beam import (
    RoundLimb,
    disc_ratio,
    dose_j_cm2,
    far_field_from,
    inverse_square_error,
    inverse_square_ratio,
    irradiance_at,
    late_stop_share,
    misread_factors,
)
from handsfree.exposure.ledger import EXPOSURE_LABEL
from handsfree.exposure.profiles import LightProfile, ZoneProfile
from handsfree.exposure.units import Irradiance, Length
from handsfree.model.effects import Json

PLAN_CAUTION = (
    "Dose is at beam centre. It is not a measure of hardness: check firmness by hand and follow the "
    "instructions of the device and of the light."
)


def plan_light(
    device_name: str, light_name: str, circumference: str, distance: str | None, arc: str | None, tilt_deg: float
) -> Figures:
    """Plan the light for a round limb.

    Args:
        device_name: Device profile: a bundled identifier or a file.
        light_name: Light profile, likewise.
        circumference: Around the limb, with its unit.
        distance: From light to surface, with its unit; the profile's stated distance where None.
        arc: Part of the circumference to be lit, with its unit; all of it where None.
        tilt_deg: Stated tilt, degrees.

    Raises:
        ProcedureFileError: A profile is not there or has faults.
        ValueError: A length has no unit, or a figure is out of its range; says which would be right.
    """
    device, light_file = load_device(device_name), load_light(light_name)
    device_zones, light = zones_of(device), light_of(light_file)
    held = Length.parse(distance) if distance is not None else Length.of_cm(light_file.stated_distance_cm)
    limb = RoundLimb(Length.parse(circumference), held)
    irradiance = irradiance_at(light, held)
    stations = limb.stations(Length.parse(arc) if arc is not None else None)
    spots = sum(zone.spots for zone in device_zones)
    cautions = [PLAN_CAUTION]
    cautions += [f"The profile {p.id} is not approved." for p in (device, light_file) if p.approved_by is None]
    cautions += _distance_cautions(light, held)
    cautions += _time_cautions(device_zones, irradiance)
    if spots < stations:
        cautions.append(
            f"The device names {spots} positions; {stations} around the limb are needed so that no point gets under "
            "half of one position's peak (point light over a cylinder)."
        )
    zones: list[Json] = []
    lines = [
        f"{device.id} with {light.id} at {held.cm:g} cm: {irradiance.mw_cm2:.1f} mW/cm² at beam centre "
        f"(output checked on {light.output_checked_on})",
        f"limb {limb.circumference.cm:g} cm around: half dose over {limb.half_dose_arc_cm:.2f} cm of arc, "
        f"{stations} positions",
    ]
    total_s = 0.0
    for zone in device_zones:
        spot_s = zone.spot_s(irradiance.mw_cm2)
        total_s += spot_s * zone.spots
        dose = dose_j_cm2(irradiance, spot_s, tilt_deg)
        zones.append(
            {
                "id": zone.id,
                "name": zone.label,
                "spots": zone.spots,
                "spot_s": round(spot_s, 3),
                "total_s": round(spot_s * zone.spots, 3),
                "spot_j_cm2": round(dose, 4),
                "after_strap_off": zone.strap_shadowed,
            }
        )
        shade = ", only after strap off" if zone.strap_shadowed else ""
        lines.append(f"  {zone.label}: {zone.spots} x {spot_s:.1f} s, {dose:.3f} J/cm² each{shade}")
    lines += [f"total {total_s:.1f} s of light ({EXPOSURE_LABEL})", *(f"caution: {text}" for text in cautions)]
    data: dict[str, Json] = {
        "device": device.id,
        "light": light.id,
        "label": EXPOSURE_LABEL,
        "distance_cm": held.cm,
        "tilt_deg": tilt_deg,
        "irradiance_mw_cm2": round(irradiance.mw_cm2, 3),
        "output_checked_on": light.output_checked_on,
        "circumference_cm": limb.circumference.cm,
        "half_dose_arc_cm": round(limb.half_dose_arc_cm, 3),
        "stations": stations,
        "zones": zones,
        "total_s": round(total_s, 3),
        "cautions": [*cautions],
    }
    return Figures(data, tuple(lines))


def plan_picture(device_name: str, light_name: str, circumference: str, distance: str | None, arc: str | None) -> str:
    """The positions around the limb and the zones of the device, as an SVG file. Arguments and errors: `plan_light`."""
    device, light = load_device(device_name), load_light(light_name)
    held = Length.parse(distance) if distance is not None else Length.of_cm(light.stated_distance_cm)
    limb, to_light = RoundLimb(Length.parse(circumference), held), Length.parse(arc) if arc is not None else None
    arc_cm = to_light.cm if to_light is not None else limb.circumference.cm
    return stations_picture(limb, limb.stations(to_light), arc_cm, device, light.title)


def _distance_cautions(light: LightProfile, held: Length) -> list[str]:
    window = Length.of_cm(light.window_cm)
    cautions = []
    if held.cm < far_field_from(window).cm:
        cautions.append(
            f"At {held.cm:g} cm the {window.cm:g} cm window is in its near field (five-times rule: far field from "
            f"{far_field_from(window).cm:g} cm); the inverse square would be {inverse_square_error(window, held):.0%} "
            "off for an evenly bright disc. Only the measured table is used."
        )
        low, high = (Length.of_cm(max(light.irradiance_table[at][0], 0.01)) for at in (0, -1))
        measured = irradiance_at(light, high).mw_cm2 / irradiance_at(light, low).mw_cm2
        radius = Length.of_cm(window.cm / 2)
        cautions.append(
            f"From {low.cm:g} to {high.cm:g} cm this light was measured to fall to {measured:.0%}; a point would fall "
            f"to {inverse_square_ratio(low, high):.0%}, an evenly bright disc of its window's size to "
            f"{disc_ratio(radius, high) / disc_ratio(radius, low):.0%}."
        )
    factors = misread_factors(light, held, Length.of_cm(1))
    if factors:
        said = ", ".join(f"at {distance.cm:g} cm x{factor:.2f}" for distance, factor in factors)
        cautions.append(f"Held 1 cm off, the true dose is, of the planned one: {said} (measured table).")
    return cautions


def _time_cautions(zones: tuple[ZoneProfile, ...], irradiance: Irradiance) -> list[str]:
    shortest_s = min(zone.spot_s(irradiance.mw_cm2) for zone in zones)
    return [f"Light off half a second late adds {late_stop_share(shortest_s):.1%} to a spot of {shortest_s:g} s."]
