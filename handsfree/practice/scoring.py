"""The score of a practice session: a pure fold of its record. The same record gives the same score.

What is dangerous fails the attempt whatever the points, because a checklist alone does not tell unsafe work from good
work; see `critical_errors`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from handsfree.model.commands import Control
from handsfree.model.facts import (
    CommandRefused,
    HelpGiven,
    LightTurnedOff,
    LightTurnedOn,
    PracticeAttempted,
    ReadBackDisputed,
    ReadingAmended,
    SaidAgain,
    StatusTold,
    StepEntered,
    UtteranceDoubted,
    UtteranceNotTaken,
)
from handsfree.model.light import ZoneStanding
from handsfree.model.readings import value_text
from handsfree.practice.critical_errors import CriticalError, critical_errors
from handsfree.practice.deciding import Decides
from handsfree.practice.event_kinds import Way
from handsfree.practice.points_form import LossRow, Points
from handsfree.practice.practice_plan import Planned, planned_in
from handsfree.practice.reactions import Reaction, ReactionVerdict, reactions
from handsfree.practice.recorded_values import (
    RecordedValue,
    ValueState,
    false_findings,
    recorded_values,
)
from handsfree.practice.stage_outcomes import StageOutcome, stage_outcomes
from handsfree.practice.timeline import Timeline, step_of, timeline
from handsfree.record.contents import Record

PHASES = ("before", "during", "after")
_PASSING = frozenset({Control.NEXT_STEP, Control.SKIP, Control.LIGHT_ON})
"""Commands that are refused where they would pass something."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A moment that won or cost points.

    Attributes:
        at_s: Session time.
        seq: Line of the record that shows it, or None where something is missing.
        why: What happened, in words.
    """

    at_s: float
    seq: int | None
    why: str


@dataclass(frozen=True, slots=True)
class ScoreItem:
    """A row of the score.

    Attributes:
        row: Row of the table of points.
        label: What it is about.
        got: Points got; below 0 where points are only lost.
        possible: Points that there were; 0 where points are only lost.
        note: Why not all.
        marks: The moments that decided it.
    """

    row: str
    label: str
    got: int
    possible: int
    note: str = ""
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True, slots=True)
class Phase:
    """Time spent in a phase.

    Attributes:
        phase: before, during or after.
        seconds: How long.
        most_s: Longest time by the scenario, or None.
    """

    phase: str
    seconds: float
    most_s: float | None


@dataclass(frozen=True, slots=True)
class Score:
    """What a practice session came to. It says nothing about a person, only about this attempt.

    Attributes:
        planned: What was to happen.
        table: Name and version of the table of points.
        passed: Whether nothing failed the attempt and the points reached the pass mark.
        faults: What fails it whatever the points.
        items: The points, row by row.
        reactions: What was answered to each event.
        phases: Time by phase.
        counts: How often help was needed, what was said again, disputed, corrected, not taken.
        pass_percent: The pass mark.
        gravity: How grave the gravest fault is, 0 where there is none; too few points with a record that is not true
            weigh as the table says.
        untrue: How many values stand on record that are not so.
    """

    planned: Planned
    table: str
    passed: bool
    faults: tuple[CriticalError, ...]
    items: tuple[ScoreItem, ...]
    reactions: tuple[Reaction, ...]
    phases: tuple[Phase, ...]
    counts: dict[str, int]
    pass_percent: int
    gravity: int
    untrue: int

    @property
    def got(self) -> int:
        """Points got, those lost taken off; not below 0."""
        return max(0, sum(item.got for item in self.items))

    @property
    def possible(self) -> int:
        """Points that there were."""
        return sum(item.possible for item in self.items)

    @property
    def percent(self) -> float:
        """Points got of those possible, in per cent with one decimal."""
        return round(100 * self.got / self.possible, 1) if self.possible else 0.0

    @property
    def too_few(self) -> bool:
        """Whether the points do not reach the pass mark."""
        return self.possible == 0 or 100 * self.got < self.pass_percent * self.possible

    @property
    def standing(self) -> tuple[bool, int, float, int]:
        """What sets attempts at one scenario in an order, the better one higher.

        Passed before failed; of failed ones the less grave, by the gravest fault; then more points, and where all that
        is level the truer record: help that was needed stands in none. How often a rule was broken does not count: the
        wrong side is one mistake, however many questions it answers.
        """
        return self.passed, -self.gravity, self.percent, -self.untrue


def score(record: Record, points: Points) -> Score:
    """Score a practice record.

    Raises:
        RecordError: It is no practice record, or was not made from a scenario.
    """
    planned = planned_in(record)
    line = timeline(record)
    found = reactions(record, planned, line, points.deaf_s.seconds)
    rightly_ended = any(one.way is Way.ENDED and one.verdict is not ReactionVerdict.WRONG for one in found)
    stages = stage_outcomes(planned, line)
    values = recorded_values(planned, line)
    faults = critical_errors(planned, line, found, stages, values, points, all_due=not rightly_ended)
    won = [
        *_zone_items(record, planned, line, points, all_due=not rightly_ended),
        *_reaction_items(found, points),
        _value_item(values, points),
    ]
    possible = sum(item.possible for item in won)
    items = [
        *won,
        _step_item(stages, line, points, possible, all_due=not rightly_ended),
        _false_item(planned, line, points, possible),
        _late_item(planned, line, points, possible),
        _pushing_item(line, points, possible),
        _prompt_item(line, points, possible),
    ]
    done = Score(
        planned=planned,
        table=f"{points.id} {points.version}",
        passed=False,
        faults=faults,
        items=tuple(items),
        reactions=found,
        phases=_phases(planned, line),
        counts=_counts(line),
        pass_percent=points.pass_percent,
        gravity=points.gravity.of(fault.rule for fault in faults),
        untrue=sum(one.state is ValueState.WRONG for one in values) + len(false_findings(planned, line)),
    )
    grave = points.gravity.rules.get("too_few_untrue", 0) if done.too_few and done.untrue else 0
    return replace(done, passed=not faults and not done.too_few, gravity=max(done.gravity, grave))


def _step_item(
    stages: tuple[StageOutcome, ...], line: Timeline, points: Points, possible: int, *, all_due: bool
) -> ScoreItem:
    """Steps that may be left out, and were. Doing them is worth nothing, as little as what the tool forces."""
    due = [one for one in stages if not one.hard and (all_due or one.state != "undone")]
    left = [one for one in due if one.state != "done"]
    entered = {one.fact.stage: one for one in reversed(line.of(StepEntered))}
    marks = [
        Mark(begun.at_s if begun else line.end_s, begun.seq if begun else None, f"{one.stage} {one.state}")
        for one in left
        for begun in [entered.get(one.stage)]
    ]
    return _lost("soft_step", "left out what may be left out", points.soft_step, marks, possible)


def _false_item(planned: Planned, line: Timeline, points: Points, possible: int) -> ScoreItem:
    marks = [
        Mark(one.at_s, one.seq, f"{one.fact.stage}.{one.fact.field}: {value_text(one.fact.value)}, nothing was there")
        for one in false_findings(planned, line)
    ]
    return _lost("false_finding", "found what was not there", points.false_finding, marks, possible)


def _late_item(planned: Planned, line: Timeline, points: Points, possible: int) -> ScoreItem:
    places = {step.step: number for number, step in enumerate(planned.steps)}
    marks: list[Mark] = []
    furthest = -1
    seen: set[str] = set()
    for one in line.of(StepEntered):
        # The other side of a step that was begun in time comes when its group has been through with the first.
        step = step_of(one.fact.stage)
        if step not in seen:
            seen.add(step)
            place = places.get(step, furthest)
            if place < furthest:
                marks.append(Mark(one.at_s, one.seq, f"{one.fact.stage} late"))
            furthest = max(furthest, place)
    return _lost("late_step", "steps out of order", points.late_step, marks, possible)


def _pushing_item(line: Timeline, points: Points, possible: int) -> ScoreItem:
    """Commands that were refused because they would have passed something."""
    marks = [
        Mark(one.at_s, one.seq, f"{one.control.value.replace('_', ' ')} refused at {one.fact.stage}")
        for one in line.facts
        if isinstance(one.fact, CommandRefused | PracticeAttempted) and one.control in _PASSING and one.control
    ]
    return _lost("pushing", "tried to pass something", points.pushing, marks, possible)


def _lost(row: str, label: str, loss: LossRow, marks: list[Mark], possible: int) -> ScoreItem:
    return ScoreItem(row, label, -loss.lost(len(marks), possible), 0, _told(marks), tuple(marks))


def _in_time(marks: list[Mark]) -> tuple[Mark, ...]:
    return tuple(sorted(marks, key=lambda mark: mark.at_s))


def _told(marks: list[Mark]) -> str:
    more = f" and {len(marks) - 5} more" if len(marks) > 5 else ""
    return "; ".join(mark.why for mark in marks[:5]) + more


def _zone_items(
    record: Record, planned: Planned, line: Timeline, points: Points, *, all_due: bool
) -> Iterator[ScoreItem]:
    lit = {one.fact.zone for one in line.of(LightTurnedOn)}
    ends = {one.fact.zone: one for one in line.of(LightTurnedOff)}
    row = points.zone
    if all(step.zones is None for step in planned.steps):
        return
    for total in record.zones:
        zone, seconds, target_s = total.zone, total.lit_s, total.target_s
        if not target_s or (not all_due and zone not in lit):
            continue
        told = f"{seconds:.1f} of {target_s:g} s"
        got = row.points
        if total.standing is ZoneStanding.SHORT:
            got, told = 0, f"under: {told}"
        elif seconds >= max(target_s * row.over_factor, target_s + row.over_s):
            got, told = row.over, f"over: {told}"
        end = ends.get(zone)
        marks = (Mark(end.at_s, end.seq, told),) if end is not None else ()
        yield ScoreItem("zone", f"zone {zone}", got, row.points, told, marks)


def _reaction_items(found: tuple[Reaction, ...], points: Points) -> Iterator[ScoreItem]:
    row = points.reaction
    for one in found:
        if one.verdict is ReactionVerdict.NOT_DUE:
            continue
        worth = row.points if one.event.worth is None else one.event.worth
        late = round(worth * row.late / row.points) if row.points else 0
        got = {ReactionVerdict.RIGHT: worth, ReactionVerdict.LATE: late}.get(one.verdict, 0)
        mark = Mark(one.at_s, one.seq, one.note)
        yield ScoreItem("reaction", f"answer to {one.event.id}", got, worth, one.note, (mark,))


def _value_item(values: tuple[RecordedValue, ...], points: Points) -> ScoreItem:
    """Values of the case against the truth, each for what it decides."""
    row = points.value
    got = possible = 0
    marks: list[Mark] = []
    for one in values:
        worth = row.flagged if one.decides is Decides.FLAG else row.points
        possible += worth
        got += {ValueState.RIGHT: worth, ValueState.CORRECTED: min(worth, row.corrected)}.get(one.state, 0)
        if one.words:
            marks.append(Mark(one.at_s, one.seq, one.words))
    return ScoreItem("value", "values on record as they were", got, possible, _told(marks), _in_time(marks))


def _prompt_item(line: Timeline, points: Points, possible: int) -> ScoreItem:
    row = points.prompts
    marks = [
        Mark(one.at_s, one.seq, "said again" if isinstance(one.fact, SaidAgain) else "help")
        for one in line.of(SaidAgain, HelpGiven)
    ]
    item = _lost("prompts", "prompts needed", row, marks, possible)
    return replace(item, note=f"{len(marks)} needed, {row.free} are free")


def _counts(line: Timeline) -> dict[str, int]:
    return {
        "said again": len(line.of(SaidAgain)),
        "help": len(line.of(HelpGiven)),
        "status asked": len(line.of(StatusTold)),
        "refused": len(line.of(CommandRefused)),
        "read-backs disputed": len(line.of(ReadBackDisputed)),
        "values corrected": sum(one.fact.why == "corrected" for one in line.of(ReadingAmended)),
        "not understood": len(line.of(UtteranceNotTaken)),
        "asked about": len(line.of(UtteranceDoubted)),
    }


def _phases(planned: Planned, line: Timeline) -> tuple[Phase, ...]:
    seconds: dict[str, float] = dict.fromkeys(PHASES, 0.0)
    for step, from_s, to_s in line.steps:
        seconds[step.phase] += to_s - from_s
    most = {str(name): limit for name, limit in planned.phase_s.items()}
    return tuple(Phase(name, round(seconds[name], 1), most.get(name)) for name in PHASES)
