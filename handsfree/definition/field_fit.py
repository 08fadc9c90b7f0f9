"""Whether a corrected value could have been recorded at all. Pure; limits come from the procedure file."""

from collections.abc import Iterable
from decimal import Decimal

from handsfree.definition.form import Procedure
from handsfree.model.readings import AbsentReason, plain


def value_fault(procedure: Procedure, step_id: str, field_id: str, amounts: Iterable[Decimal], text: str) -> str:
    """What is wrong with a new value of a reading, and what would be right; empty where it fits.

    Args:
        procedure: The procedure of the record.
        step_id: Step of the reading.
        field_id: Field of the step.
        amounts: The numbers of the new value, where it is one.
        text: The new value as typed.
    """
    step = next((step for step in procedure.steps if step.id == step_id), None)
    field = next((field for field in step.fields if field.id == field_id), None) if step is not None else None
    due = field is not None and field.number is not None and field.number.due
    if step is None or field is None or (text in list(AbsentReason) and step.timing is not None and not due):
        return ""
    if field.options is not None and text not in field.options:
        return f"{text!r} is not on the list of {field.label}; these are: {', '.join(field.options)}"
    if field.identifier is not None and not 0 < len(text) <= field.identifier.max_length:
        return f"{field.label} has 1 to {field.identifier.max_length} characters"
    if field.number is not None:
        limits = field.number
        span = f"{plain(limits.low)} to {plain(limits.high)} {limits.unit} with up to {limits.decimals} decimals"
        for amount in amounts:
            places = -int(amount.as_tuple().exponent)
            if not limits.low <= amount <= limits.high or places > limits.decimals:
                return f"{text!r} does not fit {field.label}; {span} would be right"
        if due and (len(tuple(amounts)) != 1 or text.startswith(("<", ">"))):
            return f"{field.label} needs one number; {span} would be right"
        if text in list(AbsentReason):
            return f"{field.label} needs a number; {span} would be right"
    return ""
