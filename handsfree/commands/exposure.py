"""`handsfree exposure`: plan the light, look at hazard limits, work out thermal dose. Arithmetic, no verdicts."""

import json
from collections.abc import Callable, Mapping
from functools import wraps
from typing import ParamSpec

import click

from handsfree.definition.loader import light_of, load_device, load_light, zones_of
from handsfree.errors import UsageError
from handsfree.exposure import hazard as limits
from handsfree.exposure import heat as thermal
from handsfree.exposure.dose import (
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

_A = ParamSpec("_A")
_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")

NEAR_UVA_NM = 410.0
PLAN_CAUTION = (
    "Dose is at beam centre. It is not a measure of hardness: check firmness by hand and follow the "
    "instructions of the device and of the light."
)


def _named_refusals(function: Callable[_A, None]) -> Callable[_A, None]:
    @wraps(function)
    def run(*args: _A.args, **kwargs: _A.kwargs) -> None:
        try:
            function(*args, **kwargs)
        except ValueError as error:
            raise UsageError(str(error)) from error

    return run


def _show(data: Mapping[str, Json], lines: list[str], *, as_json: bool) -> None:
    click.echo(json.dumps(data, ensure_ascii=False, indent=2) if as_json else "\n".join(lines))


@click.group(name="exposure")
def exposure() -> None:
    """Light, dose and heat arithmetic for planning and training."""


@exposure.command()
@click.option("--device", "device_name", required=True, help="Device profile: a bundled identifier or a YAML file.")
@click.option("--light", "light_name", required=True, help="Light profile: a bundled identifier or a YAML file.")
@click.option("--circumference", required=True, help='Measured around the limb, with its unit: "17.5 cm", "7 inch".')
@click.option("--distance", help="From light to surface, with its unit; the profile's stated distance when left out.")
@click.option("--arc", help="Part of the circumference to be lit, with its unit; all of it when left out.")
@click.option("--tilt", "tilt_deg", type=float, default=0.0, show_default=True, help="Stated tilt in degrees.")
@_JSON
@_named_refusals
def plan(
    device_name: str,
    light_name: str,
    circumference: str,
    distance: str | None,
    arc: str | None,
    tilt_deg: float,
    *,
    as_json: bool,
) -> None:
    """Seconds for each spot and zone, dose at beam centre, and positions around a round limb."""
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
    _show(data, lines, as_json=as_json)


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


@exposure.command()
@click.option("--light", "light_name", help="Light profile; its spectrum, wavelength and irradiance where not given.")
@click.option("--wavelength", "wavelength_nm", type=float, help="Peak wavelength in nm, 300 to 700.")
@click.option("--irradiance", help='On the lit surface, with its unit: "100 mW/cm2".')
@click.option("--reflectance", type=float, default=0.8, show_default=True, help="Of the lit surface, up to 1.")
@click.option("--spot", "spot_s", type=float, help="Seconds on one spot, for the skin limit.")
@click.option("--power", "power_w", type=float, help="Light power of the source in W, with --area.")
@click.option("--area", "area_cm2", type=float, help="Area of the source's window or die in cm², with --power.")
@click.option("--eye-distance", default="20 cm", show_default=True, help="From the source to the eye, with --power.")
@click.option("--look", "look_s", type=float, default=3600.0, show_default=True, help="Seconds of looking in a day.")
@_JSON
@_named_refusals
def hazard(
    light_name: str | None,
    wavelength_nm: float | None,
    irradiance: str | None,
    reflectance: float,
    spot_s: float | None,
    power_w: float | None,
    area_cm2: float | None,
    eye_distance: str,
    look_s: float,
    *,
    as_json: bool,
) -> None:
    """Blue-light, UV-A and skin limits of a working day, and eyewear density."""
    if (power_w is None) != (area_cm2 is None):
        raise UsageError("--power and --area belong together: the radiance of a source needs both")
    surface, wavelength_nm, spectrum = _light_asked_for(light_name, wavelength_nm, irradiance)
    weight = limits.blue_light_share(spectrum) if spectrum else limits.blue_light_weight(wavelength_nm)
    data: dict[str, Json] = {"wavelength_nm": wavelength_nm, "blue_light_weight": weight}
    what = f"of the spectrum around {wavelength_nm:g} nm" if spectrum else f"at {wavelength_nm:g} nm"
    lines = [f"blue-light weight {what}: {weight:.3g}"]
    looks = [_look("lit surface", limits.reflected_radiance(surface, reflectance), weight, look_s)]
    if power_w is not None and area_cm2 is not None:
        radiance = limits.lambertian_radiance(power_w, area_cm2)
        into = _look("into the source", radiance, weight, look_s)
        eye_cm = Length.parse(eye_distance).cm
        if limits.subtense_rad(area_cm2, eye_cm) < limits.SMALL_SOURCE_RAD:
            at_eye = limits.irradiance_at_eye_w_m2(radiance, area_cm2, eye_cm) * weight
            into |= {
                "eye_distance_cm": eye_cm,
                "weighted_irradiance_at_eye_w_m2": at_eye,
                "small_source_permitted_s_a_day": limits.blue_small_source_permissible_s(at_eye),
            }
        looks.append(into)
    data["looking"] = [*looks]
    lines += [line for look in looks for line in _look_lines(look, look_s)]
    _add_uva(data, lines, surface, wavelength_nm, spectrum)
    if spot_s is not None:
        skin = limits.skin_limit(spot_s)
        data["skin_limit_mw_cm2"] = skin.mw_cm2
        over = "over" if surface.mw_cm2 > skin.mw_cm2 else "under"
        data["irradiance_is"] = f"{over} the skin limit"
        lines.append(f"skin limit for one exposure of {spot_s:g} s: {skin.mw_cm2:.0f} mW/cm²; this light is {over} it")
    data["cautions"] = [limits.CAUTION]
    _show(data, [*lines, f"caution: {limits.CAUTION}"], as_json=as_json)


def _light_asked_for(
    light_name: str | None, wavelength_nm: float | None, irradiance: str | None
) -> tuple[Irradiance, float, tuple[tuple[float, float], ...]]:
    """Irradiance, wavelength and spectrum: of the profile, unless given."""
    if light_name is None:
        if wavelength_nm is None or irradiance is None:
            raise UsageError("give --wavelength and --irradiance, or --light PROFILE")
        return Irradiance.parse(irradiance), wavelength_nm, ()
    file = load_light(light_name)
    light = light_of(file)
    surface = (
        Irradiance.parse(irradiance)
        if irradiance is not None
        else irradiance_at(light, Length.of_cm(file.stated_distance_cm))
    )
    return surface, wavelength_nm or light.wavelength_nm, light.spectrum if wavelength_nm is None else ()


def _look(name: str, radiance: float, weight: float, look_s: float) -> dict[str, Json]:
    blue = radiance * weight
    return {
        "looking_at": name,
        "radiance_w_m2_sr": radiance,
        "weighted_radiance_w_m2_sr": blue,
        "risk_group": limits.risk_group(blue),
        "permitted_s_a_day": limits.blue_permissible_s(blue),
        "eyewear_optical_density": limits.eyewear_density(blue, look_s),
    }


def _look_lines(look: dict[str, Json], look_s: float) -> list[str]:
    lines = [
        f"{look['looking_at']}: L_B {look['weighted_radiance_w_m2_sr']:.4g} W/(m² sr), {look['risk_group']}, "
        f"limit {_a_day(look['permitted_s_a_day'])}; optical density for {look_s:g} s a day: "
        f"{look['eyewear_optical_density']:.2f}"
    ]
    if "eye_distance_cm" in look:
        lines.append(
            f"  it looks small from {look['eye_distance_cm']:g} cm: E_B {look['weighted_irradiance_at_eye_w_m2']:.3g} "
            f"W/m² at the eye, limit {_a_day(look['small_source_permitted_s_a_day'])} by the small-source rule"
        )
    return lines


def _a_day(permitted_s: Json) -> str:
    if not isinstance(permitted_s, float):
        return "no end set by this limit"
    return f"{permitted_s:.0f} s a day" if permitted_s >= 100 else f"{permitted_s:.3g} s a day"


def _add_uva(
    data: dict[str, Json],
    lines: list[str],
    surface: Irradiance,
    wavelength_nm: float,
    spectrum: tuple[tuple[float, float], ...],
) -> None:
    share = limits.uva_share(spectrum) if spectrum else float(wavelength_nm <= limits.UVA_NM[1])
    if not spectrum and wavelength_nm <= NEAR_UVA_NM:
        lines.append("near or in UV-A (315 to 400 nm): the spectrum is needed, the peak alone does not decide")
    if share > 0:
        uva = Irradiance.of_w_m2(surface.w_m2 * share)
        permitted_s = limits.uva_permissible_s(uva)
        data |= {"uva_w_m2": uva.w_m2, "uva_permitted_s_a_day": permitted_s}
        lines.append(f"UV-A on the lit surface: {uva.w_m2:.3g} W/m², limit for the eye there {_a_day(permitted_s)}")


def _span(low_s: float, high_s: float) -> str:
    """A published time or span of times in the largest unit that fits."""
    size, unit = next(
        (size, unit) for size, unit in ((3600, "h"), (60, "min"), (1, "s")) if high_s >= 2 * size or size == 1
    )
    low, high = f"{low_s / size:g}", f"{high_s / size:g}"
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def _step(text: str) -> tuple[float, float]:
    temperature, _, minutes = text.partition(":")
    try:
        return float(temperature), float(minutes)
    except ValueError:
        raise UsageError(f"--step '{text}' is not degrees Celsius, a colon and minutes, such as 43:10") from None


@exposure.command()
@click.option("--step", "steps", multiple=True, help="Skin temperature in °C, a colon, minutes; may be repeated.")
@click.option("--burn-points", is_flag=True, help="List published contact-burn points.")
@click.option(
    "--training-curve",
    type=(float, float, float),
    help="Training only: dose and critical dose in mJ/cm², penetration depth in mm.",
)
@click.option("--time-left", is_flag=True, help="Refused, and says why.")
@_JSON
@_named_refusals
def heat(
    steps: tuple[str, ...],
    training_curve: tuple[float, float, float] | None,
    *,
    burn_points: bool,
    time_left: bool,
    as_json: bool,
) -> None:
    """Thermal dose CEM43, published burn points, the working curve for training."""
    if time_left:
        raise UsageError(thermal.NO_COUNTDOWN)
    if not (steps or burn_points or training_curve):
        raise UsageError("nothing asked for; give --step, --burn-points or --training-curve")
    data: dict[str, Json] = {}
    lines: list[str] = []
    if steps:
        minutes = thermal.cem43_min([_step(text) for text in steps])
        data |= {"cem43_min": minutes, "cem43_caution": thermal.CEM43_CAUTION}
        lines += [f"CEM43: {minutes:.3f} min", f"caution: {thermal.CEM43_CAUTION}"]
    if burn_points:
        data["burn_points"] = [
            {
                "temperature_c": p.temperature_c,
                "low_s": p.low_s,
                "high_s": p.high_s,
                "what": p.meaning,
                "source": p.source,
            }
            for p in thermal.BURN_POINTS
        ]
        lines += [
            f"{p.temperature_c:g} °C, {_span(p.low_s, p.high_s)}: {p.meaning} ({p.source})" for p in thermal.BURN_POINTS
        ]
        data["pain_points"] = [{"where": where, "source": source} for where, source in thermal.PAIN_POINTS]
        lines += [f"heat begins to hurt at {where} ({source})" for where, source in thermal.PAIN_POINTS]
    if training_curve is not None:
        depth_mm, warning = thermal.working_curve_depth_mm(*training_curve)
        data |= {"training_depth_mm": depth_mm, "training_warning": warning}
        lines += [f"training: {depth_mm:.3f} mm by the working curve", f"caution: {warning}"]
    _show(data, lines, as_json=as_json)
