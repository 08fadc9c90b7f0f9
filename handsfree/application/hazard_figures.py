"""Blue-light, UV-A and skin limits of a working day, and the density of eyewear."""

from dataclasses import dataclass

from handsfree.application.figures import Figures
from handsfree.definition.loader import light_of, load_light
from handsfree.errors import UsageError
from handsfree.exposure import hazard as limits
from handsfree.exposure.beam import irradiance_at
from handsfree.exposure.units import Irradiance, Length
from handsfree.model.effects import Json

NEAR_UVA_NM = 410.0


@dataclass(frozen=True, kw_only=True)
class HazardQuestion:
    """A light, and how it is met.

    Attributes:
        light_name: Light profile, whose spectrum, wavelength and irradiance count where not given; or None.
        wavelength_nm: Peak wavelength, 300 … 700 nm, or None.
        irradiance: On the lit surface, with its unit, or None.
        reflectance: Of the lit surface, up to 1.
        spot_s: Seconds on one spot, for the skin limit, or None.
        power_w: Light power of the source in W, with `area_cm2`, or None.
        area_cm2: Area of the source's window or die, or None.
        eye_distance: From the source to the eye, with its unit.
        look_s: Seconds of looking in a day.
    """

    light_name: str | None
    wavelength_nm: float | None
    irradiance: str | None
    reflectance: float
    spot_s: float | None
    power_w: float | None
    area_cm2: float | None
    eye_distance: str
    look_s: float


def hazard_figures(asked: HazardQuestion) -> Figures:
    """Limits for a light.

    Raises:
        UsageError: What belongs together is not given together.
        ProcedureFileError: The profile is not there or has faults.
        ValueError: A figure has no unit or is out of its range; says which would be right.
    """
    power_w, area_cm2, look_s, spot_s = asked.power_w, asked.area_cm2, asked.look_s, asked.spot_s
    if (power_w is None) != (area_cm2 is None):
        raise UsageError("--power and --area belong together: the radiance of a source needs both")
    surface, wavelength_nm, spectrum = _light_asked_for(asked.light_name, asked.wavelength_nm, asked.irradiance)
    weight = limits.blue_light_share(spectrum) if spectrum else limits.blue_light_weight(wavelength_nm)
    data: dict[str, Json] = {"wavelength_nm": wavelength_nm, "blue_light_weight": weight}
    what = f"of the spectrum around {wavelength_nm:g} nm" if spectrum else f"at {wavelength_nm:g} nm"
    lines = [f"blue-light weight {what}: {weight:.3g}"]
    looks = [_look("lit surface", limits.reflected_radiance(surface, asked.reflectance), weight, look_s)]
    if power_w is not None and area_cm2 is not None:
        radiance = limits.lambertian_radiance(power_w, area_cm2)
        into = _look("into the source", radiance, weight, look_s)
        eye_cm = Length.parse(asked.eye_distance).cm
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
    return Figures(data, (*lines, f"caution: {limits.CAUTION}"))


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
