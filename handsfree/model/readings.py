"""Spoken values: what a person said a quantity, finding, identifier or date to be."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

REPEATED = "repeated as asked"
"""Reason of the second of two values of which the first was flagged and taken once more, as the procedure asks."""


class Side(StrEnum):
    """A side of the body."""

    LEFT = "left"
    RIGHT = "right"


class Timing(StrEnum):
    """When in the visit a reading was taken."""

    BASELINE = "baseline"
    DURING = "during"
    AFTER = "after"


@dataclass(frozen=True, slots=True)
class Exact:
    """One number.

    Attributes:
        value: The number.
        decimals: Digits after the point as spoken ("one point zero" has 1).
        unit: UCUM unit if it was spoken.
    """

    value: Decimal
    decimals: int = 0
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Ambiguous:
    """A number heard in a form that another number sounds like; ask digit by digit.

    Attributes:
        candidates: What it may have been, the likeliest first.
    """

    candidates: tuple[Decimal, ...]


@dataclass(frozen=True, slots=True)
class NeedsAsking:
    """Words that may mean a value but must not be taken as one.

    Attributes:
        reason: Why, in words fit to be spoken.
    """

    reason: str


@dataclass(frozen=True, slots=True)
class Refused:
    """Words that are never a value here.

    Attributes:
        reason: Why, in words fit to be spoken.
    """

    reason: str


@dataclass(frozen=True, slots=True)
class Between:
    """A range as spoken; kept as a range.

    Attributes:
        low: Smaller end.
        high: Larger end.
        unit: UCUM unit if spoken.
    """

    low: Decimal
    high: Decimal
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Beyond:
    """A value said to be under or over a limit.

    Attributes:
        comparator: "<" or ">", as in FHIR Quantity.comparator.
        limit: The limit.
        unit: UCUM unit if spoken.
    """

    comparator: str
    limit: Decimal
    unit: str | None = None


class AbsentReason(StrEnum):
    """Why there is no value; codes of the HL7 data-absent-reason code system."""

    NOT_PERFORMED = "not-performed"
    ASKED_UNKNOWN = "asked-unknown"
    ASKED_DECLINED = "asked-declined"
    NOT_APPLICABLE = "not-applicable"


@dataclass(frozen=True, slots=True)
class Absent:
    """No value, and why.

    Attributes:
        reason: The code.
    """

    reason: AbsentReason


@dataclass(frozen=True, slots=True)
class Option:
    """One of a closed list.

    Attributes:
        value: The option's identifier in the procedure file.
    """

    value: str


@dataclass(frozen=True, slots=True)
class SpelledText:
    """An identifier spelled aloud, scanned or typed.

    Attributes:
        text: Upper-case letters and digits; of a scan, as printed.
    """

    text: str

    @property
    def bare(self) -> str:
        """Letters and digits alone, upper case: what is said of a code; two codes are compared by it."""
        return "".join(c for c in self.text.upper() if c.isalnum())


@dataclass(frozen=True, slots=True)
class SpokenDate:
    """A calendar date.

    Attributes:
        value: The day; the last day of the month where only month and year were given.
        month_only: Whether the day was not given.
    """

    value: date
    month_only: bool = False


SpokenValue = Exact | Ambiguous | NeedsAsking | Refused | Between | Beyond | Absent | Option | SpelledText | SpokenDate
