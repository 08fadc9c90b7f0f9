"""Steps of a group, also of both hands, that share one read-back: their values wait for one another."""

from collections.abc import Iterable

from handsfree.definition.field_form import StepField
from handsfree.definition.plan import Plan, SideRole, Stage, mates_of
from handsfree.model.readings import Exact, Option, SpokenValue
from handsfree.session.stages import applies
from handsfree.session.state import SessionState, TakenValue


def is_shared(stage: Stage) -> bool:
    """Whether the read-back of a stage waits for the other steps of its group."""
    return stage.step.read_back in {"group", "sides"}


def _sharing(plan: Plan, stage: Stage) -> tuple[Stage, ...]:
    """The other stages of a read-back: those of the same hand first, then those of the other where both share one."""
    mates = tuple(mate for mate in mates_of(plan, stage) if is_shared(mate))
    if stage.step.read_back != "sides":
        return mates
    across = (one for one in plan.stages if one.step.group == stage.step.group and one.role is not stage.role)
    return (*mates, *across)


def has_both_sides(stages: Iterable[Stage]) -> bool:
    """Whether stages that are read back together are of both hands."""
    return len({stage.role for stage in stages}) > 1


def next_of_group(plan: Plan, stage: Stage, state: SessionState) -> Stage | None:
    """The stage that is still to be answered before a stage that is whole is read back; None where none is.

    What is answered anew, or while something holds the visit or ends it early, or is narrated, waits for nothing.
    """
    if not is_shared(stage) or state.holds or state.ending or state.narrated or state.answers.get(stage.id):
        return None
    open_ = (mate for mate in _sharing(plan, stage) if mate.id not in state.done and applies(mate, state))
    return next((mate for mate in open_ if not is_whole(mate, state)), None)


def read_together(plan: Plan, stage: Stage, state: SessionState) -> tuple[Stage, ...]:
    """The stages that are read back with a stage, itself among them, one hand after the other; alone while narrated."""
    if not is_shared(stage) or state.narrated:
        return (stage,)
    mates = {mate.id for mate in _sharing(plan, stage) if is_whole(mate, state)}
    found = (one for one in plan.stages if one.id == stage.id or one.id in mates)
    return tuple(sorted(found, key=lambda one: one.role is SideRole.OTHER))


def is_grave(stage: Stage, state: SessionState) -> bool:
    """Whether a value is beyond a limit of its own, so that it may be taken again: it is read back at once.

    What holds the visit, also beside an earlier value: `value_intake.holds_by_itself`.
    """
    said = ((field, state.pending.get(field.id)) for field in stage.step.fields)
    return any(taken is not None and _is_grave(field, taken.value) for field, taken in said)


def _is_grave(field: StepField, value: SpokenValue) -> bool:
    match value:
        case Option(value=chosen):
            return chosen in {*field.stop, *field.red}
        case Exact(value=amount) if field.number is not None:
            passed = [limit for limit in field.number.limits if limit.is_passed(amount, amount)]
            return any(limit.class_ != "amber" or field.again is not None for limit in passed)
        case _:
            return field.number is not None


def values_of(stage: Stage, state: SessionState) -> dict[str, TakenValue]:
    """What was said for a stage of a shared read-back and is not confirmed."""
    return {**state.ahead.get(stage.id, {}), **(state.unconfirmed if stage.id == state.place else {})}


def is_whole(stage: Stage, state: SessionState) -> bool:
    """Whether every value of a stage was said before its question."""
    said = state.ahead.get(stage.id, {})
    return all(field.id in said for field in stage.step.fields)
