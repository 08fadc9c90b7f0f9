"""What a later correction makes of the conditions of steps: which should have been done, and which should not count."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from handsfree.definition.plan import Plan
from handsfree.model.facts import (
    AnyFact,
    ItemTaught,
    StageExposed,
    StatedReading,
    StepConfirmed,
    StepOverridden,
    StepSkipped,
    StepTold,
)
from handsfree.record.contents import Record, TurnedStep
from handsfree.session.conditions import Truth, truth_of
from handsfree.session.state import TakenValue

_DONE = (ItemTaught, StageExposed, StepConfirmed, StepOverridden, StepSkipped, StepTold)


@dataclass
class _Answered:
    """What conditions are held against: answers by step and field, and the steps that are done."""

    answers: dict[str, dict[str, TakenValue]]
    done: set[str]


def turned_steps(
    plan: Plan, record: Record, before: Mapping[int, StatedReading], after: Mapping[int, StatedReading]
) -> tuple[TurnedStep, ...]:
    """The steps whose condition fell out otherwise in the visit than it does by the values as they are amended.

    Args:
        plan: The plan of the procedure.
        record: The record.
        before: The readings that stand, as the visit had them, by their line.
        after: The same as they are now.
    """
    done = {step for one in record.facts for step in _done(one.fact)}
    answered = {one.step for one in before.values()}
    was, is_now = (_parts(plan, readings, done) for readings in (before, after))
    names = [(step.id, plan.names.stage(step.id)) for step in plan.procedure.steps if step.when is not None]
    return tuple(
        TurnedStep(step=step, name=name, wanted=step in is_now)
        for step, name in names
        if (step in is_now) != (step in was) and (step in is_now or step in answered | done)
    )


def _done(fact: AnyFact) -> Iterator[str]:
    if isinstance(fact, _DONE):
        yield fact.stage.partition("@")[0]


def _parts(plan: Plan, readings: Mapping[int, StatedReading], done: set[str]) -> set[str]:
    """The steps with a condition that are part of the visit by these readings, in the order of the file."""
    known = _Answered({}, set(done))
    for one in readings.values():
        # A condition is on a step that is done once: its stage has no side and no number.
        known.answers.setdefault(one.stage, {})[one.field] = TakenValue(one.value, one.heard)
    found: set[str] = set()
    for step in plan.procedure.steps:
        if step.when is None:
            continue
        if truth_of(step.when, known) in {Truth.HOLDS, Truth.UNDECIDED}:
            found.add(step.id)
        else:
            known.answers.pop(step.id, None)
            known.done.discard(step.id)
    return found
