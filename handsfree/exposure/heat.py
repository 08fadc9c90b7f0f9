"""Thermal dose and published burn points, for planning and training only. No verdict, no countdown.

Sources: Sapareto & Dewey, Int J Radiat Oncol Biol Phys 1984;10:787 (CEM43); Moritz & Henriques, Am J Pathol
1947;23:695 and ISO 13732-1:2006 as quoted in reviews (not read in the original here); Jacobs 1992, also
Additive Manufacturing Technologies, 2nd ed., eq. 4.23 (working curve).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite, log

from handsfree.exposure.profiles import require_positive

CEM43_CAUTION = (
    "Published skin thresholds differ by species and endpoint; the formula is doubtful far from 43 °C. There is no "
    "value below which nothing can happen. When a patient says painful, the skin is already in the range of injury."
)

JACOBS_WARNING = (
    "Training only. One resin measured by 24 laboratories gave a penetration depth differing 7 times and a critical "
    "exposure differing 70 times (Additive Manufacturing 2024;84:104082). Firmness felt by hand decides, not this."
)

NO_COUNTDOWN = (
    "A time left before damage is not given: skin, blood flow, thickness and padding decide it and none of them is "
    "known. Warm is the limit; hot or painful means light off, lift away, inspect."
)


@dataclass(frozen=True, slots=True)
class BurnPoint:
    """A published point of contact temperature and time.

    Attributes:
        temperature_c: At the skin, °C.
        low_s: Shorter end of the published time, s.
        high_s: Longer end, s.
        meaning: What was seen or what the limit is.
        source: Where it is from.
    """

    temperature_c: float
    low_s: float
    high_s: float
    meaning: str
    source: str


_MORITZ = "Moritz & Henriques, Am J Pathol 1947;23:695 (as quoted)"
_ISO = "ISO 13732-1:2006, any material (as quoted)"
_JOSR = "J Orthop Surg Res 2008;3:10"
_IEC = "IEC 60601-1 table 24, applied part, allowed maximum (as quoted)"

BURN_POINTS: tuple[BurnPoint, ...] = (
    BurnPoint(43.0, 28_800, 28_800, "burn threshold", _ISO),
    BurnPoint(48.0, 600, 600, "burn threshold", _ISO),
    BurnPoint(51.0, 60, 60, "burn threshold", _ISO),
    BurnPoint(44.0, 18_000, 21_600, "skin injury", _MORITZ),
    BurnPoint(45.0, 10_800, 10_800, "skin injury", _MORITZ),
    BurnPoint(47.0, 1500, 2700, "skin injury", _MORITZ),
    BurnPoint(48.0, 900, 1080, "skin injury", _MORITZ),
    BurnPoint(49.0, 480, 570, "skin injury", _MORITZ),
    BurnPoint(51.0, 120, 360, "skin injury", _MORITZ),
    BurnPoint(53.0, 60, 90, "skin injury", _MORITZ),
    BurnPoint(55.0, 30, 30, "skin injury", _MORITZ),
    BurnPoint(60.0, 5, 5, "skin injury", _MORITZ),
    BurnPoint(65.0, 1, 1, "skin injury", _MORITZ),
    BurnPoint(49.0, 120, 180, "first-degree burn beyond", _JOSR),
    BurnPoint(49.0, 480, 480, "second-degree burn beyond", _JOSR),
    BurnPoint(49.0, 720, 720, "third-degree burn beyond", _JOSR),
    BurnPoint(51.0, 0, 60, "contact shorter than", _IEC),
    BurnPoint(48.0, 60, 600, "contact", _IEC),
    BurnPoint(43.0, 600, 600, "contact longer than", _IEC),
)
"""Each with its own source: ISO 13732-1:2006, IEC 60601-1, and the papers above."""

PAIN_POINTS: tuple[tuple[str, str], ...] = (
    ("43.2 °C at the receptors, 45.7 ± 1.7 °C at the skin", "J Appl Physiol 1959;14:373"),
    ("42 to 44.5 °C by site", "Health Phys 2021;121:234, table 4"),
)
"""Where heat begins to hurt, and where that was published. Short heat is felt later in old age (same table)."""


def cem43_min(steps: Iterable[tuple[float, float]]) -> float:
    """Cumulative equivalent minutes at 43 °C.

    Args:
        steps: Temperature in °C and minutes at it.

    Raises:
        ValueError: A temperature is not a number from 0 to 70 °C or a time is negative.
    """
    total_min = 0.0
    for temperature_c, minutes in steps:
        if not 0 <= temperature_c <= 70:
            raise ValueError(f"skin temperature {temperature_c} °C; it must be from 0 to 70, in degrees Celsius")
        if not isfinite(minutes) or minutes < 0:
            raise ValueError(f"time is {minutes} min; it must be 0 or more")
        if temperature_c >= 39:
            base = 0.5 if temperature_c >= 43 else 0.25
            total_min += minutes * base ** (43 - temperature_c)
    return total_min


def working_curve_depth_mm(exposure_mj_cm2: float, critical_mj_cm2: float, penetration_mm: float) -> tuple[float, str]:
    """Jacobs cure depth in mm, always with its warning. For training pages, never a clinical result.

    Args:
        exposure_mj_cm2: Dose on the surface.
        critical_mj_cm2: Dose at which gelation begins.
        penetration_mm: Depth at which the light has fallen to 1/e.

    Source: C_d = D_p ln(E₀/E_c) for E₀ > E_c, else 0.
    """
    for name, value in (
        ("exposure_mj_cm2", exposure_mj_cm2),
        ("critical_mj_cm2", critical_mj_cm2),
        ("penetration_mm", penetration_mm),
    ):
        require_positive(name, value)
    depth_mm = penetration_mm * log(exposure_mj_cm2 / critical_mj_cm2) if exposure_mj_cm2 > critical_mj_cm2 else 0.0
    return depth_mm, JACOBS_WARNING
