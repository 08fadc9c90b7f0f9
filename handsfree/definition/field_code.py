"""The code of a field in a published system, as the author of a file states it: its form is checked, no more."""

import re
from typing import Annotated, Self
from urllib.parse import urlsplit

from pydantic import Field, model_validator

from handsfree.definition.form_base import Strict

LOINC = "http://loinc.org"
SNOMED = "http://snomed.info/sct"
_LOINC_FORM = re.compile(r"[0-9]{1,7}-[0-9]")
_SNOMED_FORM = re.compile(r"[1-9][0-9]{5,17}")
_VERHOEFF = ("1576283094", "5803796142", "8916043527", "9453126870", "4286573901", "2793806415", "7046913258")
"""Where a digit goes to, by its place counted from the last one; the eighth row is the digits themselves."""
_DIHEDRAL = (
    *("0123456789", "1234067895", "2340178956", "3401289567", "4012395678"),
    *("5987604321", "6598710432", "7659821043", "8765932104", "9876543210"),
)
_SIGN = r"^[^\s]+(\s[^\s]+)*$"
"""FHIR R4, data type code: no space at either end, none twice (hl7.org/fhir/R4/datatypes.html#code)."""


class FieldCode(Strict):
    """What a field is called in a published system, for whoever takes the record over.

    Attributes:
        system: Address of the system: http://loinc.org, http://snomed.info/sct, or one of the site.
        code: The code in it, in quotes.
        display: What the system calls it.
        source: Key of where that was looked up.
    """

    system: Annotated[str, Field(max_length=200)]
    code: Annotated[str, Field(pattern=_SIGN, max_length=100)]
    display: Annotated[str, Field(pattern=_SIGN, max_length=200)]
    source: str

    @model_validator(mode="after")
    def _in_form(self) -> Self:
        parts = urlsplit(self.system)
        if not parts.scheme or not (parts.netloc or parts.path) or self.system != self.system.strip():
            raise ValueError(f"system {self.system!r} is no address (http://loinc.org would be one)")
        if self.system == LOINC and not is_loinc(self.code):
            raise ValueError(f"{self.code!r} is no LOINC code: its check digit is wrong (44963-7 would be right)")
        if self.system == SNOMED and not is_snomed(self.code):
            raise ValueError(
                f"{self.code!r} is no SNOMED CT identifier: its check digit is wrong (7771000 would be right)"
            )
        return self


def is_loinc(code: str) -> bool:
    """Whether a code has the form and check digit of LOINC. Source: LOINC Users' Guide, Mod 10 check digit."""
    if _LOINC_FORM.fullmatch(code) is None:
        return False
    digits, _, check = code.partition("-")
    total = 0
    for place, digit in enumerate(reversed(digits)):
        value = int(digit) * (2 if place % 2 == 0 else 1)
        total += value - 9 if value > 9 else value
    return (10 - total % 10) % 10 == int(check)


def is_snomed(code: str) -> bool:
    """Whether a code has form and check digit of SNOMED CT. Source: its Release File Specification, Verhoeff check."""
    if _SNOMED_FORM.fullmatch(code) is None:
        return False
    sum_ = 0
    for place, digit in enumerate(reversed(code)):
        row = place % 8
        moved = int(digit) if row == 0 else int(_VERHOEFF[row - 1][int(digit)])
        sum_ = int(_DIHEDRAL[sum_][moved])
    return sum_ == 0
