"""Steps that may be gone to by name: back to what is done, and on to what its phase still wants."""

from collections import Counter

from handsfree.definition.plan import Plan, Stage
from handsfree.model.commands import OptionPhrases, OptionSlot
from handsfree.session.field_slots import number_words
from handsfree.session.stages import applies, is_computed, owed_before
from handsfree.session.state import SessionState

PLACE_SLOT = "go-to"
"""No field of a file can have this name."""
_WHEN = ("before", "mid", "after")
"""Endings of names that are left out where the rest names one step alone."""


def places(plan: Plan, state: SessionState) -> OptionSlot | None:
    """Names of the steps that may be gone to from here; None where there are none."""
    here = plan.stage(state.place)
    open_ = [stage for stage in plan.stages if _may_go(plan, stage, here, state)]
    steps = dict.fromkeys(stage.step.id for stage in open_ if not stage.number)
    numbered = tuple(OptionPhrases(stage.id, (number_words(stage),)) for stage in open_ if stage.number)
    if not open_:
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
        )
        + numbered,
        allow_absent=False,
    )


def stage_named(plan: Plan, step_id: str, state: SessionState) -> Stage | None:
    """The stage that is gone to: of a step for both sides, the first that may be and is not done, else the first."""
    here = plan.stage(state.place)
    named = [stage for stage in plan.stages if step_id in {stage.step.id, stage.id}]
    found = [stage for stage in named if _may_go(plan, stage, here, state)]
    return next((stage for stage in found if stage.id not in state.done), found[0] if found else None)


def _may_go(plan: Plan, stage: Stage, here: Stage, state: SessionState) -> bool:
    """Whether a stage is done, or may be answered next: no gate lies between, and nothing that it requires is owed."""
    one_more = bool(stage.number) and stage.number == state.ended.get(stage.step.id, -1) + 1
    # One of many that is not asked for yet can only be asked for: also where a narrated visit stands at it.
    unasked = bool(stage.number) and state.narrated and not state.asked
    if (stage.id == here.id and not unasked) or not (applies(stage, state) or one_more):
        return False
    if stage.id in state.done:
        return True
    if is_computed(stage):
        return False
    ahead = plan.phases[stage.id] is plan.phases[here.id] and stage.step.kind != "expose"
    return ahead and not state.ending and next(owed_before(plan, stage, state), None) is None
