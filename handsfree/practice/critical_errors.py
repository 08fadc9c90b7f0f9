"""What fails an attempt whatever its points. Pure.

The session itself refuses to pass what must not be passed; so what counts is that somebody tried.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from handsfree.model.commands import Control
from handsfree.model.facts import (
    CommandRefused,
    CorrectionOpened,
    HoldLifted,
    HoldSet,
    PracticeAttempted,
    ReadingConfirmed,
    StageExposed,
    StepConfirmed,
    StepEntered,
    StepOverridden,
    StepReviewed,
    StepTold,
    StrapRemoved,
    StrapReplaced,
)
from handsfree.model.reasons import Grounds
from handsfree.practice.deciding import Decides
from handsfree.practice.event_kinds import Action
from handsfree.practice.points_form import Points
from handsfree.practice.practice_plan import Planned
from handsfree.practice.reactions import Reaction, ReactionVerdict
from handsfree.practice.recorded_values import RecordedValue, ValueState, results_left_out
from handsfree.practice.stage_outcomes import StageOutcome
from handsfree.practice.timeline import TimedFact, Timeline, step_of
from handsfree.session.prompts.reason_words import reason_words


@dataclass(frozen=True, slots=True)
class CriticalError:
    """Something that fails the attempt whatever the points.

    Attributes:
        rule: Its name.
        at_s: Session time.
        text: What happened, in one line.
        seq: Line of the record that shows it, or None where something is missing.
    """

    rule: str
    at_s: float
    text: str
    seq: int | None = None


def critical_errors(
    planned: Planned,
    line: Timeline,
    found: tuple[Reaction, ...],
    stages: tuple[StageOutcome, ...],
    values: tuple[RecordedValue, ...],
    points: Points,
    *,
    all_due: bool,
) -> tuple[CriticalError, ...]:
    """Every fault, in the order of time.

    Args:
        planned: What was to happen.
        line: The record.
        found: Answers to events.
        stages: What became of every stage.
        values: What stands on record against what was true.
        points: The table, for the shortest look and for how often is a pattern.
        all_due: False where the visit was rightly ended early.
    """
    faults = [
        *_attempts(planned, line),
        *_pushing(line, points),
        *_missed(found),
        *_wrong_values(values),
        *_left_out(planned, line, values),
        *_too_soon(found, line, points),
    ]
    faults += _undone(stages, line, all_due=all_due)
    return tuple(sorted(faults, key=lambda fault: fault.at_s))


def _attempts(planned: Planned, line: Timeline) -> Iterator[CriticalError]:
    """Refused commands that tried to pass what must not be passed."""
    steps = {step.step: step for step in planned.steps}
    done: set[str] = set()
    place, strap_on = "", True
    held: Grounds | None = None
    for one in line.facts:
        match one.fact:
            case StepEntered(stage=stage) | CorrectionOpened(stage=stage) | StepReviewed(stage=stage):
                place = step_of(stage)
            case StrapRemoved():
                strap_on = False
            case StrapReplaced():
                strap_on = True
            case HoldSet(grounds=grounds):
                held = grounds
            case HoldLifted():
                held = None
            case (
                ReadingConfirmed(stage=stage)
                | StepConfirmed(stage=stage)
                | StageExposed(stage=stage)
                | StepTold(stage=stage)
                | StepOverridden(stage=stage)
            ):
                done.add(step_of(stage))
            case CommandRefused() | PracticeAttempted() if place in steps:
                step = steps[place]
                if one.control is Control.SKIP and step.hard:
                    yield CriticalError("skip_asked", one.at_s, f"wanted to skip {place}", one.seq)
                elif one.control is Control.LIGHT_ON and held is not None:
                    why = reason_words(held)
                    yield CriticalError("light_while_held", one.at_s, f"wanted the light on while held: {why}", one.seq)
                elif one.control is Control.LIGHT_ON:
                    for fault in _light_too_early(planned, place, done, one.at_s, strap_on=strap_on):
                        yield replace(fault, seq=one.seq)


def _light_too_early(
    planned: Planned, place: str, done: set[str], at_s: float, *, strap_on: bool
) -> Iterator[CriticalError]:
    exposing = next((step for step in planned.steps if step.step == place and step.zones is not None), None)
    ahead = exposing or next((step for step in planned.steps if step.zones is not None and step.step not in done), None)
    owed = [name for name in (ahead.requires if ahead is not None else ()) if name not in done]
    if owed:
        more = f" and {len(owed) - 3} more" if len(owed) > 3 else ""
        yield CriticalError("light_early", at_s, f"wanted the light on at {place}, before {', '.join(owed[-3:])}{more}")
    elif exposing is not None and exposing.zones == "strap" and strap_on:
        yield CriticalError("light_in_shadow", at_s, "wanted the light on over the strap zone with the strap on")


def _pushing(line: Timeline, points: Points) -> Iterator[CriticalError]:
    """One refused "next step" costs points; a pattern of them is trying what the tool lets pass."""
    pushed = refused_pushes(line)
    if len(pushed) >= points.pushing.pattern:
        last = pushed[points.pushing.pattern - 1]
        text = f'said "next step" {len(pushed)} times without an answer'
        yield CriticalError("kept_pushing", last.at_s, text, last.seq)


def refused_pushes(line: Timeline) -> tuple[TimedFact[CommandRefused], ...]:
    """Every "next step" that was refused."""
    return tuple(one for one in line.of(CommandRefused) if one.control is Control.NEXT_STEP)


def _missed(found: tuple[Reaction, ...]) -> Iterator[CriticalError]:
    for one in found:
        # Where somebody else's word had ended the light on record, a later own one costs points; it lit nobody longer.
        late_light = (
            one.verdict is ReactionVerdict.LATE and Action.LIGHT_OFF in one.event.answer and one.others_s is None
        )
        if one.event.hard and (one.verdict in {ReactionVerdict.MISSED, ReactionVerdict.WRONG} or late_light):
            yield CriticalError(f"event_{one.verdict}", one.at_s, f"{one.event.id}: {one.note}", one.seq)
        elif one.event.hard and one.left:
            yield CriticalError("left_to_others", one.at_s, f"{one.event.id}: {one.note}", one.seq)


_FAILING = {Decides.SIDE: "wrong_side", Decides.IDENTITY: "wrong_identity", Decides.STOP: "finding_missed"}
"""What a wrong value breaks, by what the true one decides."""


def _wrong_values(values: tuple[RecordedValue, ...]) -> Iterator[CriticalError]:
    for one in values:
        if one.state is ValueState.WRONG and one.decides in _FAILING:
            yield CriticalError(_FAILING[one.decides], one.at_s, one.words, one.seq)


def _left_out(planned: Planned, line: Timeline, values: tuple[RecordedValue, ...]) -> Iterator[CriticalError]:
    """Results that stop the work, and did not, because not all was measured that they are computed from."""
    for result in results_left_out(planned, line, values):
        yield CriticalError("finding_missed", result.at_s, f"not all was measured, so {result.words}", result.seq)


def _too_soon(found: tuple[Reaction, ...], line: Timeline, points: Points) -> Iterator[CriticalError]:
    """Red holds that no event of the scenario set, and that were overridden before anybody could have looked."""
    judged = {one.hold_seq for one in found if one.hold_seq is not None}
    red: TimedFact[HoldSet] | None = None
    for one in line.of(HoldSet, HoldLifted):
        if isinstance(one.fact, HoldSet):
            if one.fact.hold == "red" and red is None:
                red = TimedFact(one.at_s, one.seq, one.fact, one.control)
        elif red is not None:
            # Another answer lifts it without a role: that is no override, however soon.
            seconds = line.asked_before(Control.OVERRIDE, one.at_s) - red.at_s
            overridden = isinstance(one.fact, HoldLifted) and one.fact.role is not None
            if overridden and red.seq not in judged and seconds < points.least_look_s.seconds:
                why = reason_words(red.fact.grounds)
                yield CriticalError("settled_too_soon", one.at_s, f"overrode after {seconds:.1f} s: {why}", one.seq)
            red = None


def _undone(stages: tuple[StageOutcome, ...], line: Timeline, *, all_due: bool) -> Iterator[CriticalError]:
    """Required steps that are missing; after a visit that was rightly ended, those alone that were passed over."""
    missing = [
        one.stage for one in stages if one.hard and (one.state == "skipped" or (all_due and one.state != "done"))
    ]
    if missing:
        rest = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
        yield CriticalError("hard_undone", line.end_s, f"ended without {', '.join(missing[:3])}{rest}")
