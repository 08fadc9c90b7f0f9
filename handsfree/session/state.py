"""What a session remembers. Handlers and `settle` change it; everything else only reads."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from handsfree.exposure.ledger import Ledger
from handsfree.model.commands import Command, Control, ControlCommand
from handsfree.model.facts import HoldKind, ReadingConfirmed, StepConfirmed, Utterance
from handsfree.model.readings import Side, SpokenValue
from handsfree.model.reasons import BaselineOfAnotherPatient, BaselineOfAnotherSide, Grounds, Severity
from handsfree.model.working import Working
from handsfree.session.held_over import RefusedNumber, RunningTimer
from handsfree.session.modes import Mode, ModeStack
from handsfree.session.prompts.fixed import HoldAction
from handsfree.session.prompts.sentence_codes import Prompt


class Done(StrEnum):
    """How a stage came to be done."""

    ANSWERED = "answered"
    CONFIRMED = "confirmed"
    TOLD = "told"
    TAUGHT = "taught"
    EXPOSED = "exposed"
    SKIPPED = "skipped"
    OVERRIDDEN = "overridden"


@dataclass(frozen=True, slots=True)
class TakenValue:
    """A value with everything that was known when it was taken.

    Attributes:
        value: What was said.
        heard: The words, times and scores.
        asked: Whether it was heard with doubt and affirmed when asked.
        severity: Its class, once confirmed.
        grounds: Why it is flagged, or None.
        of_the_rest: Whether it was said as one of "the rest", so that nobody has named it.
    """

    value: SpokenValue
    heard: Utterance
    asked: bool = False
    severity: Severity = Severity.NONE
    grounds: Grounds | None = None
    of_the_rest: bool = False


@dataclass(frozen=True, slots=True)
class Hold:
    """Something that holds the procedure until a person answers for it.

    Attributes:
        kind: "red" (lifted by role and reason only) or "stop" (lifted by a new answer too).
        stage_id: Where it was set.
        grounds: Why.
        action: What to do.
        answerable: Whether another answer may lift a "stop".
        field_id: The field whose value set it; None where no single one did.
        zone: Name of the zone that was lit, for heat and pain; "" where none was.
    """

    kind: HoldKind
    stage_id: str
    grounds: Grounds
    action: HoldAction | str
    answerable: bool = True
    field_id: str | None = None
    zone: str = ""


def answered_first(holds: Sequence[Hold]) -> Hold:
    """The hold that is told, overridden and corrected first: a red one, else the oldest; of at least one."""
    return next((hold for hold in holds if hold.kind == "red"), holds[0])


@dataclass(frozen=True, slots=True)
class Said:
    """A command as it came to the session.

    Attributes:
        command: What was meant.
        heard: The words, as they are put on record.
        from_s: Session time when the first word began, unrounded: light is counted by it.
        to_s: Session time when the last word ended.
        asked: Whether it was heard with doubt, asked about and affirmed.
        tags: Meaning tags of its words.
    """

    command: Command
    heard: Utterance
    from_s: float
    to_s: float
    asked: bool = False
    tags: tuple[str, ...] = ()

    @property
    def control(self) -> Control | None:
        """The control that was meant; None where the command is another kind."""
        return self.command.control if isinstance(self.command, ControlCommand) else None


@dataclass(frozen=True, slots=True)
class Corrected:
    """What stood at a stage that "correction" opened, until it is answered anew.

    Attributes:
        done: How it had come to be done; None where it was held.
        taught: How many of its items were taught.
        again: Its readings that were to be taken once more, as "stage.field".
        done_s: Session time at which it had come to be done; None where it was not.
    """

    done: Done | None
    taught: int
    again: frozenset[str]
    done_s: float | None = None


@dataclass(frozen=True, slots=True)
class StrayLight:
    """Light that may be on outside a zone.

    Attributes:
        from_s: Session time from which.
        told_s: When it was last said to put it off.
        before: What was said last and counted before.
    """

    from_s: float
    told_s: float
    before: Prompt | None


@dataclass(frozen=True, slots=True)
class OffOwed:
    """Light that a cry, a stop word or a break ended, until somebody says "light off": it may be on still.

    Attributes:
        told_s: Session time at which it was last said to put it off.
        stray_from_s: Of light outside a zone, session time from which it may have been on; None for light on a zone.
    """

    told_s: float
    stray_from_s: float | None


@dataclass(frozen=True, slots=True)
class Cried:
    """What may have been a cry of heat or pain, while it is asked whether it was.

    Attributes:
        asked_s: Session time at which that was asked last.
        zone_id: The zone that was lit, or that warmth was asked about; "" where there is none.
        before: What was said last and counted before.
    """

    asked_s: float
    zone_id: str
    before: Prompt | None


@dataclass
class Override:
    """An override on its way.

    Attributes:
        of: What is to be done: lift a hold, accept missing values, leave a zone, end the visit.
        hold: The hold that goes with it; None where none does.
        role: Who, once said.
        reason: Why, once said.
        code: Code of the person, once said; None where the operator answers.
    """

    of: Literal["hold", "gaps", "zone", "end"]
    hold: Hold | None = None
    role: str = ""
    reason: str = ""
    code: str | None = None


@dataclass(frozen=True, slots=True)
class Misheard:
    """A value that had set a red hold was said anew: the question whether the first was misheard.

    Attributes:
        hold: The hold.
        label: The field.
        was: The first value, in words.
        now: The value now, in words.
    """

    hold: Hold
    label: str
    was: str
    now: str


@dataclass
class SessionState:
    """Everything that a session remembers.

    Attributes:
        place: Identifier of the stage where the visit stands.
        modes: What the session is doing there, and what that interrupts.
        ledger: Light by zone, or None without a light.
        now_s: Session time of the last event, seconds.
        today: Local date, ISO 8601.
        local_offset_minutes: Offset of local time from UTC, minutes.
        practice: Whether it is practice, as far as said.
        practice_only: Whether it can only ever be practice.
        patient_reference: Whose visit it is, once known; "" before.
        patient_given: Whether that was known at the start, so that it is not asked.
        baseline_answers: Of each way in which the earlier record differs, whether it was said to be meant.
        side: Injured side once declared.
        size: Size once chosen.
        answers: Confirmed values by stage and field.
        pending: Values of this stage that are not confirmed.
        standing: Readings that were taken and stand unless somebody objects, as "stage.field", with what is put on
            record once people have gone on.
        working: Who leads.
        breath: Values of a narrated visit that are read back, by stage and field.
        gate_told: Whether what stands was read back together with the breath, because that closes its phase.
        spoken_of: Stage of a narrated visit of which something was taken last; "" where nothing was.
        unsided: Tags of a breath of a narrated visit of which it was asked last whether it is about left or right;
            empty where anything else was said or asked since.
        waiting: Values of a narrated visit that can be judged only beside another of their stage, until that is said.
        asked_for: Stages whose question was said, in this visit; one that is left out is forgotten.
        asked: Whether the tool has asked what the stage of now wants; in a narrated visit it asks for what is missing.
        spoke_s: Session time at which anybody last spoke.
        missing_told_s: Session time at which was last asked for what is missing, unasked.
        ahead: Values for other stages, from a label or for a step of the same group, that are not confirmed.
        refused: Numbers that were refused because they cannot be, the last of each reading, as "stage.field".
        digit_by_digit: Fields that take single digits only, after a doubt.
        done: How each stage came to be done.
        done_s: Session time at which each stage came to be done, breaks of the program counted.
        ended: How often each repeated step is done, once somebody has said that it was the last.
        timers: Timers that run, by "stage.timer".
        corrected: What stood at the stages that "correction" opened and that are not answered anew.
        last_answered: The stage that "correction" goes back to.
        reviewing: Whether an earlier stage is being looked at.
        holds: What holds the procedure.
        accepted_gaps: Missing readings that somebody answered for, as "stage.field".
        again: Readings that are to be taken once more, as "stage.field".
        repeated: Readings that were taken once more.
        zone_id: The zone that is to be lit next.
        taught: How many items were taught, by stage.
        told: Stages whose items were told in one go, and wait to be said back.
        note: Parts of the note that is being dictated.
        notes: How many notes were taken.
        doubt: The command that was heard with doubt and is asked about.
        doubted_s: When that was asked.
        stray: Light that may be on outside a zone, until somebody says what became of it.
        off_owed: Light that a cry, a stop word or a break ended, until somebody says "light off".
        stopped: Whether the pause was set by a stop word, not by "wait".
        override: The override on its way.
        misheard: The question whether a value was misheard, while it is open.
        acted_upon: Whether anything but saying a value anew happened since the last red hold was set.
        lifters: Codes of those who lifted a hold at a stage, as in `SpelledText.bare`.
        lifted: The holds that an override lifted.
        operator: Code or option of the operator, once declared.
        operator_role: The operator's role, once declared.
        left_zones: Zones that were left short of their light.
        back_to: The held stage that more light goes back to; None where none was asked for.
        ending: Whether the visit is ending early: only what is asked at an early end is asked.
        held_at_end: What held the visit when its early end began.
        rejections: How often in a row nothing was taken.
        last_said: What "say again" repeats.
        last_look_s: Session time up to which cues were said.
        warmth_answered_s: When warmth was last answered while lit.
        warmth_asked_s: When warmth was last asked, or anybody last spoke, while no light is on.
        cued_off_s: When the first cue to put the light off was said in the run that is lit, if no other followed.
        cried: What may have been a cry of heat or pain, while it is asked whether it was.
        reactions_s: Seconds from that cue to "light off", of each run that it ended.
        late_window_s: Earliest and latest session time of the late question about heat.
        late_answered_runs: How many runs there were when that was last answered.
        beeped_after_runs: How many runs there were when the lamp last beeped in the dark.
    """

    place: str
    modes: ModeStack
    ledger: Ledger | None = None
    now_s: float = 0.0
    today: str = ""
    local_offset_minutes: int = 0
    practice: bool = False
    practice_only: bool = False
    patient_reference: str = ""
    patient_given: bool = False
    baseline_answers: dict[BaselineOfAnotherPatient | BaselineOfAnotherSide, bool] = field(default_factory=dict)
    side: Side | None = None
    size: str | None = None
    answers: dict[str, dict[str, TakenValue]] = field(default_factory=dict)
    pending: dict[str, TakenValue] = field(default_factory=dict)
    standing: dict[str, ReadingConfirmed | StepConfirmed] = field(default_factory=dict)
    working: Working = Working.GUIDED
    breath: dict[str, dict[str, TakenValue]] = field(default_factory=dict)
    gate_told: bool = False
    spoken_of: str = ""
    unsided: tuple[str, ...] = ()
    waiting: dict[str, dict[str, TakenValue]] = field(default_factory=dict)
    asked_for: set[str] = field(default_factory=set)
    asked: bool = False
    spoke_s: float = 0.0
    missing_told_s: float | None = None
    ahead: dict[str, dict[str, TakenValue]] = field(default_factory=dict)
    refused: dict[str, RefusedNumber] = field(default_factory=dict)
    digit_by_digit: set[str] = field(default_factory=set)
    done: dict[str, Done] = field(default_factory=dict)
    done_s: dict[str, float] = field(default_factory=dict)
    ended: dict[str, int] = field(default_factory=dict)
    timers: dict[str, RunningTimer] = field(default_factory=dict)
    corrected: dict[str, Corrected] = field(default_factory=dict)
    last_answered: str | None = None
    reviewing: bool = False
    holds: list[Hold] = field(default_factory=list)
    accepted_gaps: set[str] = field(default_factory=set)
    again: set[str] = field(default_factory=set)
    repeated: set[str] = field(default_factory=set)
    zone_id: str | None = None
    taught: dict[str, int] = field(default_factory=dict)
    told: set[str] = field(default_factory=set)
    note: list[str] = field(default_factory=list)
    notes: int = 0
    doubt: Said | None = None
    doubted_s: float = 0.0
    stray: StrayLight | None = None
    off_owed: OffOwed | None = None
    stopped: bool = False
    override: Override | None = None
    misheard: Misheard | None = None
    acted_upon: bool = False
    lifters: dict[str, set[str]] = field(default_factory=dict)
    lifted: list[Hold] = field(default_factory=list)
    operator: str | None = None
    operator_role: str | None = None
    left_zones: set[str] = field(default_factory=set)
    back_to: str | None = None
    ending: bool = False
    held_at_end: tuple[Hold, ...] = ()
    rejections: int = 0
    last_said: Prompt | None = None
    last_look_s: float = 0.0
    warmth_answered_s: float | None = None
    warmth_asked_s: float = 0.0
    cued_off_s: float | None = None
    cried: Cried | None = None
    reactions_s: list[float] = field(default_factory=list)
    late_window_s: tuple[float, float] | None = None
    late_answered_runs: int = 0
    beeped_after_runs: int = 0

    @property
    def overridden(self) -> bool:
        """Whether anything was lifted by an override, accepted without a value, or left short of light."""
        return bool(self.lifted or self.accepted_gaps or self.left_zones)

    @property
    def lit(self) -> bool:
        """Whether the light is on as far as heard."""
        return self.ledger is not None and self.ledger.is_lit

    @property
    def red(self) -> bool:
        """Whether a red hold is set."""
        return any(hold.kind == "red" for hold in self.holds)

    @property
    def narrated(self) -> bool:
        """Whether people say what there is to say as it comes, and the tool listens. An early end is always asked."""
        return self.working is Working.NARRATED and not self.ending

    @property
    def was_said_back(self) -> bool:
        """Whether what stands was part of the last prompt: so it is where the tool leads, and asks."""
        return bool(self.standing) and not self.narrated and self.modes.top is Mode.ASKING

    @property
    def unconfirmed(self) -> dict[str, TakenValue]:
        """What was said at this stage and is not confirmed; what stood before and is only kept is left out."""
        kept = self.answers.get(self.place, {})
        return {name: taken for name, taken in self.pending.items() if kept.get(name) is not taken}

    def note_done(self) -> frozenset[str]:
        """Note when each stage came to be done; one that is open again is forgotten. The ones that are new."""
        fresh = frozenset(self.done.keys() - self.done_s.keys())
        self.done_s = {stage_id: self.done_s.get(stage_id, self.now_s) for stage_id in self.done}
        return fresh

    def held_at(self, stage_id: str) -> bool:
        """Whether something holds the procedure at a stage."""
        return any(hold.stage_id == stage_id for hold in self.holds)
