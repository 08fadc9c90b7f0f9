"""What became of every stage that a visit had. Pure."""

from dataclasses import dataclass

from handsfree.practice.practice_plan import Planned
from handsfree.practice.timeline import TimelineMoment

READ = frozenset({"reading_confirmed", "reading_amended"})
"""Facts that put a value on record."""
_DONE = frozenset({"step_confirmed", "step_told", "stage_exposed", "step_overridden"})


@dataclass(frozen=True, slots=True)
class StageOutcome:
    """A stage.

    Attributes:
        stage: Its name, with the side where it has one.
        hard: Whether it may not be left out.
        state: "done", "skipped" or "undone".
    """

    stage: str
    hard: bool
    state: str


def stage_outcomes(planned: Planned, line: TimelineMoment) -> tuple[StageOutcome, ...]:
    """Every stage that this visit had, with what became of it."""
    answered: dict[str, set[str]] = {}
    taught: dict[str, int] = {}
    state: dict[str, str] = {}
    for one in line.stated:
        stage = one.text("stage")
        if one.kind in READ:
            answered.setdefault(stage, set()).add(one.text("field"))
        elif one.kind == "item_taught":
            taught[stage] = taught.get(stage, 0) + 1
        elif one.kind in _DONE:
            state[stage] = "done"
        elif one.kind == "step_skipped":
            state[stage] = "skipped"
        elif one.kind == "step_entered":
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
