"""What stands on record against what was true. Pure.

What counts is the truth of the scenario, not what the learner said: a value that was misheard, read back, and affirmed
is as wrong as one that was misread.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from handsfree.model.facts import ReadingAmended, ReadingConfirmed, ScenarioEventHappened
from handsfree.model.readings import value_text
from handsfree.model.reasons import Severity
from handsfree.practice.deciding import Decides
from handsfree.practice.practice_plan import Planned
from handsfree.practice.timeline import TimedFact, Timeline, confirmed_at, same_value


class ValueState(StrEnum):
    """How a value stands."""

    RIGHT = "right"
    CORRECTED = "corrected"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class RecordedValue:
    """A value of the case that was recorded.

    Attributes:
        where: Stage and field: "circulation_after@right.refill".
        said: What stands on record.
        true: What was true.
        decides: What it decides.
        state: How it stands.
        at_s: When the value that counts was said, session time.
        seq: Its line in the record.
    """

    where: str
    said: str
    true: str
    decides: Decides
    state: ValueState
    at_s: float
    seq: int

    @property
    def words(self) -> str:
        """What is wrong with it, in words; "" where nothing is."""
        match self.state:
            case ValueState.RIGHT:
                return ""
            case ValueState.CORRECTED:
                return f"{self.where} put right later"
            case ValueState.WRONG:
                return f"{self.where}: {self.said} instead of {self.true}"


def recorded_values(planned: Planned, line: Timeline) -> tuple[RecordedValue, ...]:
    """Every value of the case that was recorded. What an event showed is judged with its answer."""
    happened = {one.fact.event for one in line.of(ScenarioEventHappened)}
    shown = {place for event in planned.events if event.id in happened for place in (*event.shows, *event.remedy)}
    return tuple(
        one
        for place, true in planned.case.items()
        if place not in shown
        for one in _at(place, true, planned.decides.get(place, Decides.FIGURE), line)
    )


def false_findings(planned: Planned, line: Timeline) -> tuple[TimedFact[ReadingConfirmed | ReadingAmended], ...]:
    """Values that are flagged where nothing was to be found: what no scenario names is as the procedure hopes."""
    happened = {one.fact.event for one in line.of(ScenarioEventHappened)}
    named = {
        *planned.case,
        *(place for event in planned.events if event.id in happened for place in (*event.shows, *event.remedy)),
    }
    found = []
    for one in line.facts:
        fact = one.fact
        if isinstance(fact, ReadingConfirmed | ReadingAmended) and fact.severity is not Severity.NONE:
            places = {f"{fact.stage}.{fact.field}", f"{fact.step}.{fact.field}"}
            if not places & named:
                found.append(TimedFact(one.at_s, one.seq, fact, one.control))
    return tuple(found)


def _at(place: str, true: str, decides: Decides, line: Timeline) -> Iterator[RecordedValue]:
    by_stage: dict[str, list[TimedFact[ReadingConfirmed | ReadingAmended]]] = {}
    for one in confirmed_at(place, line):
        said = by_stage.setdefault(one.fact.stage, [])
        if taken_again(one.fact):
            said.clear()
        said.append(one)
    for stage, said in by_stage.items():
        right = [same_value(value_text(one.fact.value), true) for one in said]
        state = ValueState.WRONG
        if right[-1]:
            state = ValueState.RIGHT if all(right) else ValueState.CORRECTED
        counts = said[-1] if state is not ValueState.CORRECTED else said[right.index(False)]
        yield RecordedValue(
            where=f"{stage}.{place.partition('.')[2]}",
            said=value_text(counts.fact.value),
            true=true,
            decides=decides,
            state=state,
            at_s=counts.at_s,
            seq=counts.seq,
        )


def taken_again(fact: ReadingConfirmed | ReadingAmended) -> bool:
    """Whether the procedure asked for the value once more; that is no correction."""
    return isinstance(fact, ReadingAmended) and fact.why == "repeated"
