"""Quantities that cannot be mixed up: each is built by naming its unit, and read by naming it.

Source of the factors: SI (1 mW/cm² = 10 W/m², 1 J/cm² = 10⁴ J/m²); 1 inch = 2.54 cm by definition (1959).
"""

import re
from dataclasses import dataclass
from typing import Self

from handsfree.exposure.profiles import require_positive

_TEXT = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(.*?)\s*")


def _split(text: str, quantity: str, units: dict[str, float]) -> float:
    match = _TEXT.fullmatch(text)
    known = ", ".join(units)
    if match is None and re.match(r"\s*-", text):
        raise ValueError(f"{quantity} '{text}' is below 0; a number above 0 with a unit would be right ({known})")
    if re.match(r"\s*[0-9]+,[0-9]", text):
        raise ValueError(f"{quantity} '{text}' has a comma; '{text.strip().replace(',', '.', 1)}' would be right")
    if match is None:
        raise ValueError(f"{quantity} '{text}' is not a number with a unit ({known})")
    number, unit = match.groups()
    if not unit:
        raise ValueError(f"{quantity} '{text}' has no unit; say one of {known}")
    unit = unit.replace("²", "2")
    if unit not in units:
        raise ValueError(f"{quantity} '{text}': '{unit}' is not a unit of it; say one of {known}")
    return float(number) * units[unit]


@dataclass(frozen=True, slots=True)
class Irradiance:
    """Power per area on a surface. Build with `of_mw_cm2`, `of_w_m2` or `parse`.

    Attributes:
        mw_cm2: In mW/cm².

    Raises:
        ValueError: Not a number above 0.
    """

    mw_cm2: float

    def __post_init__(self) -> None:
        require_positive("irradiance", self.mw_cm2)

    @classmethod
    def of_mw_cm2(cls, value: float) -> Self:
        """From mW/cm²."""
        return cls(value)

    @classmethod
    def of_w_m2(cls, value: float) -> Self:
        """From W/m²."""
        return cls(value / 10)

    @classmethod
    def parse(cls, text: str) -> Self:
        """From words such as "50 mW/cm2" or "500 W/m²".

        Raises:
            ValueError: No unit, or the unit of another quantity.
        """
        return cls(_split(text, "irradiance", {"mW/cm2": 1.0, "W/m2": 0.1, "W/cm2": 1000.0}))

    @property
    def w_m2(self) -> float:
        """In W/m²."""
        return self.mw_cm2 * 10


@dataclass(frozen=True, slots=True)
class Length:
    """A length. Build with `of_cm` or `parse`.

    Attributes:
        cm: In cm.

    Raises:
        ValueError: Not a number above 0.
    """

    cm: float

    def __post_init__(self) -> None:
        require_positive("length", self.cm)

    @classmethod
    def of_cm(cls, value: float) -> Self:
        """From cm."""
        return cls(value)

    @classmethod
    def parse(cls, text: str) -> Self:
        """From words such as "17.5 cm" or "2 inch".

        Raises:
            ValueError: No unit, or the unit of another quantity.
        """
        return cls(_split(text, "length", {"cm": 1.0, "mm": 0.1, "inch": 2.54}))
