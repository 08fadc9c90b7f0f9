"""What was answered to each event of a scenario, and in how many seconds. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import takewhile

from handsfree.model.commands import Control
from handsfree.model.facts import (
    Fact,
    HoldLifted,
    HoldSet,
    ItemTaught,
    LightOffConfirmed,
    LightTurnedOff,
    LightTurnedOn,
    ReadingConfirmed,
    RepeatEnded,
    ScenarioEventHappened,
    StepConfirmed,
    StopWordHeard,
    Utterance,
    VisitEndedEarly,
    VisitPaused,
)
from handsfree.model.readings import value_text
from handsfree.practice.event_kinds import Action, Settlement, Way
from handsfree.practice.practice_plan import Planned
from handsfree.practice.scenario import ScenarioEvent
from handsfree.practice.timeline import TimedFact, Timeline, confirmed_at, same_value
from handsfree.record.contents import Record

_WORK: tuple[type[Fact], ...] = (ReadingConfirmed, RepeatEnded, StepConfirmed, ItemTaught, LightTurnedOn)


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
        seq: Line of the record that it is best heard by: of the answer, else of the event.
        others_s: When somebody else's word had ended the light, session time, or None.
        left: Whether the learner asked to go on first, and so left the end of the light to others.
    """

    event: ScenarioEvent
    at_s: float
    seconds: float | None
    verdict: ReactionVerdict
    note: str
    way: Way | None = None
    hold_seq: int | None = None
    seq: int | None = None
    others_s: float | None = None
    left: bool = False


_GOING_ON = frozenset({Control.OVERRIDE, Control.NEXT_STEP, Control.SKIP, Control.LIGHT_ON})
"""What asks to go on: whoever says it first has left the end of the light to whoever ended it."""
_BEST_FIRST = (
    ReactionVerdict.RIGHT,
    ReactionVerdict.LATE,
    ReactionVerdict.WRONG,
    ReactionVerdict.NOT_DUE,
    ReactionVerdict.MISSED,
)


@dataclass(frozen=True, slots=True)
class _Answer:
    seconds: float | None
    verdict: ReactionVerdict
    note: str
    seq: int | None = None
    others_s: float | None = None
    left: bool = False


def reactions(record: Record, planned: Planned, line: Timeline, deaf_s: float) -> tuple[Reaction, ...]:
    """What was answered to every event that took place, in the order of the scenario.

    Args:
        record: The record.
        planned: What was to happen.
        line: The record in session time.
        deaf_s: How long the tool speaks after a cry, seconds: meanwhile it hears nobody.
    """
    took_place: dict[str, tuple[int, ScenarioEventHappened]] = {}
    for one in record.of(ScenarioEventHappened):
        took_place.setdefault(one.fact.event, (one.seq, one.fact))
    targets_s = {total.zone: total.target_s for total in record.zones if total.target_s}
    found = []
    for event in planned.events:
        if event.id in took_place:
            seq, happened = took_place[event.id]
            reaction = _reaction(event, happened, line, deaf_s, targets_s)
            found.append(reaction if reaction.seq is not None else replace(reaction, seq=seq))
    return tuple(found)


def _reaction(
    event: ScenarioEvent,
    happened: ScenarioEventHappened,
    line: Timeline,
    deaf_s: float,
    targets_s: Mapping[str, float],
) -> Reaction:
    """The best of the answers that are right."""
    answers = [_answer(action, event, happened, line, deaf_s, targets_s) for action in event.answer]
    return _settled(event, happened, line, min(answers, key=lambda one: _BEST_FIRST.index(one.verdict)))


def _answer(
    action: Action,
    event: ScenarioEvent,
    happened: ScenarioEventHappened,
    line: Timeline,
    deaf_s: float,
    targets_s: Mapping[str, float],
) -> _Answer:
    match action:
        case Action.RECORD:
            return _recorded(event, happened, line)
        case Action.LIGHT_OFF:
            return _darkened(event, happened, line, deaf_s, targets_s)
        case Action.PAUSE:
            return _timed(event, happened, _paused(happened, line), "said wait")
        case Action.GO_ON:
            return _timed(event, happened, _first(line.of(*_WORK, since_s=happened.at_s)), "went on")


def _first(found: Sequence[TimedFact[Fact]]) -> TimedFact[Fact] | None:
    return found[0] if found else None


def _paused(happened: ScenarioEventHappened, line: Timeline) -> TimedFact[Fact] | None:
    """When the learner paused or stopped the session by a word."""
    for one in line.of(VisitPaused, StopWordHeard, since_s=happened.at_s):
        if not isinstance(one.fact, StopWordHeard) or (one.fact.word == "stop" and not line.by_player(one.fact.heard)):
            return TimedFact(one.at_s, one.seq, one.fact, one.control)
    return None


def _timed(
    event: ScenarioEvent,
    happened: ScenarioEventHappened,
    answered: TimedFact[Fact] | None,
    what: str,
    more_s: float = 0.0,
) -> _Answer:
    if answered is None:
        return _Answer(None, ReactionVerdict.MISSED, f"never {what}")
    seconds = round(max(0.0, answered.at_s - happened.to_s), 1)
    allowed_s = event.within_s + more_s
    if seconds > allowed_s:
        note = f"{what} after {seconds:.1f} s, {allowed_s:g} s were allowed"
        return _Answer(seconds, ReactionVerdict.LATE, note, answered.seq)
    return _Answer(seconds, ReactionVerdict.RIGHT, f"{what} after {seconds:.1f} s", answered.seq)


def _darkened(
    event: ScenarioEvent,
    happened: ScenarioEventHappened,
    line: Timeline,
    deaf_s: float,
    targets_s: Mapping[str, float],
) -> _Answer:
    """When the learner ended the light. A player's word that ended it is not the learner's: their own one counts."""
    lit = False
    for one in takewhile(lambda one: one.at_s <= happened.at_s, line.facts):
        if isinstance(one.fact, LightTurnedOn | LightTurnedOff):
            lit = isinstance(one.fact, LightTurnedOn)
    if not lit:
        return _Answer(None, ReactionVerdict.NOT_DUE, "the light was off")
    ends = line.of(LightTurnedOff, LightOffConfirmed, StopWordHeard, since_s=happened.at_s)
    own = _first([one for one in ends if not _by_another(one.fact, line)])
    others = next((one for one in ends if _by_another(one.fact, line)), None)
    if others is None or (own is not None and own.at_s < others.at_s):
        answer = _timed(event, happened, own, "ended the light")
        return _not_by_cue(answer) if own is not None and _at_cue(own.fact, line, targets_s) else answer
    answer = _timed(event, happened, own, 'said "light off" yourself', deaf_s)
    note = f"somebody else's word ended the light; {answer.note}"
    until_s = own.at_s if own is not None else others.at_s
    first = [what for at_s, what in line.controls if what in _GOING_ON and others.at_s < at_s < until_s]
    if first:
        note = f'{note}, and "{first[0].value.replace("_", " ")}" before that'
    return replace(answer, note=note, others_s=others.at_s, left=bool(first))


def _at_cue(fact: Fact, line: Timeline, targets_s: Mapping[str, float]) -> bool:
    """Whether the zone had its seconds when this ended the light: then the tool had said "light off" already."""
    if not isinstance(fact, LightTurnedOff) or fact.zone not in targets_s:
        return False
    runs = [one.fact for one in line.of(LightTurnedOff) if one.fact.zone == fact.zone]
    lit_s = sum(run.counted_to_s - run.counted_from_s for run in runs[: runs.index(fact) + 1])
    return lit_s >= targets_s[fact.zone]


def _not_by_cue(answer: _Answer) -> _Answer:
    """What the tool's cue ended is not credited; where both fell together, nobody can tell."""
    if answer.verdict is ReactionVerdict.RIGHT:
        note = f"{answer.note}, together with the cue, so nobody can tell"
        return replace(answer, verdict=ReactionVerdict.NOT_DUE, note=note)
    return replace(answer, verdict=ReactionVerdict.MISSED, note=f"{answer.note}; the cue ended the light")


def _by_another(fact: Fact, line: Timeline) -> bool:
    """Whether nobody said it, or a player did."""
    heard: object = getattr(fact, "heard", None)
    return not isinstance(heard, Utterance) or line.by_player(heard)


def _recorded(event: ScenarioEvent, happened: ScenarioEventHappened, line: Timeline) -> _Answer:
    """Whether what was shown was said: the first value that was confirmed counts, a later one is a correction."""
    last: TimedFact[Fact] | None = None
    wrong: list[str] = []
    wrong_seq: int | None = None
    put_right = False
    for place, value in event.shows.items():
        said = confirmed_at(place, line, since_s=happened.at_s)
        right = next((one for one in said if same_value(value_text(one.fact.value), value)), None)
        if not said:
            return _Answer(None, ReactionVerdict.MISSED, f"{place} was never recorded")
        if right is None:
            wrong.append(f"recorded {place} as {value_text(said[0].fact.value)}, it was {value}")
            wrong_seq = wrong_seq or said[0].seq
        else:
            put_right = put_right or right is not said[0]
            if last is None or right.at_s >= last.at_s:
                last = TimedFact(right.at_s, right.seq, right.fact, right.control)
    if wrong:
        return _Answer(None, ReactionVerdict.WRONG, "; ".join(wrong), wrong_seq)
    answer = _timed(event, happened, last, "recorded it")
    if put_right and answer.verdict is ReactionVerdict.RIGHT:
        return replace(
            answer, verdict=ReactionVerdict.LATE, note=f"{answer.note}, after another value had been confirmed"
        )
    return answer


def _settled(event: ScenarioEvent, happened: ScenarioEventHappened, line: Timeline, answer: _Answer) -> Reaction:
    """How the hold that followed was lifted."""
    plain = Reaction(
        event,
        happened.at_s,
        answer.seconds,
        answer.verdict,
        answer.note,
        seq=answer.seq,
        others_s=answer.others_s,
        left=answer.left,
    )
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
    return replace(
        plain,
        verdict=ReactionVerdict.WRONG if fault else answer.verdict,
        note=f"{answer.note}; {fault or f'settled: {told}'}",
        way=way,
        hold_seq=hold.seq,
        seq=(lifted or hold).seq if fault else answer.seq,
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
