"""What became of every stage that a visit had. Pure."""

from dataclasses import dataclass

from handsfree.model.facts import (
    ItemTaught,
    ReadingAmended,
    ReadingConfirmed,
    StageExposed,
    StepConfirmed,
    StepEntered,
    StepOverridden,
    StepSkipped,
    StepTold,
)
from handsfree.practice.practice_plan import Planned
from handsfree.practice.timeline import Timeline


@dataclass(frozen=True, slots=True)
class StageOutcome:
    """What became of a stage.

    Attributes:
        stage: Its name, with the side where it has one.
        hard: Whether it may not be left out.
        state: "done", "skipped" or "undone".
    """

    stage: str
    hard: bool
    state: str


def stage_outcomes(planned: Planned, line: Timeline) -> tuple[StageOutcome, ...]:
    """Every stage that this visit had, with what became of it."""
    answered: dict[str, set[str]] = {}
    taught: dict[str, int] = {}
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
            case StepEntered(stage=stage):
                state.setdefault(stage, "undone")
    found = []
    for step in planned.steps:
        names = [f"{step.step}@left", f"{step.step}@right"] if step.sides else [step.step]
        for name in names:
            now = state.get(name, "undone")
            whole = bool(step.fields) and set(step.fields) <= answered.get(name, set())
            if whole or (step.items and taught.get(name, 0) >= step.items):
                now = "done"
            if step.conditional and name not in state:
                continue
            found.append(StageOutcome(name, step.hard, now))
    return tuple(found)
