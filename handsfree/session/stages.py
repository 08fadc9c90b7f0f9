"""Which stages a visit has, and what each one requires. Pure."""

from collections.abc import Iterator

from handsfree.definition.form import Step
from handsfree.definition.plan import Plan, Stage
from handsfree.model.refusals import RefusalCode
from handsfree.session.conditions import Truth, truth_of
from handsfree.session.state import Done, SessionState
from handsfree.session.visit import Visit


def is_computed(stage: Stage) -> bool:
    """Whether nobody is asked at a stage: its values follow from others."""
    return stage.step.kind == "compute"


def applies(stage: Stage, state: SessionState) -> bool:
    """Whether a stage is part of this visit, by its `when`, or because nobody has said whose visit it is."""
    if stage.names_patient and (state.practice or state.patient_given):
        return False
    if stage.number > times_wanted(stage.step, state):
        return False
    return stage.step.when is None or truth_of(stage.step.when, state) in {Truth.HOLDS, Truth.UNDECIDED}


def hangs_on_open(plan: Plan, stage: Stage, state: SessionState) -> bool:
    """Whether a stage is no part of the visit yet because what its condition hangs on is still to be answered."""
    when = stage.step.when
    if when is None or stage.number > times_wanted(stage.step, state) or truth_of(when, state) is not Truth.OPEN:
        return False
    names = {(one.step or "").partition(".")[0] for one in when.alone()}
    asked = [one for name in names for one in plan.stages_of(name) if one.id not in state.done]
    return any(applies(one, state) or hangs_on_open(plan, one, state) for one in asked)


def times_wanted(step: Step, state: SessionState) -> int:
    """How often a step is part of the visit: the least, then one more after each, until the last is said."""
    if step.repeat is None:
        return 0
    return state.ended.get(step.id) or min(step.repeat.most, max(step.repeat.least, times_done(step, state) + 1))


def times_done(step: Step, state: SessionState) -> int:
    """The highest number of a repeated step that is done; 0 where none is."""
    done = (stage_id.rpartition("@") for stage_id in state.done)
    return max((int(number) for name, _, number in done if name == step.id and number.isdecimal()), default=0)


def skipped_before(plan: Plan, stage: Stage, state: SessionState) -> Iterator[Stage]:
    """Stages that were skipped and that a stage, or the gate into its phase, requires."""
    gate = next((gate for gate in plan.gates if gate.into is plan.phases[stage.id]), None)
    names = {one.id for name in stage.step.requires for one in plan.stages_of(name)}
    names |= set(gate.not_skipped) if gate is not None else set()
    yield from (one for one in plan.stages if one.id in names and state.done.get(one.id) is Done.SKIPPED)


def owed_before(plan: Plan, stage: Stage, state: SessionState) -> Iterator[Stage]:
    """Stages that a stage requires and that are not done."""
    for name in stage.step.requires:
        for one in plan.stages_of(name):
            part = not one.number or applies(one, state)
            if part and state.done.get(one.id) in {None, Done.SKIPPED}:
                yield one


def stages_of_visit(plan: Plan, state: SessionState) -> tuple[Stage, ...]:
    """All stages that are part of this visit, as far as known."""
    return tuple(stage for stage in plan.stages if applies(stage, state))


def stages_done(plan: Plan, state: SessionState) -> tuple[int, int]:
    """How many stages of this visit are done, and how many there are."""
    stages = stages_of_visit(plan, state)
    return sum(stage.id in state.done for stage in stages), len(stages)


def lights(plan: Plan) -> bool:
    """Whether a procedure has light."""
    return any(stage.step.kind == "expose" for stage in plan.stages)


def why_not_correctable(visit: Visit, stage: Stage, state: SessionState) -> RefusalCode | None:
    """Why a stage cannot be answered anew by "correction"; None if it can."""
    if stage.step.kind in {"expose", "tell"}:
        return RefusalCode.HOLDS_NO_VALUE
    names = {f"{stage.step.id}.{field.id}" for field in stage.step.fields}
    if visit.procedure.kind_from in names:
        return RefusalCode.KIND_IS_FIXED
    # What waits for its read-back was said of a side as well.
    sided = (one for one in visit.plan.stages if one.role is not None)
    taken = any(one.id in state.answers or one.id in state.ahead for one in sided)
    if visit.procedure.side_from in names and taken:
        return RefusalCode.SIDE_IS_FIXED
    return None
