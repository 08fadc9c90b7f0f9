"""What stands on record against what was true. Pure.

What counts is the truth of the scenario, not what the learner said: a value that was misheard, read back, and affirmed
is as wrong as one that was misread.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from enum import StrEnum

from handsfree.model.facts import ReadingAmended, ReadingConfirmed, ScenarioEventHappened
from handsfree.model.readings import value_text
from handsfree.model.reasons import Severity
from handsfree.practice.computed_truth import looks_better
from handsfree.practice.deciding import Decides
from handsfree.practice.practice_plan import Planned
from handsfree.practice.timeline import TimedFact, Timeline, confirmed_at, number_of, of_every, same_value, step_of


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
        hides: Results that looked better than they truly were because of it, in words.
    """

    where: str
    said: str
    true: str
    decides: Decides
    state: ValueState
    at_s: float
    seq: int
    hides: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What is wrong with it, in words; "" where nothing is."""
        match self.state:
            case ValueState.RIGHT:
                return ""
            case ValueState.CORRECTED:
                return f"{self.where} put right later"
            case ValueState.WRONG:
                return "; so ".join((f"{self.where}: {self.said} instead of {self.true}", *self.hides))


@dataclass(frozen=True, slots=True)
class HidingResult:
    """A computed value that stands less grave on record than it truly was.

    Attributes:
        words: What stands and what was true, in words.
        decides: What the true one decides.
        inputs: Places of the case that it follows from.
        at_s: When it was computed last, session time.
        seq: Its line in the record.
    """

    words: str
    decides: Decides
    inputs: tuple[str, ...]
    at_s: float
    seq: int


def recorded_values(planned: Planned, line: Timeline) -> tuple[RecordedValue, ...]:
    """Every value of the case that was recorded. What an event showed is judged with its answer.

    A result that looked better than it truly was, because of such a value, weighs on that value: where several are
    wrong, on the one that is farthest off.
    """
    shown = _shown(planned, line)
    found = {
        one.where: one
        for place, true in planned.case.items()
        for one in _at(place, true, planned.decides.get(place, Decides.FIGURE), line)
        if _judged_by(place, one.where, planned, shown)
    }
    for result in _hiding_results(planned, line, shown):
        wrong = [found[place] for place in result.inputs if place in found and found[place].state is ValueState.WRONG]
        if wrong:
            worst = max(wrong, key=_distance)
            graver = result.decides if worst.decides is not Decides.STOP else worst.decides
            found[worst.where] = replace(worst, decides=graver, hides=(*worst.hides, result.words))
    return tuple(found.values())


def results_left_out(planned: Planned, line: Timeline, values: Sequence[RecordedValue]) -> Iterator[HidingResult]:
    """Results that stop the work and looked better only because not all was measured that they are computed from."""
    blamed = {words for one in values for words in one.hides}
    for result in _hiding_results(planned, line, _shown(planned, line)):
        if result.decides is Decides.STOP and result.words not in blamed:
            yield result


def false_findings(planned: Planned, line: Timeline) -> tuple[TimedFact[ReadingConfirmed | ReadingAmended], ...]:
    """Values that are flagged where nothing was to be found, and values of what there is not.

    What no scenario names is as the procedure hopes. Of what is computed the values behind it count.
    """
    named = {*planned.case, *_shown(planned, line)}
    due = {step.step: step.times for step in planned.steps if not step.more}
    found = []
    for one in line.facts:
        fact = one.fact
        if not isinstance(fact, ReadingConfirmed | ReadingAmended) or fact.computed is not None:
            continue
        places = {f"{fact.stage}.{fact.field}", f"{fact.step}.{fact.field}"}
        flagged = fact.severity is not Severity.NONE and not places & named
        if flagged or number_of(fact.stage) > due.get(fact.step, number_of(fact.stage)):
            found.append(TimedFact(one.at_s, one.seq, fact, one.control))
    return tuple(found)


def _shown(planned: Planned, line: Timeline) -> set[str]:
    """Places about which an event that took place has said something."""
    happened = {one.fact.event for one in line.of(ScenarioEventHappened)}
    return {place for event in planned.events if event.id in happened for place in (*event.shows, *event.remedy)}


def _judged_by(place: str, where: str, planned: Planned, shown: set[str]) -> bool:
    """Whether a recorded value is held against what the case says at a place.

    What it says of one side or number comes first; of a number that there is not, it says nothing.
    """
    if {where, of_every(where)} & shown or (place != where and where in planned.case):
        return False
    step = next((one for one in planned.steps if one.step == step_of(where.partition(".")[0])), None)
    return step is None or step.more or number_of(where.partition(".")[0]) <= step.times


def _hiding_results(planned: Planned, line: Timeline, shown: set[str]) -> Iterator[HidingResult]:
    """Computed values that stand less grave on record than they truly were."""
    for place, truth in planned.computed.items():
        if shown & {name for one in truth.inputs for name in (one, of_every(one))}:
            continue
        stood = confirmed_at(place, line)
        if stood and looks_better(truth, stood[-1].fact):
            words = f"{place} stands as {value_text(stood[-1].fact.value)}, it was {truth.true}"
            yield HidingResult(words, truth.decides, truth.inputs, stood[-1].at_s, stood[-1].seq)


def _distance(one: RecordedValue) -> Decimal:
    """How far a number is off; without end where none was said."""
    try:
        return abs(Decimal(one.said) - Decimal(one.true))
    except InvalidOperation:
        return Decimal("Infinity")


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
