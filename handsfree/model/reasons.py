"""Why something is flagged or held: codes with typed arguments. The words are made where they are spoken.

Labels and phrases in them are the procedure file's own words for a field or an answer, so that a record can be read
without the file.
"""

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, ClassVar, Literal

from pydantic import Field


class Severity(StrEnum):
    """How a value is classed. NONE says only that nothing in the file flags it."""

    NONE = "none"
    AMBER = "amber"
    STOP = "stop"
    RED = "red"

    @property
    def rank(self) -> int:
        """The higher, the graver."""
        return list(Severity).index(self)


STRICT: dict[str, object] = {"extra": "forbid", "strict": True, "json_schema_serialization_defaults_required": True}
"""How records are read: nothing unknown, nothing converted silently, nothing left out."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Base of all reasons."""

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT


@dataclass(frozen=True, slots=True)
class NoValue(Reason):
    """A field has no value."""

    label: str
    type: Literal["no_value"] = "no_value"


@dataclass(frozen=True, slots=True)
class SaidAndRefused(Reason):
    """A field has no value: the number that somebody insisted on cannot be.

    Attributes:
        label: The field.
        said: The number, in the field's unit.
    """

    label: str
    said: Decimal
    type: Literal["said_and_refused"] = "said_and_refused"


@dataclass(frozen=True, slots=True)
class FlaggedAnswer(Reason):
    """An answer that the file flags.

    Attributes:
        label: The field.
        answer: Identifier of the answer.
        phrase: Its first phrase in the file.
        told: What the file says of it in its own words; "" where label and phrase do.
    """

    label: str
    answer: str
    phrase: str
    told: str
    type: Literal["flagged_answer"] = "flagged_answer"


@dataclass(frozen=True, slots=True)
class BeforeToday(Reason):
    """A date lies before the day of the visit."""

    label: str
    type: Literal["before_today"] = "before_today"


@dataclass(frozen=True, slots=True)
class OverLimit(Reason):
    """A number is over its limit."""

    label: str
    limit: Decimal
    type: Literal["over_limit"] = "over_limit"


@dataclass(frozen=True, slots=True)
class UnderLimit(Reason):
    """A number is under its limit."""

    label: str
    limit: Decimal
    type: Literal["under_limit"] = "under_limit"


@dataclass(frozen=True, slots=True)
class OutsideBand(Reason):
    """A number lies outside what the device profile allows."""

    label: str
    low: Decimal
    high: Decimal
    type: Literal["outside_band"] = "outside_band"


@dataclass(frozen=True, slots=True)
class OffPlan(Reason):
    """A number lies outside what was planned, within what is allowed."""

    label: str
    low: Decimal
    high: Decimal
    type: Literal["off_plan"] = "off_plan"


@dataclass(frozen=True, slots=True)
class WorseThanBefore(Reason):
    """A finding is further down its scale than the baseline."""

    label: str
    type: Literal["worse_than_before"] = "worse_than_before"


@dataclass(frozen=True, slots=True)
class RoseBy(Reason):
    """A number rose against the baseline."""

    label: str
    amount: Decimal
    type: Literal["rose_by"] = "rose_by"


@dataclass(frozen=True, slots=True)
class WorseThanOtherSide(Reason):
    """The injured side is further down the scale than the other one."""

    label: str
    type: Literal["worse_than_other_side"] = "worse_than_other_side"


@dataclass(frozen=True, slots=True)
class SidesDiffer(Reason):
    """A number differs between the sides."""

    label: str
    amount: Decimal
    type: Literal["sides_differ"] = "sides_differ"


@dataclass(frozen=True, slots=True)
class Recalled(Reason):
    """A code is on the recall list.

    Attributes:
        label: The field.
        why: What the list says of it, or "".
    """

    label: str
    why: str
    type: Literal["recalled"] = "recalled"


@dataclass(frozen=True, slots=True)
class AnswersDiffer(Reason):
    """Answers that must agree do not."""

    type: Literal["answers_differ"] = "answers_differ"


@dataclass(frozen=True, slots=True)
class NoSize(Reason):
    """No size can be chosen from the answers."""

    type: Literal["no_size"] = "no_size"


@dataclass(frozen=True, slots=True)
class BetweenSizes(Reason):
    """A measure lies between two sizes of the chart."""

    amount: Decimal
    type: Literal["between_sizes"] = "between_sizes"


@dataclass(frozen=True, slots=True)
class OffSizeChart(Reason):
    """A measure lies off the size chart."""

    amount: Decimal
    type: Literal["off_size_chart"] = "off_size_chart"


@dataclass(frozen=True, slots=True)
class CheckOverdue(Reason):
    """The light's output check is overdue.

    Attributes:
        due: Last day on which it was not.
    """

    due: date
    type: Literal["check_overdue"] = "check_overdue"


@dataclass(frozen=True, slots=True)
class HeatWordSaid(Reason):
    """A word of heat or pain was said.

    Attributes:
        word: Which; "cry" where words that may have been a cry were affirmed to be one.
    """

    word: Literal["hot", "pain", "cry"]
    type: Literal["heat_word_said"] = "heat_word_said"


@dataclass(frozen=True, slots=True)
class PainOverLimit(Reason):
    """A pain score reached the limit of the profile.

    Attributes:
        score: On the numeric rating scale, 0 … 10.
    """

    score: int
    type: Literal["pain_over_limit"] = "pain_over_limit"


class ScanFaultCode(StrEnum):
    """What cannot be trusted in a scanned label."""

    INCOMPLETE = "incomplete"
    PART_NOT_UNDERSTOOD = "part_not_understood"
    FIELD_TWICE = "field_twice"
    CHECK_DIGIT = "check_digit"
    NO_SUCH_DAY = "no_such_day"
    TOO_LONG = "too_long"
    GLUED = "glued"


@dataclass(frozen=True, slots=True)
class ScanFault(Reason):
    """A scanned label cannot be trusted.

    Attributes:
        code: Why.
        argument: What the code speaks of: the GS1 application identifier, the most characters; else "".
    """

    code: ScanFaultCode
    argument: str = ""
    type: Literal["scan_fault"] = "scan_fault"


@dataclass(frozen=True, slots=True)
class BaselineOfAnotherPatient(Reason):
    """The earlier record that values are compared with is of another patient, or may be.

    Attributes:
        there: Reference of the earlier record.
        here: Reference of this visit; "" where the question for it was skipped.
    """

    there: str
    here: str
    type: Literal["baseline_of_another_patient"] = "baseline_of_another_patient"


@dataclass(frozen=True, slots=True)
class BaselineOfAnotherSide(Reason):
    """The earlier record that values are compared with is of the other side.

    Attributes:
        there: Injured side of the earlier record.
        here: Injured side of this visit.
    """

    there: Literal["left", "right"]
    here: Literal["left", "right"]
    type: Literal["baseline_of_another_side"] = "baseline_of_another_side"


@dataclass(frozen=True, slots=True)
class AsWritten(Reason):
    """The words of a record whose form knew no codes."""

    text: str
    type: Literal["as_written"] = "as_written"


Ground = (
    NoValue
    | SaidAndRefused
    | FlaggedAnswer
    | BeforeToday
    | OverLimit
    | UnderLimit
    | OutsideBand
    | OffPlan
    | WorseThanBefore
    | RoseBy
    | WorseThanOtherSide
    | SidesDiffer
    | Recalled
    | AnswersDiffer
    | NoSize
    | BetweenSizes
    | OffSizeChart
    | CheckOverdue
    | HeatWordSaid
    | PainOverLimit
    | ScanFault
    | BaselineOfAnotherPatient
    | BaselineOfAnotherSide
    | AsWritten
)
"""Why a value is flagged or a visit held."""


@dataclass(frozen=True, slots=True)
class Grounds(Reason):
    """A ground with what is to be told with it.

    Attributes:
        ground: Why.
        repeated: Whether the value was taken twice and flagged both times.
        alike: What to look at because the other side is flagged too, in the file's words; "" where it is not.
        which: Of a step that is repeated, which one it is of, as it is called aloud: "wheel bolt three"; "" of others.
    """

    ground: Ground
    repeated: bool = False
    alike: str = ""
    which: Annotated[str, Field(exclude_if=lambda which: not which)] = ""

    @property
    def unnumbered(self) -> "Grounds":
        """The same for who tells the step beside it: without which one it is of."""
        return replace(self, which="")
