"""What may be said now, in one line: codes with typed arguments, as `sentence_codes` has them."""

from dataclasses import dataclass
from enum import StrEnum

from handsfree.session.prompts.fixed import WayOn


class Hint(StrEnum):
    """What to say, where nothing more than the code is needed."""

    AFFIRM_OR_NEGATE = "affirm_or_negate"
    AFFIRM_POSITION = "affirm_position"
    LIGHT_OFF = "say_light_off"
    LIGHT_OFF_OR_NONE = "say_light_off_or_none"
    LIGHT_ON = "say_light_on"
    STRAP_OFF_THEN_LIGHT = "strap_off_then_light"
    WARMTH_RESUME_OR_END = "warmth_resume_or_end"
    RESUME_OR_END = "resume_or_end"
    END_NOTE = "end_note"
    CODE_OR_CANCEL = "code_or_cancel"
    OVERRIDE_OR_BACK = "override_or_back"
    NEXT_STEP = "next_step"
    NEXT_STEP_OR_CORRECTION = "next_step_or_correction"
    WARMTH = "warmth"
    WARMTH_BY_TOUCH = "warmth_by_touch"
    NARRATE = "narrate"
    LEFT_OR_RIGHT = "left_or_right"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class HintWith:
    """Base of hints with arguments."""


@dataclass(frozen=True, slots=True)
class SayDigits(HintWith):
    """Digits one by one, after the label where there are several fields."""

    label: str


@dataclass(frozen=True, slots=True)
class SayCode(HintWith):
    """A code in alphabet words."""

    label: str


@dataclass(frozen=True, slots=True)
class SayMonth(HintWith):
    """Month and year."""

    label: str


@dataclass(frozen=True, slots=True)
class SayDay(HintWith):
    """A whole date."""

    label: str


@dataclass(frozen=True, slots=True)
class SayOneOf(HintWith):
    """One of the answers of a field."""

    label: str
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SayFromList(HintWith):
    """One of a list of roles or reasons."""

    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SayThen(HintWith):
    """How to say the first field, and which follow."""

    first: SayDigits | SayCode | SayMonth | SayDay | SayOneOf
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartOneOf(HintWith):
    """Of several fields: those with the same answers, and the answers."""

    labels: tuple[str, ...]
    answers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartDigits(HintWith):
    """Of several fields: those that take numbers."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartCode(HintWith):
    """Of several fields: one that takes a code."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartDay(HintWith):
    """Of several fields: one that takes a date."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartMonth(HintWith):
    """Of several fields: one that takes month and year."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartBoth(HintWith):
    """One answer for both fields of the step: "or both intact"."""

    answer: str


@dataclass(frozen=True, slots=True)
class PartAll(HintWith):
    """One answer for all fields, as an example."""

    count: int
    answer: str


@dataclass(frozen=True, slots=True)
class SayEach(HintWith):
    """How to say every field of a question."""

    parts: tuple[PartOneOf | PartDigits | PartCode | PartDay | PartMonth | PartAll | PartBoth, ...]


@dataclass(frozen=True, slots=True)
class SayWays(HintWith):
    """Every way on from a hold."""

    ways: tuple[WayOn, ...]


@dataclass(frozen=True, slots=True)
class OrCorrection(HintWith):
    """What is asked for, or what is right of an earlier step."""

    first: "AnyHint"


AnyHint = (
    OrCorrection | Hint | SayWays | SayDigits | SayCode | SayMonth | SayDay | SayOneOf | SayFromList | SayThen | SayEach
)
