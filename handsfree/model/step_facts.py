"""Facts about the steps of the procedure."""

from dataclasses import dataclass
from typing import Literal

from handsfree.model.fact_base import Fact, Phase, Utterance
from handsfree.model.working import Working


@dataclass(frozen=True, slots=True, kw_only=True)
class StepEntered(Fact):
    """The visit came to a stage.

    Attributes:
        stage: The stage: step, or step@left.
        step: Its step.
        phase: Phase of the file.
        again: Whether it had been left open before.
    """

    stage: str
    step: str
    phase: Phase
    again: bool
    kind: Literal["step_entered"] = "step_entered"


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkingChanged(Fact):
    """Who leads was changed by voice.

    Attributes:
        working: Who leads from now on.
        stage: Where.
    """

    working: Working
    stage: str
    kind: Literal["working_changed"] = "working_changed"


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingTold(Fact):
    """What is missing in the phase was told.

    Attributes:
        stage: Where.
        items: What, as "stage", or "stage.field" where others of the stage are known.
        because: "asked", "silence", or "gate" where somebody wanted to go on.
    """

    stage: str
    items: tuple[str, ...]
    because: Literal["asked", "silence", "gate"]
    kind: Literal["missing_told"] = "missing_told"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepReviewed(Fact):
    """An earlier stage was looked at."""

    stage: str
    kind: Literal["step_reviewed"] = "step_reviewed"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepTold(Fact):
    """A stage that only tells something was left with "next step"."""

    stage: str
    kind: Literal["step_told"] = "step_told"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepConfirmed(Fact):
    """A stage was confirmed as done."""

    stage: str
    step: str
    heard: Utterance
    kind: Literal["step_confirmed"] = "step_confirmed"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepDenied(Fact):
    """A stage was said not to be done."""

    stage: str
    step: str
    kind: Literal["step_denied"] = "step_denied"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepSkipped(Fact):
    """A soft step was left out.

    Attributes:
        stage: The stage.
        step: Its step.
        reason: Identifier of the reason in the file.
    """

    stage: str
    step: str
    reason: str
    kind: Literal["step_skipped"] = "step_skipped"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepCalledFor(Fact):
    """A corrected value made a stage part of the visit that its condition had left out.

    Attributes:
        stage: The stage.
        step: Its step.
    """

    stage: str
    step: str
    kind: Literal["step_called_for"] = "step_called_for"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepWithdrawn(Fact):
    """A corrected value left out a stage that was answered or begun: its readings stay on record and count no more.

    Attributes:
        stage: The stage.
        step: Its step.
    """

    stage: str
    step: str
    kind: Literal["step_withdrawn"] = "step_withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatEnded(Fact):
    """Somebody said that it was the last of a step that is repeated.

    Attributes:
        step: The step.
        count: How often it is done.
        heard: The words.
    """

    step: str
    count: int
    heard: Utterance
    kind: Literal["repeat_ended"] = "repeat_ended"


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatReopened(Fact):
    """One more of a repeated step was gone to by its number, after the last had been said.

    Attributes:
        step: The step.
        stage: The one that was gone to.
    """

    step: str
    stage: str
    kind: Literal["repeat_reopened"] = "repeat_reopened"


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondPersonConfirmed(Fact):
    """Another person than the operator confirmed a stage.

    Attributes:
        stage: The stage.
        step: Its step.
        role: Role of that person in the file.
        code: Code of that person, never the operator's.
        heard: The words of the code.
    """

    stage: str
    step: str
    role: str
    code: str
    heard: Utterance
    kind: Literal["second_person_confirmed"] = "second_person_confirmed"


@dataclass(frozen=True, slots=True, kw_only=True)
class TimerStarted(Fact):
    """A stage was done, and its timer runs.

    Attributes:
        timer: Identifier of the timer in the file.
        stage: The stage.
        seconds: How long it runs.
        due: When it has run out, RFC 3339 UTC.
    """

    timer: str
    stage: str
    seconds: float
    due: str
    kind: Literal["timer_started"] = "timer_started"


@dataclass(frozen=True, slots=True, kw_only=True)
class TimerRanOut(Fact):
    """A timer had run out, and that was said.

    Attributes:
        timer: Identifier of the timer in the file.
        stage: The stage that had started it.
        late_s: Seconds from then until it was said: it waits for light, heat and dictation.
    """

    timer: str
    stage: str
    late_s: float
    kind: Literal["timer_ran_out"] = "timer_ran_out"


@dataclass(frozen=True, slots=True, kw_only=True)
class TimerDropped(Fact):
    """The stage that had started a timer was left out, and the timer with it."""

    timer: str
    stage: str
    kind: Literal["timer_dropped"] = "timer_dropped"


@dataclass(frozen=True, slots=True, kw_only=True)
class SkipDropped(Fact):
    """A skip that was begun was taken back."""

    stage: str
    kind: Literal["skip_dropped"] = "skip_dropped"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepOverridden(Fact):
    """A stage counts as done because what held it was overridden.

    Attributes:
        stage: The stage.
        role: Who.
        reason: Identifier of the reason in the file.
        heard: The words that settled it.
    """

    stage: str
    role: str
    reason: str
    heard: Utterance
    kind: Literal["step_overridden"] = "step_overridden"


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemTaught(Fact):
    """Something was taught.

    Attributes:
        stage: The stage.
        item: Identifier of the item.
        said: What the patient was told, in the file's words.
        teach_back: Whether the patient said it back.
    """

    stage: str
    item: str
    said: str
    teach_back: bool
    kind: Literal["item_taught"] = "item_taught"


@dataclass(frozen=True, slots=True, kw_only=True)
class StageExposed(Fact):
    """Every zone of a stage of light has had its seconds."""

    stage: str
    kind: Literal["stage_exposed"] = "stage_exposed"
