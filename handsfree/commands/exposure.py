"""`handsfree exposure`: plan the light, look at hazard limits, work out thermal dose. Arithmetic, no verdicts."""

import json
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import ParamSpec

import click

from handsfree.application.figures import Figures
from handsfree.application.hazard_figures import HazardQuestion, hazard_figures
from handsfree.application.heat_figures import heat_figures
from handsfree.application.light_plan import plan_light, plan_picture
from handsfree.application.output_files import write_output
from handsfree.errors import UsageError
from handsfree.exposure.heat import NO_COUNTDOWN
from handsfree.options import JSON, PATH

_A = ParamSpec("_A")


def _named_refusals(function: Callable[_A, None]) -> Callable[_A, None]:
    @wraps(function)
    def run(*args: _A.args, **kwargs: _A.kwargs) -> None:
        try:
            function(*args, **kwargs)
        except ValueError as error:
            raise UsageError(str(error)) from error

    return run


def _show(figures: Figures, *, as_json: bool) -> None:
    click.echo(json.dumps(figures.data, ensure_ascii=False, indent=2) if as_json else "\n".join(figures.lines))


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
@click.option("--output", type=PATH, help="Draw positions and zones into this file as well (SVG).")
@JSON
@_named_refusals
def plan(
    device_name: str,
    light_name: str,
    circumference: str,
    distance: str | None,
    arc: str | None,
    tilt_deg: float,
    output: Path | None,
    *,
    as_json: bool,
) -> None:
    """Seconds for each spot and zone, dose at beam centre, and positions around a round limb."""
    if output is not None:
        write_output(output, plan_picture(device_name, light_name, circumference, distance, arc), private=False)
    _show(plan_light(device_name, light_name, circumference, distance, arc, tilt_deg), as_json=as_json)


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
@JSON
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
    asked = HazardQuestion(
        light_name=light_name,
        wavelength_nm=wavelength_nm,
        irradiance=irradiance,
        reflectance=reflectance,
        spot_s=spot_s,
        power_w=power_w,
        area_cm2=area_cm2,
        eye_distance=eye_distance,
        look_s=look_s,
    )
    _show(hazard_figures(asked), as_json=as_json)


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
@JSON
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
        raise UsageError(NO_COUNTDOWN)
    if not (steps or burn_points or training_curve):
        raise UsageError("nothing asked for; give --step, --burn-points or --training-curve")
    figures = heat_figures([_step(text) for text in steps], training_curve, burn_points=burn_points)
    _show(figures, as_json=as_json)
