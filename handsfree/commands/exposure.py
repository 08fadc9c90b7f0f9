"""`handsfree exposure`: plan the light, look at hazard limits, work out thermal dose. Arithmetic, no verdicts."""

import json
from collections.abc import Callable, Mapping
from functools import wraps
from typing import ParamSpec

import click

from handsfree.errors import UsageError
from handsfree.exposure import hazard as limits
from handsfree.exposure import heat as thermal
from handsfree.exposure.dose import (
    RoundLimb,
    dose_j_cm2,
    far_field_from,
    inverse_square_error,
    irradiance_at,
    late_stop_share,
    misread_factors,
)
from handsfree.exposure.ledger import EXPOSURE_LABEL
from handsfree.exposure.profiles import LightProfile, Zone
from handsfree.exposure.units import Irradiance, Length
from handsfree.model.effects import Json
from handsfree.procedure.loader import light_of, load_device, load_light, zones_of

_A = ParamSpec("_A")
_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON.")

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
    factors = misread_factors(light, held, Length.of_cm(1))
    if factors:
        said = ", ".join(f"at {distance.cm:g} cm x{factor:.2f}" for distance, factor in factors)
        cautions.append(f"Held 1 cm off, the true dose is, of the planned one: {said} (measured table).")
    return cautions


def _time_cautions(zones: tuple[Zone, ...], irradiance: Irradiance) -> list[str]:
    shortest_s = min(zone.spot_s(irradiance.mw_cm2) for zone in zones)
    return [f"Light off half a second late adds {late_stop_share(shortest_s):.1%} to a spot of {shortest_s:g} s."]


@exposure.command()
@click.option("--wavelength", "wavelength_nm", type=float, required=True, help="Peak wavelength in nm, 300 to 700.")
@click.option("--irradiance", required=True, help='On the lit surface, with its unit: "100 mW/cm2".')
@click.option("--reflectance", type=float, default=0.8, show_default=True, help="Of the lit surface, up to 1.")
@click.option("--spot", "spot_s", type=float, help="Seconds on one spot, for the skin limit.")
@click.option("--power", "power_w", type=float, help="Light power of the source in W, with --area.")
@click.option("--area", "area_cm2", type=float, help="Area of the source's window or die in cm², with --power.")
@click.option("--look", "look_s", type=float, default=3600.0, show_default=True, help="Seconds of looking in a day.")
@_JSON
@_named_refusals
def hazard(
    wavelength_nm: float,
    irradiance: str,
    reflectance: float,
    spot_s: float | None,
    power_w: float | None,
    area_cm2: float | None,
    look_s: float,
    *,
    as_json: bool,
) -> None:
    """Blue-light, UV-A and skin limits of a working day, and eyewear density."""
    if (power_w is None) != (area_cm2 is None):
        raise UsageError("--power and --area belong together: the radiance of a source needs both")
    surface = Irradiance.parse(irradiance)
    weight = limits.blue_light_weight(wavelength_nm)
    sources = {"lit surface": limits.reflected_radiance(surface, reflectance)}
    if power_w is not None and area_cm2 is not None:
        sources["into the source"] = limits.lambertian_radiance(power_w, area_cm2)
    data: dict[str, Json] = {"wavelength_nm": wavelength_nm, "blue_light_weight": weight}
    lines = [f"blue-light weight at {wavelength_nm:g} nm: {weight:.3g}"]
    looks: list[Json] = []
    for name, radiance in sources.items():
        blue = radiance * weight
        permitted_s = limits.blue_permissible_s(blue)
        density = limits.eyewear_density(blue, look_s)
        looks.append(
            {
                "looking_at": name,
                "radiance_w_m2_sr": radiance,
                "weighted_radiance_w_m2_sr": blue,
                "risk_group": limits.risk_group(blue),
                "permitted_s_a_day": permitted_s,
                "eyewear_optical_density": density,
            }
        )
        time = "no end set by this limit" if permitted_s is None else f"{permitted_s:.3g} s a day"
        lines.append(
            f"{name}: L_B {blue:.4g} W/(m² sr), {limits.risk_group(blue)}, limit {time}; "
            f"optical density for {look_s:g} s a day: {density:.2f}"
        )
    data["looking"] = looks
    if wavelength_nm <= 410:
        lines.append("near or in UV-A (315 to 400 nm): the spectrum is needed, the peak alone does not decide")
        if wavelength_nm <= 400:
            data["uva_permitted_s_a_day"] = limits.uva_permissible_s(surface)
            uva_s = limits.uva_permissible_s(surface)
            lines.append(f"UV-A at this irradiance: {'no end set' if uva_s is None else f'{uva_s:.3g} s a day'}")
    if spot_s is not None:
        skin = limits.skin_limit(spot_s)
        data["skin_limit_mw_cm2"] = skin.mw_cm2
        over = "over" if surface.mw_cm2 > skin.mw_cm2 else "under"
        data["irradiance_is"] = f"{over} the skin limit"
        lines.append(f"skin limit for one exposure of {spot_s:g} s: {skin.mw_cm2:.0f} mW/cm²; this light is {over} it")
    data["cautions"] = [limits.CAUTION]
    _show(data, [*lines, f"caution: {limits.CAUTION}"], as_json=as_json)


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
            f"{p.temperature_c:g} °C, {p.low_s:g} to {p.high_s:g} s: {p.meaning} ({p.source})"
            for p in thermal.BURN_POINTS
        ]
    if training_curve is not None:
        depth_mm, warning = thermal.working_curve_depth_mm(*training_curve)
        data |= {"training_depth_mm": depth_mm, "training_warning": warning}
        lines += [f"training: {depth_mm:.3f} mm by the working curve", f"caution: {warning}"]
    _show(data, lines, as_json=as_json)
