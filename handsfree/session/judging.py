"""The class of a value as the visit stands: by its limits, and by everything that it is held against. Reads only."""

from handsfree.definition.form import StepField
from handsfree.definition.plan import SideRole, Stage
from handsfree.model.baseline import place
from handsfree.model.readings import SpokenValue
from handsfree.model.reasons import Severity
from handsfree.session.baseline_fit import compared_with
from handsfree.session.context import EventContext
from handsfree.session.field_slots import number_words
from handsfree.session.group_read_back import values_of
from handsfree.session.limits import Classification, HeldAgainst, judge
from handsfree.session.visit import side_of


def holds_by_itself(now: EventContext, stage: Stage) -> bool:
    """Whether a value that waits to be confirmed would hold the visit, whatever is said of the other fields."""
    values = values_of(stage, now.state)
    return any(
        judged_now(now, stage, field, values[field.id].value).severity in {Severity.RED, Severity.STOP}
        for field in stage.step.fields
        if field.id in values
    )


def judged_now(now: EventContext, stage: Stage, field: StepField, value: SpokenValue) -> Classification:
    """The class of a value, with everything that it is held against."""
    against = HeldAgainst(
        baseline=_baseline(now, stage, field),
        sides=_both_sides(now, stage, field, value),
        band=now.visit.band_of(field),
        today=now.state.today,
        recalled=now.visit.recalled,
        repeated=f"{stage.id}.{field.id}" in now.state.repeated,
        which=number_words(stage),
    )
    return judge(field, value, against)


def _baseline(now: EventContext, stage: Stage, field: StepField) -> SpokenValue | None:
    if field.compare is None:
        return None
    if field.compare.with_ is not None:
        suffix = f"@{stage.role.value}" if stage.role is not None else ""
        before = now.state.answers.get(field.compare.with_ + suffix, {}).get(field.id)
        return before.value if before is not None else None
    earlier = compared_with(now.visit, now.state)
    if earlier is None:
        return None
    known, side = earlier.values, side_of(stage, now.state.side)
    places = (place(step, field.id, side) for step in field.compare.earlier)
    return next((known[name] for name in places if name in known), None)


def _both_sides(
    now: EventContext, stage: Stage, field: StepField, value: SpokenValue
) -> tuple[SpokenValue, SpokenValue] | None:
    """What the sides are compared by; with the answer of the other side only, so that it is told once."""
    if field.sides is None or stage.role is not SideRole.OTHER:
        return None
    injured = now.state.answers.get(f"{stage.step.id}@{SideRole.INJURED.value}", {}).get(field.id)
    return (injured.value, value) if injured is not None else None
