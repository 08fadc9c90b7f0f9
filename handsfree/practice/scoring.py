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
    LightTurnedOn,
    PracticeAttempted,
    ReadBackDisputed,
    ReadingAmended,
    ReadingConfirmed,
    SaidAgain,
    StatusTold,
    StepEntered,
    UtteranceDoubted,
    UtteranceNotTaken,
)
from handsfree.model.light import ZoneStanding
from handsfree.model.readings import value_text
from handsfree.practice.critical_errors import CriticalError, critical_errors
from handsfree.practice.points_form import Points
from handsfree.practice.practice_plan import Planned, planned_in
from handsfree.practice.reactions import Reaction, ReactionVerdict, reactions
from handsfree.practice.scenario import Way
from handsfree.practice.stage_outcomes import StageOutcome, stage_outcomes
from handsfree.practice.timeline import Timeline, confirmed_at, same_value, step_of, timeline
from handsfree.record.contents import Record

PHASES = ("before", "during", "after")
_PASSING = frozenset({Control.NEXT_STEP, Control.SKIP, Control.LIGHT_ON})
"""Commands that are refused where they would pass something."""


@dataclass(frozen=True, slots=True)
class ScoreItem:
    """A row of the score.

    Attributes:
        row: Row of the table of points.
        label: What it is about.
        got: Points got.
        possible: Points that there were.
        note: Why not all.
    """

    row: str
    label: str
    got: int
    possible: int
    note: str = ""


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

    @property
    def got(self) -> int:
        """Points got."""
        return sum(item.got for item in self.items)

    @property
    def possible(self) -> int:
        """Points that there were."""
        return sum(item.possible for item in self.items)

    @property
    def percent(self) -> float:
        """Points got of those possible, in per cent with one decimal."""
        return round(100 * self.got / self.possible, 1) if self.possible else 0.0


def score(record: Record, points: Points) -> Score:
    """Score a practice record.

    Raises:
        RecordError: It is no practice record, or was not made from a scenario.
    """
    planned = planned_in(record)
    line = timeline(record)
    found = reactions(record, planned, line)
    rightly_ended = any(one.way is Way.ENDED and one.verdict is not ReactionVerdict.WRONG for one in found)
    stages = stage_outcomes(planned, line)
    faults = critical_errors(planned, line, found, stages, points, all_due=not rightly_ended)
    items = [
        *_step_items(stages, points, all_due=not rightly_ended),
        _order_item(planned, line, points),
        *_zone_items(record, planned, line, points, all_due=not rightly_ended),
        *_reaction_items(found, points),
        _value_item(planned, line, points),
        _prompt_item(line, points),
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
    )
    passed = not faults and done.possible > 0 and 100 * done.got >= points.pass_percent * done.possible
    return replace(done, passed=passed)


def _step_items(stages: tuple[StageOutcome, ...], points: Points, *, all_due: bool) -> Iterator[ScoreItem]:
    for row, worth, hard in (("hard_step", points.hard_step, True), ("soft_step", points.soft_step, False)):
        due = [one for one in stages if one.hard is hard and (all_due or one.state != "undone")]
        left = [f"{one.stage} {one.state}" for one in due if one.state != "done"]
        label = f"{'required' if hard else 'other'} steps done"
        got = (len(due) - len(left)) * worth.points
        yield ScoreItem(row, label, got, len(due) * worth.points, "; ".join(left[:5]))


def _order_item(planned: Planned, line: Timeline, points: Points) -> ScoreItem:
    places = {step.step: number for number, step in enumerate(planned.steps)}
    faults: list[str] = []
    furthest = -1
    seen: set[str] = set()
    for one in line.facts:
        match one.fact:
            # The other side of a step that was begun in time comes when its group has been through with the first.
            case StepEntered(stage=stage) if step_of(stage) not in seen:
                seen.add(step_of(stage))
                place = places.get(step_of(stage), furthest)
                if place < furthest:
                    faults.append(f"{stage} late")
                furthest = max(furthest, place)
            case CommandRefused(stage=stage) | PracticeAttempted(stage=stage) if one.control in _PASSING:
                faults.append(f"{one.control.value.replace('_', ' ')} refused at {stage}")
    return _deducted("order", "order kept", points.order.points, points.order.each * len(faults), faults)


def _deducted(row: str, label: str, possible: int, lost: int, notes: list[str]) -> ScoreItem:
    more = f" and {len(notes) - 5} more" if len(notes) > 5 else ""
    return ScoreItem(row, label, max(0, possible - lost), possible, "; ".join(notes[:5]) + more)


def _zone_items(
    record: Record, planned: Planned, line: Timeline, points: Points, *, all_due: bool
) -> Iterator[ScoreItem]:
    lit = {one.fact.zone for one in line.of(LightTurnedOn)}
    row = points.zone
    if all(step.zones is None for step in planned.steps):
        return
    for total in record.zones:
        zone, seconds, target_s = total.zone, total.lit_s, total.target_s
        if not target_s or (not all_due and zone not in lit):
            continue
        told = f"{seconds:.1f} of {target_s:g} s"
        if total.standing is ZoneStanding.SHORT:
            yield ScoreItem("zone", f"zone {zone}", 0, row.points, f"under: {told}")
        elif seconds >= max(target_s * row.over_factor, target_s + row.over_s):
            yield ScoreItem("zone", f"zone {zone}", row.over, row.points, f"over: {told}")
        else:
            yield ScoreItem("zone", f"zone {zone}", row.points, row.points, told)


def _reaction_items(found: tuple[Reaction, ...], points: Points) -> Iterator[ScoreItem]:
    row = points.reaction
    for one in found:
        if one.verdict is not ReactionVerdict.NOT_DUE:
            got = {ReactionVerdict.RIGHT: row.points, ReactionVerdict.LATE: row.late}.get(one.verdict, 0)
            yield ScoreItem("reaction", f"answer to {one.event.id}", got, row.points, one.note)


def _value_item(planned: Planned, line: Timeline, points: Points) -> ScoreItem:
    """Values of the case that were confirmed otherwise."""
    elsewhere = {place for event in planned.events for place in (*event.shows, *event.remedy)}
    wrong, corrected, lost = [], 0, 0
    for place, value in planned.case.items():
        if place in elsewhere:
            continue
        field = place.partition(".")[2]
        by_stage: dict[str, list[str]] = {}
        for one in confirmed_at(place, line):
            values = by_stage.setdefault(one.fact.stage, [])
            if _taken_again(one.fact):
                values.clear()
            values.append(value_text(one.fact.value))
        for where, values in by_stage.items():
            if not same_value(values[-1], value):
                wrong.append(f"{where}.{field}: {values[-1]} instead of {value}")
                lost += points.read_back.wrong
            elif len(values) > 1 and not all(same_value(one, value) for one in values):
                corrected += 1
                wrong.append(f"{where}.{field} put right later")
                lost += points.read_back.corrected
    return _deducted("read_back", "values right on record", points.read_back.points, lost, wrong)


def _prompt_item(line: Timeline, points: Points) -> ScoreItem:
    counts = _counts(line)
    needed = counts["said again"] + counts["help"]
    lost = max(0, needed - points.prompts.free) * points.prompts.each
    return _deducted("prompts", "prompts needed", points.prompts.points, lost, [f"{needed} needed"])


def _taken_again(fact: ReadingConfirmed | ReadingAmended) -> bool:
    """Whether the procedure asked for the value once more; that is no correction."""
    return isinstance(fact, ReadingAmended) and fact.why == "repeated"


def _counts(line: Timeline) -> dict[str, int]:
    return {
        "said again": len(line.of(SaidAgain)),
        "help": len(line.of(HelpGiven)),
        "status asked": len(line.of(StatusTold)),
        "refused": len(line.of(CommandRefused)),
        "read-backs disputed": len(line.of(ReadBackDisputed)),
        "values corrected": sum(not _taken_again(one.fact) for one in line.of(ReadingAmended)),
        "not understood": len(line.of(UtteranceNotTaken)),
        "asked about": len(line.of(UtteranceDoubted)),
    }


def _phases(planned: Planned, line: Timeline) -> tuple[Phase, ...]:
    seconds: dict[str, float] = dict.fromkeys(PHASES, 0.0)
    for step, from_s, to_s in line.steps:
        seconds[step.phase] += to_s - from_s
    most = {str(name): limit for name, limit in planned.phase_s.items()}
    return tuple(Phase(name, round(seconds[name], 1), most.get(name)) for name in PHASES)
