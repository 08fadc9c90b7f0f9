"""Optical radiation limits for planning and training: blue light, UV-A, skin, eyewear.

Sources: ICNIRP, Health Phys 2013;105(1):74-96 (blue light, skin); IEC 62471:2006 §4.3.2-4.3.4, §4.3.8 and table 4.2;
ICNIRP, Health Phys 2004;87:171-186 (UV-A). Times are what a limit permits for one working day, worked out beforehand; a
running count towards damage is never given. Retinal thermal hazard and the eye without a lens are not covered.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import inf, log10, pi, sqrt

from handsfree.exposure.profiles import require_positive
from handsfree.exposure.units import Irradiance

DAY_S = 10_000.0
"""Beyond this time the blue-light radiance limit is a constant level, s (ICNIRP, Health Physics 2013;105(1):74-96)."""

UVA_NM = (315.0, 400.0)
"""The band of the limit for the front of the eye (ICNIRP, Health Physics 2013;105(1):74-96; IEC 62471:2006)."""
SMALL_SOURCE_RAD = 0.011
"""A source that looks smaller counts by its irradiance at the eye (e-ILV note to blue-light hazard)."""
STEP_NM = 0.5

CAUTION = (
    "Planning figures for a working day, all exposures of the day together. They are limits of published guidelines, "
    "not a promise. Retinal thermal hazard and eyes without a lens are not covered. Choose eyewear by its optical "
    "density at the wavelength of the light, not by its colour; the instructions of the light come first."
)

_B_POINTS: tuple[tuple[float, float], ...] = (
    (380, 0.01), (385, 0.013), (390, 0.025), (395, 0.05), (400, 0.10), (405, 0.20), (410, 0.40), (415, 0.80),
    (420, 0.90), (425, 0.95), (430, 0.98), (435, 1.00), (440, 1.00), (445, 0.97), (450, 0.94), (455, 0.90),
    (460, 0.80), (465, 0.70), (470, 0.62), (475, 0.55), (480, 0.45), (485, 0.40), (490, 0.22), (495, 0.16),
    (500, 0.10),
)  # fmt: skip
"""Wavelength, nm, and B(λ): IEC 62471:2006 table 4.2."""


def blue_light_weight(wavelength_nm: float) -> float:
    """B(λ), the blue-light hazard weight, 0.001 … 1.

    Source: IEC 62471:2006 table 4.2, linear between points.

    Raises:
        ValueError: The wavelength is outside 300 to 700 nm.
    """
    if not 300 <= wavelength_nm <= 700:
        raise ValueError(f"wavelength {wavelength_nm} nm; the blue-light weight is defined from 300 to 700")
    if wavelength_nm <= 380:
        return 0.01
    if wavelength_nm > 600:
        return 0.001
    if wavelength_nm >= 500:
        return float(10 ** ((450 - wavelength_nm) / 50))
    index = bisect_right(_B_POINTS, (wavelength_nm, 2.0))
    (low_nm, low), (high_nm, high) = _B_POINTS[index - 1], _B_POINTS[index]
    return low + (high - low) * (wavelength_nm - low_nm) / (high_nm - low_nm)


def weighted(spectrum: Iterable[tuple[float, float]], step_nm: float) -> float:
    """Σ X(λ) B(λ) Δλ of a spectrum.

    Args:
        spectrum: Wavelength in nm and spectral radiance or irradiance per nm.
        step_nm: Even spacing of the wavelengths.
    """
    require_positive("step_nm", step_nm)
    return sum(value * blue_light_weight(wavelength_nm) * step_nm for wavelength_nm, value in spectrum)


def blue_light_share(spectrum: Sequence[tuple[float, float]]) -> float:
    """B-weighted part of a whole spectrum: what one B(λ) is for a light of one wavelength, 0.001 … 1.

    Args:
        spectrum: Wavelength in nm, rising, and relative power; straight lines are drawn between the points.
    """
    fine = _fine(spectrum)
    return weighted(fine, STEP_NM) / (sum(power for _, power in fine) * STEP_NM)


def uva_share(spectrum: Sequence[tuple[float, float]]) -> float:
    """Part of a spectrum's power that is UV-A (315-400 nm), 0 … 1. Argument as in `blue_light_share`."""
    fine = _fine(spectrum)
    return sum(power for nm, power in fine if UVA_NM[0] <= nm <= UVA_NM[1]) / sum(power for _, power in fine)


def _fine(spectrum: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    first_nm, last_nm = spectrum[0][0], spectrum[-1][0]
    places = [first_nm + STEP_NM * n for n in range(int((last_nm - first_nm) / STEP_NM) + 1)]
    fine = []
    for nm in places:
        right = min(max(1, bisect_right(spectrum, (nm, inf))), len(spectrum) - 1)
        (low_nm, low), (high_nm, high) = spectrum[right - 1], spectrum[right]
        fine.append((nm, low + (high - low) * (nm - low_nm) / (high_nm - low_nm)))
    return fine


def reflected_radiance(irradiance: Irradiance, reflectance: float) -> float:
    """Radiance of a matt surface in W m⁻² sr⁻¹: ρE/π.

    Raises:
        ValueError: The reflectance is not above 0 and at most 1.
    """
    if not 0 < reflectance <= 1:
        raise ValueError(f"reflectance is {reflectance}; it must be above 0 and at most 1")
    return reflectance * irradiance.w_m2 / pi


def lambertian_radiance(power_w: float, area_cm2: float) -> float:
    """Radiance in W m⁻² sr⁻¹ of a flat matt emitter: P/(πA)."""
    require_positive("power_w", power_w)
    require_positive("area_cm2", area_cm2)
    return power_w / (pi * area_cm2 * 1e-4)


def blue_permissible_s(weighted_radiance: float) -> float | None:
    """Seconds a day that the limit permits looking at a source of this L_B; None where it sets no end.

    Args:
        weighted_radiance: L_B in W m⁻² sr⁻¹, 0 or more.

    Source: D_B ≤ 10⁶ J m⁻² sr⁻¹ up to 10⁴ s, L_B ≤ 100 W m⁻² sr⁻¹ beyond.
    """
    if weighted_radiance <= 100:
        return None
    return 1e6 / weighted_radiance


def subtense_rad(area_cm2: float, eye_distance_cm: float) -> float:
    """Angle under which a round source of this area is seen, rad."""
    require_positive("area_cm2", area_cm2)
    require_positive("eye_distance_cm", eye_distance_cm)
    return 2 * sqrt(area_cm2 / pi) / eye_distance_cm


def irradiance_at_eye_w_m2(radiance: float, area_cm2: float, eye_distance_cm: float) -> float:
    """Irradiance in W/m² from a small flat source seen straight on: L·A/d².

    Args:
        radiance: L in W m⁻² sr⁻¹.
        area_cm2: A, of the source.
        eye_distance_cm: d, from the source to the eye.

    Source: distance law, e-ILV 17-25-104.
    """
    require_positive("eye_distance_cm", eye_distance_cm)
    return radiance * area_cm2 / eye_distance_cm**2


def blue_small_source_permissible_s(weighted_irradiance_w_m2: float) -> float | None:
    """Seconds a day for a source that looks smaller than 0.011 rad; None where the limit sets no end.

    Args:
        weighted_irradiance_w_m2: E_B at the eye, W/m², 0 or more.

    Source: E_B·t ≤ 100 J/m² up to 100 s, E_B ≤ 1 W/m² beyond.
    """
    if weighted_irradiance_w_m2 <= 1:
        return None
    return 100 / weighted_irradiance_w_m2


def risk_group(weighted_radiance: float) -> str:
    """Risk group by L_B (W m⁻² sr⁻¹), IEC 62471:2006: "exempt", "RG1", "RG2" or "RG3"."""
    for limit, name in ((100.0, "exempt"), (10_000.0, "RG1"), (4e6, "RG2")):
        if weighted_radiance <= limit:
            return name
    return "RG3"


def eyewear_density(weighted_radiance: float, seconds_a_day: float) -> float:
    """Optical density at the light's wavelength that brings a day's look within the blue-light limit; at least 0.

    Args:
        weighted_radiance: L_B in W m⁻² sr⁻¹.
        seconds_a_day: Summed time of looking at the source in a day.
    """
    require_positive("weighted_radiance", weighted_radiance)
    require_positive("seconds_a_day", seconds_a_day)
    allowed = 1e6 / seconds_a_day if seconds_a_day <= DAY_S else 100.0
    return max(0.0, log10(weighted_radiance / allowed))


def uva_permissible_s(uva_irradiance: Irradiance) -> float | None:
    """Seconds a day of UV-A (315-400 nm) at the eye; None where the limit sets no end.

    Source: 10⁴ J/m² below 1000 s, 10 W/m² beyond.
    """
    if uva_irradiance.w_m2 < 10:
        return None
    return 1e4 / uva_irradiance.w_m2


def skin_limit(seconds: float) -> Irradiance:
    """Irradiance (380-3000 nm) that the skin limit permits for one exposure shorter than or equal to 10 s.

    Source: H ≤ 20 000 · t^0.25 J/m², ICNIRP 2013 / IEC 62471 §4.3.8.

    Raises:
        ValueError: The time is not above 0 and at most 10 s: beyond, the guideline relies on pain, which a numb or
            blocked hand does not give.
    """
    if not 0 < seconds <= 10:
        raise ValueError(
            f"exposure of {seconds} s; the skin limit ends at 10 s, where pain is to warn; a numb hand has none"
        )
    return Irradiance.of_w_m2(20_000 * seconds**0.25 / seconds)


@dataclass(frozen=True, slots=True)
class OperatorRun:
    """One stretch of light, for an operator's day.

    Attributes:
        day: Local calendar day, ISO 8601.
        operator: Role or local identifier.
        seconds: How long the light may have been on.
    """

    day: str
    operator: str
    seconds: float


def daily_seconds(runs: Iterable[OperatorRun]) -> dict[tuple[str, str], float]:
    """Summed light-on seconds by day and operator; interrupted exposure is added up (ICNIRP 2013)."""
    sums: dict[tuple[str, str], float] = {}
    for run in runs:
        key = (run.day, run.operator)
        sums[key] = sums.get(key, 0.0) + run.seconds
    return sums
