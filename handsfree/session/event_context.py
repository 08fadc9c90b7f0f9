"""What a session remembers, and one turn of it: an event in, effects out."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from handsfree.definition.form import Procedure, StepField
from handsfree.definition.plan import CLOSED, Mode, Plan, SideRole, Stage, Walker
from handsfree.definition.profile_form import Band, DeviceProfile, LightFile
from handsfree.exposure.guidance import GuidanceProfile
from handsfree.exposure.ledger import Ledger
from handsfree.model.baseline import Baseline
from handsfree.model.effects import Append, Close, Earcon, Effect, Json, PlayEarcon, Priority, Say
from handsfree.model.events import CommandDoubted, SessionEvent
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Side, SpokenValue
from handsfree.record.forms.form_1 import FormOneReader
from handsfree.session.limits import Judgement

UNJUDGED = Judgement()


@dataclass(frozen=True, slots=True)
class Held:
    """A value with everything that was known when it was taken.

    Attributes:
        value: What was said.
        heard: The words, times and scores.
        probability: Estimated probability that they were heard right.
        judgement: Its class, once confirmed.
        asked: Whether it was heard with doubt and affirmed when asked.
    """

    value: SpokenValue
    heard: Hypothesis
    probability: float
    judgement: Judgement = UNJUDGED
    asked: bool = False


@dataclass(frozen=True, slots=True)
class Latch:
    """Something that holds the procedure until a person answers for it.

    Attributes:
        kind: "red" (lifted by role and reason only) or "stop" (lifted by a new answer too).
        stage_id: Where it was set.
        reason: Why, fit to be spoken.
        action: What to do, fit to be spoken.
        answerable: Whether another answer may lift a "stop".
    """

    kind: str
    stage_id: str
    reason: str
    action: str
    answerable: bool = True


@dataclass
class SessionState:
    """Everything that a session remembers; changed by turns only."""

    today: str = ""
    local_offset_minutes: int = 0
    practice: bool = False
    practice_only: bool = False
    side: Side | None = None
    answers: dict[str, dict[str, Held]] = field(default_factory=dict)
    pending: dict[str, Held] = field(default_factory=dict)
    scanned: dict[str, dict[str, Held]] = field(default_factory=dict)
    digit_by_digit: set[str] = field(default_factory=set)
    done: dict[str, str] = field(default_factory=dict)
    last_answered: str | None = None
    latches: list[Latch] = field(default_factory=list)
    accepted_gaps: set[str] = field(default_factory=set)
    again: set[str] = field(default_factory=set)
    repeated: set[str] = field(default_factory=set)
    size: str | None = None
    zone_id: str | None = None
    taught: dict[str, int] = field(default_factory=dict)
    note: list[str] = field(default_factory=list)
    notes: int = 0
    under_pause: Mode = Mode.ASKING
    under_late: Mode = Mode.ASKING
    before_note: Mode = Mode.ASKING
    before_doubt: Mode = Mode.ASKING
    doubt: CommandDoubted | None = None
    override_of: str = ""
    override_role: str = ""
    override_reason: str = ""
    reviewing: bool = False
    rejections: int = 0
    last_said: str = ""
    last_look_s: float = 0.0
    warmth_answered_s: float | None = None
    late_window_s: tuple[float, float] | None = None
    beeps_after_off: int = 0
    now_s: float = 0.0
    form_1: FormOneReader = field(default_factory=FormOneReader)


@dataclass
class Turn:
    """One event being handled: reads the fixed parts, changes the state, gathers effects.

    Attributes:
        plan: The compiled procedure.
        device: Device profile, or None.
        light: Light profile, or None.
        guidance: When to speak while lit.
        state: What is remembered.
        place: Machine of stages.
        modes: Machine of modes.
        ledger: Light by zone, or None without a light.
        event: What happened.
        asked: Whether the command was heard with doubt, asked about and affirmed.
        recalled: Codes of a local recall list, and why.
        earlier: The earlier record that values are compared with, or None.
        expert: Whether prompts are short where a step has a short one.
    """

    plan: Plan
    device: DeviceProfile | None
    light: LightFile | None
    guidance: GuidanceProfile
    state: SessionState
    place: Walker
    modes: Walker
    ledger: Ledger | None
    event: SessionEvent
    expert: bool = False
    facts: list[Append] = field(default_factory=list)
    sounds: list[Effect] = field(default_factory=list)
    closing: Close | None = None
    asked: bool = False
    recalled: Mapping[str, str] = field(default_factory=dict)
    earlier: Baseline | None = None

    @property
    def procedure(self) -> Procedure:
        """The procedure."""
        return self.plan.procedure

    @property
    def mode(self) -> Mode:
        """The mode now."""
        return Mode(self.modes.state)

    @property
    def stage(self) -> Stage:
        """The stage now; the last one once closed."""
        if self.place.state == CLOSED:
            return self.plan.stages[-1]
        return self.plan.stages[self.plan.index(self.place.state)]

    @property
    def lit(self) -> bool:
        """Whether the light is on as far as heard."""
        return self.ledger is not None and self.ledger.is_lit

    @property
    def red(self) -> bool:
        """Whether a red latch is set."""
        return any(latch.kind == "red" for latch in self.state.latches)

    @property
    def unconfirmed(self) -> dict[str, Held]:
        """What was said at this stage and is not confirmed; what stood before and is only kept is left out."""
        kept = self.state.answers.get(self.stage.id, {})
        return {name: held for name, held in self.state.pending.items() if kept.get(name) is not held}

    def to_repeat(self, stage: Stage) -> list[StepField]:
        """Fields of a stage that are flagged and to be taken once more; the others stand."""
        return [field for field in stage.step.fields if f"{stage.id}.{field.id}" in self.state.again]

    def to(self, mode: Mode) -> None:
        """Change the mode, by the table."""
        if mode is not self.mode:
            self.modes.move(f"to:{mode.value}")

    def side_of(self, stage: Stage) -> Side | None:
        """Left or right, for a stage about one side, as soon as the side is known."""
        if stage.role is None or self.state.side is None:
            return None
        if stage.role is SideRole.INJURED:
            return self.state.side
        return Side.LEFT if self.state.side is Side.RIGHT else Side.RIGHT

    def name_of(self, stage: Stage) -> str:
        """The stage's identifier with the real side: step or step@left."""
        side = self.side_of(stage)
        return f"{stage.step.id}@{side.value}" if side is not None else stage.id

    def prompt_of(self, stage: Stage) -> str:
        """The prompt with the side filled in."""
        side = self.side_of(stage)
        text = (stage.step.expert if self.expert else None) or stage.step.prompt
        if side is None:
            return text.replace("{side} ", "")
        words = side.value.capitalize() if text.startswith("{side}") else side.value
        return text.replace("{side}", words)

    def band_of(self, field_: StepField) -> Band | None:
        """The band that a number is held against."""
        if field_.number is None or field_.number.band is None or self.device is None:
            return None
        return self.device.bands[field_.number.band]

    def record(self, kind: str, /, **data: Json) -> None:
        """Add a fact for the record."""
        self.state.form_1.take_event(self.event)
        self.facts += [Append(fact) for fact in self.state.form_1.facts(kind, data)]

    def say(self, text: str, priority: Priority = Priority.PROMPT) -> None:
        """Add something to be said; it is what "say again" repeats."""
        self.sounds.append(Say(text, priority))
        if priority is not Priority.INFORMATION:
            self.state.last_said = text

    def earcon(self, earcon: Earcon) -> None:
        """Add a short sound."""
        self.sounds.append(PlayEarcon(earcon))

    def refuse(self, text: str, **data: Json) -> None:
        """Refuse something aloud and on record; nothing else changes."""
        self.record("command_refused", reason=text, stage=self.name_of(self.stage), **data)
        self.earcon(Earcon.REFUSED)
        said = self.state.last_said
        self.say(text)
        self.state.last_said = said

    def effects(self) -> tuple[Effect, ...]:
        """All effects, facts first."""
        closing: tuple[Effect, ...] = (self.closing,) if self.closing is not None else ()
        return (*self.facts, *self.sounds, *closing)


def heard_facts(heard: Hypothesis, probability: float) -> dict[str, Json]:
    """What is kept beside every value: the words, the score, the runner-up, the times."""
    return {
        "heard": heard.text,
        "probability": round(probability, 4),
        "runner_up": " ".join(heard.runner_up) if heard.runner_up is not None else None,
        "engine": heard.engine,
        "spoken_from_s": round(heard.spoken_from_s, 3),
        "spoken_to_s": round(heard.spoken_to_s, 3),
    }
