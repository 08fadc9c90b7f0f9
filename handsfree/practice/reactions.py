"""What was answered to each event of a scenario, and in how many seconds. Pure."""

from dataclasses import dataclass
from enum import StrEnum

from handsfree.model.commands import Control
from handsfree.practice.practice_plan import EventInjected, Planned, happened_in
from handsfree.practice.scenario import Action, ScenarioEvent, Way
from handsfree.practice.timeline import Stated, TimelineMoment, same_value
from handsfree.record.contents import Record

_WORK = ("reading_confirmed", "step_confirmed", "item_taught", "light_turned_on", "step_told")
_READ = ("reading_confirmed", "reading_amended")


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
        way: How a latch that followed was settled, or None.
        latch_line: TimelineMoment of that latch, or None.
    """

    event: ScenarioEvent
    at_s: float
    seconds: float | None
    verdict: ReactionVerdict
    note: str
    way: Way | None = None
    latch_line: int | None = None


@dataclass(frozen=True, slots=True)
class _Answer:
    seconds: float | None
    verdict: ReactionVerdict
    note: str


def reactions(record: Record, planned: Planned, line: TimelineMoment) -> tuple[Reaction, ...]:
    """What was answered to every event that took place, in the order of the scenario."""
    took_place: dict[str, EventInjected] = {}
    for one in happened_in(record):
        took_place.setdefault(one.event, one)
    found = []
    for event in planned.events:
        happened = took_place.get(event.id)
        if happened is not None:
            found.append(_reaction(event, happened, line))
    return tuple(found)


def _reaction(event: ScenarioEvent, happened: EventInjected, line: TimelineMoment) -> Reaction:
    match event.answer:
        case Action.RECORD:
            answer = _recorded(event, happened, line)
        case Action.LIGHT_OFF:
            answer = _darkened(event, happened, line)
        case Action.PAUSE:
            answer = _first(event, happened, line, ("session_paused", "stop_word_heard"), "said wait")
        case Action.GO_ON:
            answer = _first(event, happened, line, _WORK, "went on")
    return _settled(event, happened, line, answer)


def _first(
    event: ScenarioEvent, happened: EventInjected, line: TimelineMoment, kinds: tuple[str, ...], what: str
) -> _Answer:
    later = [
        one
        for one in line.of(*kinds, since_s=happened.at_s)
        if one.kind != "stop_word_heard" or one.text("word") == Control.STOP
    ]
    return _timed(event, happened, later[0] if later else None, what)


def _timed(event: ScenarioEvent, happened: EventInjected, answer: Stated | None, what: str) -> _Answer:
    if answer is None:
        return _Answer(None, ReactionVerdict.MISSED, f"never {what}")
    seconds = round(max(0.0, answer.at_s - happened.to_s), 1)
    if seconds > event.within_s:
        return _Answer(
            seconds, ReactionVerdict.LATE, f"{what} after {seconds:.1f} s, {event.within_s:g} s were allowed"
        )
    return _Answer(seconds, ReactionVerdict.RIGHT, f"{what} after {seconds:.1f} s")


def _darkened(event: ScenarioEvent, happened: EventInjected, line: TimelineMoment) -> _Answer:
    lit = False
    for one in line.stated:
        if one.at_s > happened.at_s:
            break
        if one.kind in {"light_turned_on", "light_turned_off"}:
            lit = one.kind == "light_turned_on"
    if not lit:
        return _Answer(None, ReactionVerdict.NOT_DUE, "the light was off")
    off = line.of("light_turned_off", since_s=happened.at_s)
    return _timed(event, happened, off[0] if off else None, "ended the light")


def _recorded(event: ScenarioEvent, happened: EventInjected, line: TimelineMoment) -> _Answer:
    """Whether what was shown was said: the first value that was confirmed counts, a later one is a correction."""
    last: Stated | None = None
    wrong: list[str] = []
    put_right = False
    for place, value in event.shows.items():
        stage, _, field = place.partition(".")
        said = [
            one
            for one in line.of(*_READ, since_s=happened.at_s)
            if stage in {one.text("stage"), one.text("step")} and one.text("field") == field
        ]
        right = next((one for one in said if same_value(one.text("value"), value)), None)
        if not said:
            return _Answer(None, ReactionVerdict.MISSED, f"{place} was never recorded")
        if right is None:
            wrong.append(f"recorded {place} as {said[0].text('value')}, it was {value}")
        else:
            put_right = put_right or right is not said[0]
            last = right if last is None or right.at_s > last.at_s else last
    if wrong:
        return _Answer(None, ReactionVerdict.WRONG, "; ".join(wrong))
    answer = _timed(event, happened, last, "recorded it")
    if put_right and answer.verdict is ReactionVerdict.RIGHT:
        return _Answer(answer.seconds, ReactionVerdict.LATE, f"{answer.note}, after another value had been confirmed")
    return answer


def _settled(event: ScenarioEvent, happened: EventInjected, line: TimelineMoment, answer: _Answer) -> Reaction:
    """How the latch that followed was lifted."""
    plain = Reaction(event, happened.at_s, answer.seconds, answer.verdict, answer.note)
    if event.settle is None or answer.verdict in {
        ReactionVerdict.MISSED,
        ReactionVerdict.WRONG,
        ReactionVerdict.NOT_DUE,
    }:
        return plain
    latch = next(iter(line.of("latch_set", since_s=happened.at_s)), None)
    if latch is None:
        return plain
    after = [one for one in line.stated if one.fact.seq > latch.fact.seq]
    lifted = next(
        (one for one in after if one.kind == "latch_lifted" and one.text("set_for") == latch.text("reason")), None
    )
    ended = next((one for one in after if one.kind == "session_stopped"), None)
    if lifted is None and ended is None:
        way, fault = None, "never settled it"
    elif lifted is None:
        way, fault = Way.ENDED, ""
    elif not lifted.text("role"):
        way, fault = Way.ANSWERED_AGAIN, ""
    else:
        way, fault = Way.OVERRIDDEN, _override_fault(event, latch, lifted, line)
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
        latch_line=latch.fact.seq,
    )


def _override_fault(event: ScenarioEvent, latch: Stated, lifted: Stated, line: TimelineMoment) -> str:
    rule = event.settle
    if rule is None:
        return ""
    seconds = line.asked_before(Control.OVERRIDE, lifted.at_s) - latch.at_s
    if seconds < rule.look_s:
        return f"overrode after {seconds:.1f} s, nobody looks in less than {rule.look_s:g} s"
    if lifted.text("reason") not in rule.reasons:
        return f"overrode for the reason {lifted.text('reason')}, which does not fit"
    if rule.roles and lifted.text("role") not in rule.roles:
        return f"overrode as {lifted.text('role')}, which is not the role for it"
    return ""
