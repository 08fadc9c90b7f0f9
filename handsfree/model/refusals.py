"""Why a command or a value is not taken: codes with typed arguments. See `handsfree.model.reasons`."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import Literal

from handsfree.model.patient_reference import ReferenceFault
from handsfree.model.readings import HowToSay, Side
from handsfree.model.reasons import AsWritten, Reason


class RefusalCode(StrEnum):
    """Why a command or a value is not taken, where nothing more is to be said of it."""

    NOT_NOW = "not_now"
    NO_VALUE_ASKED = "no_value_asked"
    NOT_ASKED_FOR = "not_asked_for"
    NO_NOTE_BEGUN = "no_note_begun"
    NOT_ON_THE_LIST = "not_on_the_list"
    NO_LABEL_ASKED = "no_label_asked"
    LIGHT_OFF_FIRST = "light_off_first"
    LIGHT_WAS_NOT_ON = "light_was_not_on"
    NO_LIGHT_HERE = "no_light_here"
    HELD = "held"
    WARMTH_FIRST = "warmth_first"
    HEAT_FIRST = "heat_first"
    ANSWER_FIRST = "answer_first"
    ON_NOT_AFFIRMED = "on_not_affirmed"
    RESUME_FIRST = "resume_first"
    POSITION_FIRST = "position_first"
    STRAP_OFF_FIRST = "strap_off_first"
    NO_STRAP = "no_strap"
    SAID_BEFORE_COUNTED = "said_before_counted"
    TIME_UNKNOWN = "time_unknown"
    SCORE_ZERO_TO_TEN = "score_zero_to_ten"
    FIRST_STEP = "first_step"
    ANSWER_NEEDED = "answer_needed"
    ANSWER_OR_SKIP = "answer_or_skip"
    CANNOT_BE_SKIPPED = "cannot_be_skipped"
    NOTHING_TO_OVERRIDE = "nothing_to_override"
    NOTHING_TO_CORRECT = "nothing_to_correct"
    HOLDS_NO_VALUE = "holds_no_value"
    KIND_IS_FIXED = "kind_is_fixed"
    SIDE_IS_FIXED = "side_is_fixed"
    ONLY_PRACTICE = "only_practice"
    WITHOUT_A_SIDE = "without_a_side"
    NEVER_LIFTED = "never_lifted"
    NO_ZONE_HERE = "no_zone_here"
    ZONE_HAS_ITS_SECONDS = "zone_has_its_seconds"
    CODE_NEEDED = "code_needed"
    ONE_STEP_AT_A_TIME = "one_step_at_a_time"
    NOTHING_RECORDED_OF_IT = "nothing_recorded_of_it"
    OPERATORS_OWN_CODE = "operators_own_code"
    NO_PERSONS_CODE = "no_persons_code"
    OPERATOR_FIRST = "operator_first"
    SECOND_PERSONS_CODE = "second_persons_code"
    ANOTHER_PERSON = "another_person"
    BY_VOICE_ALONE = "by_voice_alone"


@dataclass(frozen=True, slots=True)
class Refusal(Reason):
    """A refusal that its code says whole."""

    code: RefusalCode
    type: Literal["refusal"] = "refusal"


@dataclass(frozen=True, slots=True)
class StepFirst(Reason):
    """No light before a step is done.

    Attributes:
        stage: The step, with its side.
    """

    stage: str
    type: Literal["step_first"] = "step_first"


@dataclass(frozen=True, slots=True)
class RoleMayNotLift(Reason):
    """The file gives it to others to answer for this.

    Attributes:
        role: The role that was said.
        phrase: Its first phrase in the file.
        able: Those who may, in the file's words.
    """

    role: str
    phrase: str
    able: tuple[str, ...]
    type: Literal["role_may_not_lift"] = "role_may_not_lift"


@dataclass(frozen=True, slots=True)
class ReasonMayNotLift(Reason):
    """The file counts other reasons for this.

    Attributes:
        reason: The reason that was said.
        phrase: Its first phrase in the file.
        able: Those that count, in the file's words.
    """

    reason: str
    phrase: str
    able: tuple[str, ...]
    type: Literal["reason_may_not_lift"] = "reason_may_not_lift"


@dataclass(frozen=True, slots=True)
class OtherSide(Reason):
    """The step is about the other side than the one that was said.

    Attributes:
        side: The side that the step is about.
    """

    side: Side
    type: Literal["other_side"] = "other_side"


@dataclass(frozen=True, slots=True)
class SayItSo(Reason):
    """Words were not taken as a value, and how they should be said.

    Attributes:
        label: The field.
        code: Why.
        arguments: As in `NeedsAsking`.
    """

    label: str
    code: HowToSay
    arguments: tuple[str, ...] = ()
    type: Literal["say_it_so"] = "say_it_so"


class FitCode(StrEnum):
    """Why a value does not fit its field."""

    ONE_NUMBER = "one_number"
    AN_ANSWER = "an_answer"
    NO_NUMBER = "no_number"
    NOT_ON_THE_LIST = "not_on_the_list"
    CODE_LENGTH = "code_length"
    NO_DATE = "no_date"


@dataclass(frozen=True, slots=True)
class DoesNotFit(Reason):
    """A value does not fit its field."""

    label: str
    code: FitCode
    type: Literal["does_not_fit"] = "does_not_fit"


@dataclass(frozen=True, slots=True)
class Decimals(Reason):
    """A number has more digits after the point than the field takes.

    Attributes:
        label: The field.
        most: How many it takes.
    """

    label: str
    most: int
    type: Literal["decimals"] = "decimals"


@dataclass(frozen=True, slots=True)
class OutOfRange(Reason):
    """A number lies outside the plausible range of its field, both in the field's unit."""

    label: str
    low: Decimal
    high: Decimal
    type: Literal["out_of_range"] = "out_of_range"


@dataclass(frozen=True, slots=True)
class DateTooEarly(Reason):
    """A date lies before the first day that can be.

    Attributes:
        label: The field.
        earliest: That day.
    """

    label: str
    earliest: date
    type: Literal["date_too_early"] = "date_too_early"


@dataclass(frozen=True, slots=True)
class DateTooLate(Reason):
    """A date lies after the last day that can be.

    Attributes:
        label: The field.
        latest: That day.
    """

    label: str
    latest: date
    type: Literal["date_too_late"] = "date_too_late"


@dataclass(frozen=True, slots=True)
class TooFarApart(Reason):
    """Two measurements of one thing differ by more than the file allows.

    Attributes:
        amount: By how much, in the fields' unit.
    """

    amount: Decimal
    type: Literal["too_far_apart"] = "too_far_apart"


@dataclass(frozen=True, slots=True)
class TooFew(Reason):
    """A repeated step was not done often enough to have its last.

    Attributes:
        name: What each one is called.
        done: How often it was done.
        least: How often it must be.
    """

    name: str
    done: int
    least: int
    type: Literal["too_few"] = "too_few"


@dataclass(frozen=True, slots=True)
class NoReference(Reason):
    """A code may not stand for a patient.

    Attributes:
        label: The field.
        code: Why.
    """

    label: str
    code: ReferenceFault
    type: Literal["no_reference"] = "no_reference"


@dataclass(frozen=True, slots=True)
class LabelTellsNot(Reason):
    """A scanned label does not tell what the step asks for.

    Attributes:
        labels: The fields.
    """

    labels: tuple[str, ...]
    type: Literal["label_tells_not"] = "label_tells_not"


RefusalReason = (
    Refusal
    | StepFirst
    | RoleMayNotLift
    | ReasonMayNotLift
    | OtherSide
    | SayItSo
    | DoesNotFit
    | Decimals
    | OutOfRange
    | DateTooEarly
    | DateTooLate
    | TooFarApart
    | TooFew
    | LabelTellsNot
    | NoReference
    | AsWritten
)
"""Why a command or a value was not taken."""
