"""What was answered to each event of a scenario, and in how many seconds. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import takewhile

from handsfree.model.commands import Control
from handsfree.model.facts import (
    Fact,
    HoldLifted,
    HoldSet,
    ItemTaught,
    LightTurnedOff,
    LightTurnedOn,
    ReadingConfirmed,
    ScenarioEventHappened,
    StepConfirmed,
    StepTold,
    StopWordHeard,
    VisitEndedEarly,
    VisitPaused,
)
from handsfree.model.readings import value_text
from handsfree.practice.practice_plan import Planned
from handsfree.practice.scenario import Action, ScenarioEvent, Settlement, Way
from handsfree.practice.timeline import TimedFact, Timeline, confirmed_at, same_value
from handsfree.record.contents import Record

_WORK: tuple[type[Fact], ...] = (ReadingConfirmed, StepConfirmed, ItemTaught, LightTurnedOn, StepTold)


class ReactionVerdict(StrEnum):
    """How an event was answered."""

    RIGHT = "right"
    LATE = "late"
    WRONG = "wrong"
    MISSED = "missed"
    NOT_DUE = "not due"


@dataclass(frozen=True, slots=True)
class Reaction:
    """An answer to an event.

    Attributes:
        event: The event.
        at_s: When it began.
        seconds: Seconds from its last word to the right answer, or None where that never came.
        verdict: How it was answered.
        note: Why, in words.
        way: How a hold that followed was settled, or None.
        hold_seq: Line of that hold in the record, or None.
    """

    event: ScenarioEvent
    at_s: float
    seconds: float | None
    verdict: ReactionVerdict
    note: str
    way: Way | None = None
    hold_seq: int | None = None


@dataclass(frozen=True, slots=True)
class _Answer:
    seconds: float | None
    verdict: ReactionVerdict
    note: str


def reactions(record: Record, planned: Planned, line: Timeline) -> tuple[Reaction, ...]:
    """What was answered to every event that took place, in the order of the scenario."""
    took_place: dict[str, ScenarioEventHappened] = {}
    for one in record.of(ScenarioEventHappened):
        took_place.setdefault(one.fact.event, one.fact)
    found = []
    for event in planned.events:
        happened = took_place.get(event.id)
        if happened is not None:
            found.append(_reaction(event, happened, line))
    return tuple(found)


def _reaction(event: ScenarioEvent, happened: ScenarioEventHappened, line: Timeline) -> Reaction:
    match event.answer:
        case Action.RECORD:
            answer = _recorded(event, happened, line)
        case Action.LIGHT_OFF:
            answer = _darkened(event, happened, line)
        case Action.PAUSE:
            answer = _timed(event, happened, _paused(happened, line), "said wait")
        case Action.GO_ON:
            answer = _timed(event, happened, _first(line.of(*_WORK, since_s=happened.at_s)), "went on")
    return _settled(event, happened, line, answer)


def _first(found: Sequence[TimedFact[Fact]]) -> float | None:
    return found[0].at_s if found else None


def _paused(happened: ScenarioEventHappened, line: Timeline) -> float | None:
    """When the session was paused or stopped by a word."""
    for one in line.of(VisitPaused, StopWordHeard, since_s=happened.at_s):
        if not isinstance(one.fact, StopWordHeard) or one.fact.word == "stop":
            return one.at_s
    return None


def _timed(event: ScenarioEvent, happened: ScenarioEventHappened, answered_s: float | None, what: str) -> _Answer:
    if answered_s is None:
        return _Answer(None, ReactionVerdict.MISSED, f"never {what}")
    seconds = round(max(0.0, answered_s - happened.to_s), 1)
    if seconds > event.within_s:
        return _Answer(
            seconds, ReactionVerdict.LATE, f"{what} after {seconds:.1f} s, {event.within_s:g} s were allowed"
        )
    return _Answer(seconds, ReactionVerdict.RIGHT, f"{what} after {seconds:.1f} s")


def _darkened(event: ScenarioEvent, happened: ScenarioEventHappened, line: Timeline) -> _Answer:
    lit = False
    for one in takewhile(lambda one: one.at_s <= happened.at_s, line.facts):
        if isinstance(one.fact, LightTurnedOn | LightTurnedOff):
            lit = isinstance(one.fact, LightTurnedOn)
    if not lit:
        return _Answer(None, ReactionVerdict.NOT_DUE, "the light was off")
    return _timed(event, happened, _first(line.of(LightTurnedOff, since_s=happened.at_s)), "ended the light")


def _recorded(event: ScenarioEvent, happened: ScenarioEventHappened, line: Timeline) -> _Answer:
    """Whether what was shown was said: the first value that was confirmed counts, a later one is a correction."""
    last_s: float | None = None
    wrong: list[str] = []
    put_right = False
    for place, value in event.shows.items():
        said = confirmed_at(place, line, since_s=happened.at_s)
        right = next((one for one in said if same_value(value_text(one.fact.value), value)), None)
        if not said:
            return _Answer(None, ReactionVerdict.MISSED, f"{place} was never recorded")
        if right is None:
            wrong.append(f"recorded {place} as {value_text(said[0].fact.value)}, it was {value}")
        else:
            put_right = put_right or right is not said[0]
            last_s = right.at_s if last_s is None else max(last_s, right.at_s)
    if wrong:
        return _Answer(None, ReactionVerdict.WRONG, "; ".join(wrong))
    answer = _timed(event, happened, last_s, "recorded it")
    if put_right and answer.verdict is ReactionVerdict.RIGHT:
        return _Answer(answer.seconds, ReactionVerdict.LATE, f"{answer.note}, after another value had been confirmed")
    return answer


def _settled(event: ScenarioEvent, happened: ScenarioEventHappened, line: Timeline, answer: _Answer) -> Reaction:
    """How the hold that followed was lifted."""
    plain = Reaction(event, happened.at_s, answer.seconds, answer.verdict, answer.note)
    if event.settle is None or answer.verdict in {
        ReactionVerdict.MISSED,
        ReactionVerdict.WRONG,
        ReactionVerdict.NOT_DUE,
    }:
        return plain
    hold = next(iter(line.of(HoldSet, since_s=happened.at_s)), None)
    if hold is None:
        return plain
    lifted = next(
        (one for one in line.of(HoldLifted) if one.seq > hold.seq and one.fact.grounds == hold.fact.grounds), None
    )
    ended = any(one.seq > hold.seq for one in line.of(VisitEndedEarly))
    way, fault = _way(event.settle, hold, lifted, line, ended=ended)
    if way is not None and way not in event.settle.ways:
        fault = f"{way.value.replace('_', ' ')}, which was not the way"
    told = way.value.replace("_", " ") if way is not None else ""
    return Reaction(
        event=event,
        at_s=happened.at_s,
        seconds=answer.seconds,
        verdict=ReactionVerdict.WRONG if fault else answer.verdict,
        note=f"{answer.note}; {fault or f'settled: {told}'}",
        way=way,
        hold_seq=hold.seq,
    )


def _way(
    rule: Settlement, hold: TimedFact[HoldSet], lifted: TimedFact[HoldLifted] | None, line: Timeline, *, ended: bool
) -> tuple[Way | None, str]:
    """The way in which a hold was settled, and what was wrong with it, or ""."""
    if lifted is None:
        return (Way.ENDED, "") if ended else (None, "never settled it")
    if lifted.fact.role is None:
        return Way.ANSWERED_AGAIN, ""
    seconds = line.asked_before(Control.OVERRIDE, lifted.at_s) - hold.at_s
    if seconds < rule.look_s:
        return Way.OVERRIDDEN, f"overrode after {seconds:.1f} s, nobody looks in less than {rule.look_s:g} s"
    if lifted.fact.reason not in rule.reasons:
        return Way.OVERRIDDEN, f"overrode for the reason {lifted.fact.reason}, which does not fit"
    if rule.roles and lifted.fact.role not in rule.roles:
        return Way.OVERRIDDEN, f"overrode as {lifted.fact.role}, which is not the role for it"
    return Way.OVERRIDDEN, ""
