"""What a value decides, as the procedure's own file says: so much weighs a wrong one. Pure."""

from decimal import Decimal, InvalidOperation
from enum import StrEnum

from handsfree.definition.form import Step, StepField
from handsfree.definition.loader import Bundle

_SIDES = frozenset({"left", "right"})


class Decides(StrEnum):
    """What is decided by a value.

    SIDE: which side is treated. IDENTITY: which thing or person it is: a lot, a lamp, an operator. STOP: the true value
    holds the work. FLAG: the true value is told as a warning. FIGURE: none of these.
    """

    SIDE = "side"
    IDENTITY = "identity"
    STOP = "stop"
    FLAG = "flag"
    FIGURE = "figure"


def decides(bundle: Bundle, place: str, value: str) -> Decides:
    """What the true value at a place of a scenario, "step.field" or "step@side.field", decides."""
    where, _, name = place.partition(".")
    step = next((one for one in bundle.procedure.steps if one.id == where.partition("@")[0]), None)
    field = next((one for one in step.fields if one.id == name), None) if step is not None else None
    if step is None or field is None:
        return Decides.FIGURE
    if _names_side(bundle, step, field):
        return Decides.SIDE
    if field.identifier is not None:
        return Decides.IDENTITY
    return by_class(field, value)


def _names_side(bundle: Bundle, step: Step, field: StepField) -> bool:
    declared = f"{step.id}.{field.id}" == bundle.procedure.side_from
    return declared or (step.agree and set(field.options or ()) == _SIDES)


def by_class(field: StepField, value: str) -> Decides:
    """What a value decides by the class that the field's own options and limits give it."""
    if value in {*field.red, *field.stop}:
        return Decides.STOP
    if value in field.amber:
        return Decides.FLAG
    if field.number is None:
        return Decides.FIGURE
    try:
        amount = Decimal(value)
    except InvalidOperation:
        return Decides.FIGURE
    passed = {limit.class_ for limit in field.number.limits if limit.is_passed(amount, amount)}
    if not passed:
        return Decides.FIGURE
    return Decides.FLAG if passed == {"amber"} else Decides.STOP
