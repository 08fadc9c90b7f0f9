"""What became of every stage that a visit had. Pure."""

from dataclasses import dataclass

from handsfree.model.facts import (
    ItemTaught,
    ReadingAmended,
    ReadingConfirmed,
    RepeatEnded,
    RepeatReopened,
    StageExposed,
    StepConfirmed,
    StepEntered,
    StepOverridden,
    StepSkipped,
    StepTold,
)
from handsfree.practice.computed_truth import SIDES
from handsfree.practice.practice_plan import Planned, PlannedStep
from handsfree.practice.timeline import Timeline, number_of


@dataclass(frozen=True, slots=True)
class StageOutcome:
    """What became of a stage.

    Attributes:
        stage: Its name, with the side or the number where it has one.
        hard: Whether it may not be left out.
        state: "done", "skipped" (also where "that was the last" came too early), or "undone".
    """

    stage: str
    hard: bool
    state: str


def _stages(step: PlannedStep) -> list[str]:
    """The stages of a step that are due; of one that is repeated as often as the scenario says."""
    if step.times:
        return [f"{step.step}@{number}" for number in range(1, step.times + 1)]
    return [f"{step.step}@{side}" for side in SIDES] if step.sides else [step.step]


def stage_outcomes(planned: Planned, line: Timeline) -> tuple[StageOutcome, ...]:
    """Every stage that this visit had, with what became of it."""
    answered: dict[str, set[str]] = {}
    taught: dict[str, int] = {}
    ended: dict[str, int] = {}
    state: dict[str, str] = {}
    for one in line.facts:
        match one.fact:
            case ReadingConfirmed(stage=stage, field=field) | ReadingAmended(stage=stage, field=field):
                answered.setdefault(stage, set()).add(field)
            case ItemTaught(stage=stage):
                taught[stage] = taught.get(stage, 0) + 1
            case (
                StepConfirmed(stage=stage)
                | StepTold(stage=stage)
                | StageExposed(stage=stage)
                | StepOverridden(stage=stage)
            ):
                state[stage] = "done"
            case StepSkipped(stage=stage):
                state[stage] = "skipped"
            case RepeatEnded(step=step_id, count=count):
                ended[step_id] = count
            case RepeatReopened(step=step_id):
                ended.pop(step_id, None)
            case StepEntered(stage=stage):
                state.setdefault(stage, "undone")
    found = []
    for step in planned.steps:
        # Nobody does what is computed: it follows from steps that count by themselves.
        for name in _stages(step) if step.kind != "compute" else ():
            now = state.get(name, "undone")
            if number_of(name) > ended.get(step.step, step.times):
                now = "skipped"
            whole = bool(step.fields) and set(step.fields) <= answered.get(name, set())
            if whole or (step.items and taught.get(name, 0) >= step.items):
                now = "done"
            if step.conditional and name not in state:
                continue
            found.append(StageOutcome(name, step.hard, now))
    return tuple(found)
