"""Spoken values: what a person said a quantity, finding, identifier or date to be.

Each kind of value names itself in `type`, so that one value has one form wherever it is written.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from handsfree.model.reasons import STRICT

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
class Spoken:
    """Base of all spoken values."""

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT


@dataclass(frozen=True, slots=True)
class Exact(Spoken):
    """One number.

    Attributes:
        value: The number.
        decimals: Digits after the point as spoken ("one point zero" has 1).
        unit: UCUM unit if it was spoken.
    """

    value: Decimal
    decimals: int = 0
    unit: str | None = None
    type: Literal["exact"] = "exact"


@dataclass(frozen=True, slots=True)
class Ambiguous(Spoken):
    """A number heard in a form that another number sounds like; ask digit by digit.

    Attributes:
        candidates: What it may have been, the likeliest first.
    """

    candidates: tuple[Decimal, ...]
    type: Literal["ambiguous"] = "ambiguous"


class HowToSay(StrEnum):
    """Why words were not taken as a value, and so how they should be said."""

    SAY_MONTH_BY_NAME = "say_month_by_name"
    SAY_DAY_TOO = "say_day_too"
    THIRTEEN_OR_THIRTY = "thirteen_or_thirty"
    NO_SUCH_DAY = "no_such_day"
    SPELL_ONE_BY_ONE = "spell_one_by_one"
    CODE_TOO_LONG = "code_too_long"
    ONE_OF_THE_LIST = "one_of_the_list"
    SAID_TWICE = "said_twice"
    SIDE_FIRST = "side_first"
    DIGIT_BY_DIGIT = "digit_by_digit"
    ANOTHER_UNIT = "another_unit"
    MEANT_THE_DIGIT = "meant_the_digit"
    ABOUT_IS_NO_READING = "about_is_no_reading"
    SMALLER_END_FIRST = "smaller_end_first"
    WHOLE_NUMBER = "whole_number"
    TOO_MANY_DECIMALS = "too_many_decimals"
    DIGITS_AFTER_POINT = "digits_after_point"
    ZERO_BEFORE_POINT = "zero_before_point"
    LEADING_ZERO = "leading_zero"
    SIGN_THEN_DIGITS = "sign_then_digits"
    WHICH_ONE = "which_one"
    WHICH_SIDE = "which_side"
    DIGITS_DISAGREE = "digits_disagree"
    IMPLAUSIBLE = "implausible"
    ONE_POINT = "one_point"
    NO_EARLIER_VALUE = "no_earlier_value"
    NO_OTHER_SIDE = "no_other_side"
    AS_WRITTEN = "as_written"
    EACH_BY_ITSELF = "each_by_itself"


@dataclass(frozen=True, slots=True)
class NeedsAsking(Spoken):
    """Words that may mean a value but must not be taken as one.

    Attributes:
        code: Why.
        arguments: What the code speaks of: the unit, the digit, the number of decimals, as text; the words themselves
            for `HowToSay.AS_WRITTEN`.
    """

    code: HowToSay
    arguments: tuple[str, ...] = ()
    type: Literal["needs_asking"] = "needs_asking"


@dataclass(frozen=True, slots=True)
class Refused(Spoken):
    """Words that are never a value here.

    Attributes:
        code: Why.
        arguments: As in `NeedsAsking`; of `HowToSay.IMPLAUSIBLE` the range and the number itself.
    """

    code: HowToSay
    arguments: tuple[str, ...] = ()
    type: Literal["refused"] = "refused"


@dataclass(frozen=True, slots=True)
class Between(Spoken):
    """A range as spoken; kept as a range.

    Attributes:
        low: Smaller end.
        high: Larger end.
        unit: UCUM unit if spoken.
    """

    low: Decimal
    high: Decimal
    unit: str | None = None
    type: Literal["between"] = "between"


@dataclass(frozen=True, slots=True)
class Beyond(Spoken):
    """A value said to be under or over a limit.

    Attributes:
        comparator: "<" or ">", as in FHIR Quantity.comparator.
        limit: The limit.
        unit: UCUM unit if spoken.
    """

    comparator: str
    limit: Decimal
    unit: str | None = None
    type: Literal["beyond"] = "beyond"


class AbsentReason(StrEnum):
    """Why there is no value; codes of the HL7 data-absent-reason code system.

    ERROR: a number outside what can be was said and insisted on; it is kept beside the gap, never as a value.
    """

    NOT_PERFORMED = "not-performed"
    ASKED_UNKNOWN = "asked-unknown"
    ASKED_DECLINED = "asked-declined"
    NOT_APPLICABLE = "not-applicable"
    ERROR = "error"


@dataclass(frozen=True, slots=True)
class Absent(Spoken):
    """No value, and why.

    Attributes:
        reason: The code.
        said: The number that was said and refused because it cannot be, in the field's unit; None elsewhere.
    """

    reason: AbsentReason
    said: Annotated[Decimal | None, Field(exclude_if=lambda said: said is None)] = None
    type: Literal["absent"] = "absent"


@dataclass(frozen=True, slots=True)
class Option(Spoken):
    """One of a closed list.

    Attributes:
        value: The option's identifier in the procedure file.
    """

    value: str
    type: Literal["option"] = "option"


@dataclass(frozen=True, slots=True)
class SpelledText(Spoken):
    """An identifier spelled aloud, scanned or typed.

    Attributes:
        text: Upper-case letters and digits; of a scan, as printed.
    """

    text: str
    type: Literal["spelled_text"] = "spelled_text"

    @property
    def bare(self) -> str:
        """Letters and digits alone, upper case: what is said of a code; two codes are compared by it."""
        return "".join(c for c in self.text.upper() if c.isalnum())


@dataclass(frozen=True, slots=True)
class SpokenDate(Spoken):
    """A calendar date.

    Attributes:
        value: The day; the last day of the month where only month and year were given.
        month_only: Whether the day was not given.
    """

    value: date
    month_only: bool = False
    type: Literal["spoken_date"] = "spoken_date"


SpokenValue = Exact | Ambiguous | NeedsAsking | Refused | Between | Beyond | Absent | Option | SpelledText | SpokenDate


def plain(value: Decimal) -> str:
    """A number in figures without a trailing zero or an exponent (ISMP list of error-prone notations, from memory)."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def value_text(value: SpokenValue) -> str:
    """One value as it is written to the record, without unit."""
    match value:
        case Exact(value=amount):
            return plain(amount)
        case Between(low=low, high=high):
            return f"{plain(low)}-{plain(high)}"
        case Beyond(comparator=comparator, limit=limit):
            return f"{comparator}{plain(limit)}"
        case Option(value=chosen):
            return chosen
        case SpelledText(text=text):
            return text
        case SpokenDate(value=day):
            return day.isoformat()
        case Absent(reason=reason):
            return reason.value
        case _:
            raise TypeError(f"{type(value).__name__} is no value to be kept")
