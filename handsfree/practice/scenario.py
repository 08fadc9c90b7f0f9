"""The file form of a practice scenario: a case, the people around it, and what happens to the learner.

An event shows something (a finding, a broken device), says something in a voice of its own, or makes noise. Each names
the right answer and how many seconds it may take. What is scored and how hard lies in the table of points.
"""

from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from handsfree.definition.form import FileId, Identifier, Spoken, Strict, Version
from handsfree.practice.event_kinds import Action, Answers, EventKind, Limit, Seconds, Settlement, Way, Worth
from handsfree.simulation.script import NoiseSpec, VoiceSpec

_STAGE = r"[a-z][a-z0-9_]*(@(left|right|[1-9][0-9]?))?"
Place = Annotated[str, Field(pattern=rf"^{_STAGE}$", max_length=60)]
"""A step, one side of it, or one of those that are repeated: "circulation_after@right", "bolt@7"."""
FieldPlace = Annotated[str, Field(pattern=rf"^{_STAGE}\.[a-z][a-z0-9_]*$", max_length=100)]
"""A field of a step: "circulation_after@right.refill", "bolt@7.torque"; without side or number, of every one."""
LEARNER = "learner"
PATIENT = "patient"


class Difficulty(StrEnum):
    """How hard a scenario is; attempts at different ones are not set beside each other."""

    EASY = "easy"
    MIDDLE = "middle"
    HARD = "hard"


class PatientManner(StrEnum):
    """How the patient is."""

    USUAL = "usual"
    IMPATIENT = "impatient"
    SILENT = "silent"


class Moment(Strict):
    """When something happens: at steps, at a time, or at random within bounds (by the seed, so the same each time).

    Attributes:
        steps: At one of these steps, chosen at random where there are several.
        zone: Only while this zone is lit; needs `steps`.
        after_s: Shortest and longest wait from then, seconds: after the step was asked, or the light came on.
        between_s: Earliest and latest session time, instead of `steps`.
        cue: Only when the trainer says so.
    """

    steps: tuple[Place, ...] = ()
    zone: Identifier | None = None
    after_s: tuple[Seconds, Seconds] = (0.0, 0.0)
    between_s: tuple[Seconds, Seconds] | None = None
    cue: bool = False

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if [bool(self.steps), self.between_s is not None, self.cue].count(True) != 1:
            raise ValueError("needs exactly one of steps, between_s, cue: true")
        if self.zone is not None and not self.steps:
            raise ValueError("zone needs steps")
        for low, high in (self.after_s, self.between_s or (0.0, 0.0)):
            if low > high:
                raise ValueError("a span is [shortest, longest] in seconds, the shortest first")
        return self


class ScenarioEvent(Strict):
    """Something that happens to the learner.

    Attributes:
        id: Identifier.
        kind: What kind of thing: one of `event_kinds.yaml`, or of the scenario's own.
        at: When.
        key: A trainer's key that makes it happen at once.
        who: Whose voice; empty for something without words.
        say: What is said.
        sign: What there is to see instead, where the patient is silent.
        repeat: How often it is said again, 3 s apart, until it is answered.
        shows: What is to be found from then on, "step.field" to value; what was true before is left behind.
        remedy: What is true once the learner has put it right.
        noise: Noise in the room.
        noise_s: How long it lasts.
        answer: Right answers; any of them.
        within_s: Within how many seconds after it was said or the step was asked.
        worth: Points for a right answer in time; None: as the table of points says.
        settle: How a hold that follows should be settled; None where none follows.
        hard: Whether missing it fails the attempt, whatever the points.
        why: Why this is the right answer, for the debriefing.
        source: Source of the expectation.
    """

    id: Identifier
    kind: Identifier
    at: Moment
    key: Annotated[str, Field(pattern=r"^[a-z0-9]$")] | None = None
    who: Identifier | None = None
    say: Spoken | None = None
    sign: Spoken | None = None
    repeat: Annotated[int, Field(ge=0, le=5)] = 0
    shows: dict[FieldPlace, str] = Field(default_factory=dict)
    remedy: dict[FieldPlace, str] = Field(default_factory=dict)
    noise: NoiseSpec | None = None
    noise_s: Seconds = 0.0
    answer: Answers
    within_s: Limit
    worth: Worth | None = None
    settle: Settlement | None = None
    hard: bool = False
    why: Spoken
    source: Spoken

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if (self.who is None) != (self.say is None):
            raise ValueError("who and say go together")
        if self.say is None and not self.shows and self.noise is None:
            raise ValueError("needs something that happens: who and say, shows, or noise")
        if (self.noise is None) != (self.noise_s == 0):
            raise ValueError("noise and noise_s go together")
        if (Action.RECORD in self.answer) != bool(self.shows):
            raise ValueError("answer record needs shows, and shows needs answer record")
        if self.remedy and (self.settle is None or Way.ANSWERED_AGAIN not in self.settle.ways):
            raise ValueError("remedy needs settle with the way answered_again")
        return self


class Scenario(Strict):
    """A scenario for practice.

    Attributes:
        form: Version of this form.
        id: Identifier.
        title: What it is about, in one line.
        version: Its version.
        approved_by: Who approved it for teaching, or null.
        procedure: Bundled identifier of the procedure, or its file: beside this one, or a path.
        difficulty: How hard it is, or None where nobody has said.
        family: Attempts at scenarios of one family are set beside each other; None: only those at this one.
        patient: How the patient is.
        seed: Seed of everything random: moments, noise.
        briefing: What the learner is told before.
        voices: The people; "learner" and "patient" must be among them.
        tool_voice: The tool's own voice.
        noise: The room.
        case: What is true, "step.field" to value; the rest is found as the procedure hopes. What is computed follows.
        times: How often a repeated step is to be done, by its identifier; what is left out is done as often as the case
            names numbers of it, at least as often as the file says.
        kinds: Kinds of events of its own.
        events: What happens; nothing, for a plain run through.
        phase_s: Longest time for each phase, seconds; told, not scored.
    """

    form: Literal[1]
    id: FileId
    title: Spoken
    version: Version
    approved_by: str | None
    procedure: str
    difficulty: Difficulty | None = None
    family: FileId | None = None
    patient: PatientManner = PatientManner.USUAL
    seed: int = 0
    briefing: Annotated[tuple[Spoken, ...], Field(min_length=1)]
    voices: dict[Identifier, VoiceSpec]
    tool_voice: Literal["neural", "system"] | None = None
    noise: NoiseSpec | None = None
    case: dict[FieldPlace, str] = Field(default_factory=dict)
    times: dict[Identifier, Annotated[int, Field(ge=1, le=99)]] = Field(default_factory=dict)
    kinds: dict[Identifier, EventKind] = Field(default_factory=dict)
    events: tuple[ScenarioEvent, ...] = ()
    phase_s: dict[Literal["before", "during", "after"], Seconds] = Field(default_factory=dict)
