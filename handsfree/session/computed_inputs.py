"""What a value is computed from, in the visit as it stands. Pure."""

from dataclasses import dataclass

from handsfree.definition.computed_form import Computed
from handsfree.definition.plan import Plan, Stage
from handsfree.session.stages import applies, is_computed
from handsfree.session.state import SessionState


@dataclass(frozen=True, slots=True)
class ComputedInput:
    """A stage that something is computed from, and which of its fields; "" for the moment at which it was done."""

    stage: Stage
    field_id: str


def stage_behind(plan: Plan, stage: Stage, state: SessionState) -> Stage | None:
    """The stage that was answered last of those from which a stage is computed: that is corrected in its place."""
    inputs = [
        one.stage
        for field in stage.step.fields
        if field.computed is not None
        for one in inputs_of(plan, stage, field.computed, state)
    ]
    answered = [one for one in plan.stages if one in inputs and one.id in state.answers]
    behind = answered[-1] if answered else None
    return stage_behind(plan, behind, state) if behind is not None and is_computed(behind) else behind


def inputs_of(plan: Plan, stage: Stage, computed: Computed, state: SessionState) -> tuple[ComputedInput, ...]:
    """What a field is computed from, of its own side; of a step that is repeated, all that is part of the visit.

    Where time is counted, the last of a repeated step.
    """
    found: list[ComputedInput] = []
    for name in computed.inputs:
        step_id, _, field_id = name.partition(".")
        stages = [one for one in plan.stages_of(step_id) if one.role in {None, stage.role}]
        if not field_id:
            stages = [one for one in stages if not one.number or applies(one, state)][-1:]
        several = [one for one in stages if applies(one, state)] if len(stages) > 1 else stages
        found += [ComputedInput(one, field_id) for one in several]
    return tuple(found)
