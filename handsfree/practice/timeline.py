"""A practice record in session time: each fact with its moment and the command that led to it. Pure."""

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Generic, TypeVar

from handsfree.model.commands import Control, ControlCommand
from handsfree.model.events import CommandDoubted, CommandSpoken
from handsfree.model.facts import (
    AnyFact,
    Fact,
    PracticeAttempted,
    ReadingAmended,
    ReadingConfirmed,
    ScenarioEventHappened,
    StepEntered,
    Utterance,
)
from handsfree.record.contents import Record

PLAYER_SLACK_S = 0.5
"""How far the recogniser's times may lie beside those of a player's words. Chosen here, no source."""
_LIGHT_OFF = "light off"
F = TypeVar("F", bound=Fact)
F_co = TypeVar("F_co", bound=Fact, covariant=True)


@dataclass(frozen=True, slots=True)
class TimedFact(Generic[F_co]):
    """A fact in session time.

    Attributes:
        at_s: When it was stated; for words, when they began.
        seq: Its line in the record.
        fact: What was stated.
        control: The command that led to it, or None.
    """

    at_s: float
    seq: int
    fact: F_co
    control: Control | None = None


@dataclass(frozen=True, slots=True)
class Timeline:
    """Everything that a record states, in session time.

    Attributes:
        facts: Facts in the order of the record.
        begun_s: Session time of the first event.
        end_s: Session time of the last event.
        controls: Commands and when they were said.
    """

    facts: tuple[TimedFact[AnyFact], ...]
    begun_s: float
    end_s: float
    controls: tuple[tuple[float, Control], ...] = ()

    def of(self, *kinds: type[F], since_s: float = float("-inf")) -> tuple[TimedFact[F], ...]:
        """Facts of some types that were stated at or after a time."""
        return tuple(
            TimedFact(one.at_s, one.seq, one.fact, one.control)
            for one in self.facts
            if isinstance(one.fact, kinds) and one.at_s >= since_s
        )

    def by_player(self, heard: Utterance | None) -> bool:
        """Whether words fell together with those of a player of the scenario; then the learner is not credited.

        "Light off" said over a player who says something else is the learner's.
        """
        if heard is None:
            return False
        own = _LIGHT_OFF in heard.text.lower()
        return any(
            one.fact.say is not None
            and one.fact.at_s - PLAYER_SLACK_S <= heard.spoken_from_s <= one.fact.to_s + PLAYER_SLACK_S
            and not (own and _LIGHT_OFF not in one.fact.say.lower())
            for one in self.of(ScenarioEventHappened)
        )

    @property
    def steps(self) -> tuple[tuple[StepEntered, float, float], ...]:
        """Each step that was entered, with its beginning and its end in session time, seconds."""
        entered = self.of(StepEntered)
        ends = [*(one.at_s for one in entered[1:]), self.end_s]
        return tuple((one.fact, one.at_s, to_s) for one, to_s in zip(entered, ends, strict=False))

    def asked_before(self, control: Control, at_s: float) -> float:
        """When a command was last said before a time; that time itself if it never was."""
        return max((said_s for said_s, said in self.controls if said is control and said_s <= at_s), default=at_s)


def timeline(record: Record) -> Timeline:
    """The facts of a record in session time."""
    times: dict[int, float] = {}
    controls: dict[int, Control] = {}
    said: list[tuple[float, Control]] = []
    doubted: Control | None = None
    for line, event in zip(record.event_lines, record.events, strict=True):
        times[line] = event.at_s
        match event:
            case CommandDoubted(command=ControlCommand(control=control), heard=heard):
                doubted = controls[line] = control
                said.append((heard.spoken_from_s, control))
            case CommandSpoken(command=ControlCommand(control=Control.AFFIRM)) if doubted is not None:
                # A command that was heard with doubt acts when it is affirmed.
                controls[line], doubted = doubted, None
            case CommandSpoken(command=ControlCommand(control=control), heard=heard):
                controls[line], doubted = control, None
                said.append((heard.spoken_from_s, control))
            case CommandSpoken():
                doubted = None
    begun_s = min(times.values(), default=0.0)
    facts: list[TimedFact[AnyFact]] = []
    last_s = begun_s
    for one in record.facts:
        last_s = _moment(one.fact, times.get(one.event_seq, last_s))
        watched = Control(one.fact.control) if isinstance(one.fact, PracticeAttempted) else None
        facts.append(TimedFact(last_s, one.seq, one.fact, watched or controls.get(one.event_seq)))
    return Timeline(tuple(facts), begun_s, max(times.values(), default=0.0), tuple(said))


def _moment(fact: AnyFact, event_s: float) -> float:
    """When a fact came about: when its words began, else the moment of its event."""
    match fact:
        case PracticeAttempted(at_s=at_s) | ScenarioEventHappened(at_s=at_s):
            return at_s
    heard: object = getattr(fact, "heard", None)
    return heard.spoken_from_s if isinstance(heard, Utterance) else event_s


def step_of(stage: str) -> str:
    """The step of a stage: "pain_after" of "pain_after@left"."""
    return stage.partition("@")[0]


def number_of(stage: str) -> int:
    """The number of a stage of a step that is repeated: 3 of "bolt@3"; 0 of others."""
    mark = stage.partition("@")[2]
    return int(mark) if mark.isdecimal() else 0


def of_every(place: str) -> str:
    """The place that stands for every side or number: "bolt.torque" of "bolt@3.torque"."""
    stage, _, field = place.partition(".")
    return f"{step_of(stage)}.{field}"


def confirmed_at(
    place: str, line: Timeline, since_s: float = float("-inf")
) -> tuple[TimedFact[ReadingConfirmed | ReadingAmended], ...]:
    """What was confirmed at a place of a scenario, "step.field", "step@left.field" or "step@3.field".

    Without side or number, of every one of the step.
    """
    stage, _, field = place.partition(".")
    return tuple(
        TimedFact(one.at_s, one.seq, one.fact, one.control)
        for one in line.facts
        if isinstance(one.fact, ReadingConfirmed | ReadingAmended)
        and one.at_s >= since_s
        and stage in {one.fact.stage, one.fact.step}
        and one.fact.field == field
    )


def same_value(one: str, other: str) -> bool:
    """Whether two values are the same, numbers by value."""
    if one == other:
        return True
    try:
        return Decimal(one) == Decimal(other)
    except InvalidOperation:
        return False
