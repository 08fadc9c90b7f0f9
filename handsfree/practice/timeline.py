"""A practice record as a line of moments in session time: facts with the commands that led to them. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from handsfree.model.commands import Control, ControlCommand
from handsfree.model.effects import Json
from handsfree.model.events import CommandDoubted, CommandSpoken
from handsfree.practice.practice_plan import ATTEMPTED, HAPPENED, PLANNED
from handsfree.record.contents import Fact, Record


@dataclass(frozen=True, slots=True)
class Stated:
    """A fact in session time.

    Attributes:
        at_s: When it was stated; for words, when they began.
        fact: The fact.
        control: The command that led to it, or None.
    """

    at_s: float
    fact: Fact
    control: Control | None = None

    @property
    def kind(self) -> str:
        """Kind of the fact."""
        return self.fact.kind

    @property
    def data(self) -> Mapping[str, Json]:
        """Data of the fact."""
        return self.fact.data

    def text(self, name: str) -> str:
        """A member of the data as text."""
        value = self.data.get(name)
        return "" if value is None else str(value)

    def number(self, name: str) -> float:
        """A member of the data as a number; 0 where it is none."""
        value = self.data.get(name)
        return float(value) if isinstance(value, int | float) else 0.0


@dataclass(frozen=True, slots=True)
class TimelineMoment:
    """All moments of a record.

    Attributes:
        stated: Facts in the order of the record.
        end_s: Session time of the last event.
        begun_s: Session time of the first event.
        controls: Commands and when they were said.
    """

    stated: tuple[Stated, ...]
    begun_s: float
    end_s: float
    controls: tuple[tuple[float, Control], ...] = ()

    def asked_before(self, control: Control, at_s: float) -> float:
        """When a command was last said before a time; that time itself if it never was."""
        return max((said_s for said_s, said in self.controls if said is control and said_s <= at_s), default=at_s)

    def of(self, *kinds: str, since_s: float = float("-inf")) -> tuple[Stated, ...]:
        """Facts of some kinds that were stated at or after a time."""
        return tuple(one for one in self.stated if one.kind in kinds and one.at_s >= since_s)


def timeline(record: Record) -> TimelineMoment:
    """The moments of a record."""
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
    stated, last_s = [], begun_s
    for fact in record.facts:
        last_s = _time_of(fact, times, last_s)
        watched = Control(str(fact.data.get("control"))) if fact.kind == ATTEMPTED else None
        stated.append(Stated(last_s, fact, watched or controls.get(fact.event_seq)))
    return TimelineMoment(tuple(stated), begun_s, max(times.values(), default=0.0), tuple(said))


def _time_of(fact: Fact, times: Mapping[int, float], last_s: float) -> float:
    data = fact.data
    said = data.get("at_s") if fact.kind in {ATTEMPTED, HAPPENED, PLANNED} else data.get("spoken_from_s")
    if isinstance(said, int | float):
        return float(said)
    return times.get(fact.event_seq, last_s)


def same_value(one: str, other: str) -> bool:
    """Whether two values are the same, numbers by value."""
    if one == other:
        return True
    try:
        return Decimal(one) == Decimal(other)
    except InvalidOperation:
        return False
