"""Steps that may be gone to by name: back to what is done, and on to what its phase still wants."""

from collections import Counter

from handsfree.definition.plan import Plan, Stage
from handsfree.model.commands import OptionPhrases, OptionSlot
from handsfree.session.stages import applies, is_computed, owed_before
from handsfree.session.state import SessionState

PLACE_SLOT = "go-to"
"""No field of a file can have this name."""
_WHEN = ("before", "mid", "after")
"""Endings of names that are left out where the rest names one step alone."""


def places(plan: Plan, state: SessionState) -> OptionSlot | None:
    """Names of the steps that may be gone to from here; None where there are none."""
    here = plan.stage(state.place)
    steps = dict.fromkeys(stage.step.id for stage in plan.stages if _may_go(plan, stage, here, state))
    if not steps:
        return None
    short = {step: " ".join(part for part in step.split("_") if part not in _WHEN) for step in steps}
    counted = Counter(short.values())
    return OptionSlot(
        PLACE_SLOT,
        (),
        tuple(
            OptionPhrases(
                step, tuple(dict.fromkeys([step.replace("_", " "), *([name] if name and counted[name] == 1 else [])]))
            )
            for step, name in short.items()
        ),
        allow_absent=False,
    )


def stage_named(plan: Plan, step_id: str, state: SessionState) -> Stage | None:
    """The stage that is gone to: of a step for both sides, the first that may be and is not done, else the first."""
    here = plan.stage(state.place)
    found = [stage for stage in plan.stages if stage.step.id == step_id and _may_go(plan, stage, here, state)]
    return next((stage for stage in found if stage.id not in state.done), found[0] if found else None)


def _may_go(plan: Plan, stage: Stage, here: Stage, state: SessionState) -> bool:
    """Whether a stage is done, or may be answered next: no gate lies between, and nothing that it requires is owed."""
    if stage.id == here.id or not applies(stage, state):
        return False
    if stage.id in state.done:
        return True
    if is_computed(stage):
        return False
    ahead = plan.phases[stage.id] is plan.phases[here.id] and stage.step.kind != "expose"
    return ahead and not state.ending and next(owed_before(plan, stage, state), None) is None
