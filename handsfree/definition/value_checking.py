"""Whether a value fits a field of a procedure: one test for what is spoken, amended or written in a scenario. Pure.

`misfit_of` tells what is wrong as a code with the limits that the value was held against; each caller has words of its
own.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import assert_never

from handsfree.definition.date_limits import day_of
from handsfree.definition.form import DateField, Number, Procedure, Step, StepField
from handsfree.model.readings import (
    Absent,
    Ambiguous,
    Between,
    Beyond,
    Exact,
    NeedsAsking,
    Option,
    Refused,
    SpelledText,
    SpokenDate,
    SpokenValue,
    plain,
    value_text,
)


class FitFault(StrEnum):
    """What is wrong with a value, as seen from its field."""

    UNSURE = "unsure"
    """Not understood as one value: to be said again, digit by digit where it was an ambiguous number."""
    NEEDS_ANSWER = "needs_answer"
    """A reason for a gap where the step takes none."""
    NEEDS_ONE_NUMBER = "needs_one_number"
    """A gap or a range where something is computed from the number."""
    OTHER_KIND = "other_kind"
    """A value of another kind than the field: words for a number, a number for a date …"""
    TOO_MANY_DECIMALS = "too_many_decimals"
    OUT_OF_RANGE = "out_of_range"
    NOT_LISTED = "not_listed"
    LENGTH = "length"
    TOO_EARLY = "too_early"
    TOO_LATE = "too_late"


@dataclass(frozen=True, slots=True)
class Misfit:
    """Why a value does not fit.

    Attributes:
        fault: The code.
        number: Range, decimals and unit of the field, where it is a number.
        options: Identifiers on its list, where it has one.
        max_length: Longest code, where it is one; 0 elsewhere.
        earliest: First day that can be, where it is a date with one; None elsewhere, and where today is unknown.
        latest: Last day that can be, likewise.
    """

    fault: FitFault
    number: Number | None = None
    options: tuple[str, ...] = ()
    max_length: int = 0
    earliest: date | None = None
    latest: date | None = None


def misfit_of(step: Step, field: StepField, value: SpokenValue, today: date | None = None) -> Misfit | None:
    """What is wrong with a value; None if it fits.

    Args:
        step: The step that asks; it says whether there may be a gap, and whether something is computed.
        field: The field of it that the value is for.
        value: The value, from any source. Of an exact number `decimals` counts, of a range the digits of its ends.
        today: Local date of the visit; None where it is unknown, and then no date is too early or late.
    """
    earliest, latest = days_of(field.date, today)
    fault = _date_fault(value, earliest, latest) or _fault(step, field, value)
    if fault is None:
        return None
    return Misfit(
        fault,
        field.number,
        tuple(field.options or ()),
        field.identifier.max_length if field.identifier is not None else 0,
        earliest,
        latest,
    )


def days_of(limits: DateField | None, today: date | None) -> tuple[date | None, date | None]:
    """First and last day that can be; None for one that the file does not limit, and where today is unknown."""
    if limits is None or today is None:
        return None, None
    earliest, latest = limits.earliest, limits.latest
    return (
        day_of(earliest, today) if earliest is not None else None,
        day_of(latest, today) if latest is not None else None,
    )


def _date_fault(value: SpokenValue, earliest: date | None, latest: date | None) -> FitFault | None:
    if not isinstance(value, SpokenDate):
        return None
    if earliest is not None and value.value < earliest:
        return FitFault.TOO_EARLY
    return FitFault.TOO_LATE if latest is not None and value.value > latest else None


def _fault(step: Step, field: StepField, value: SpokenValue) -> FitFault | None:
    match value:
        case Ambiguous() | NeedsAsking() | Refused():
            return FitFault.UNSURE
        case Absent() | Between() | Beyond() if needs_one_number(step, field):
            return FitFault.NEEDS_ONE_NUMBER
        case Absent():
            return FitFault.NEEDS_ANSWER if step.timing is None else None
        case Exact(value=amount, decimals=decimals):
            return _number_fault(field.number, (amount,), decimals)
        case Between(low=low, high=high):
            return _number_fault(field.number, (low, high), max(places_of(low), places_of(high)))
        case Beyond(limit=limit):
            return _number_fault(field.number, (limit,), places_of(limit))
        case Option(value=chosen):
            return None if chosen in (field.options or ()) else FitFault.NOT_LISTED
        case SpelledText(text=text):
            if field.identifier is None:
                return FitFault.OTHER_KIND
            return None if 0 < len(text) <= field.identifier.max_length else FitFault.LENGTH
        case SpokenDate():
            return FitFault.OTHER_KIND if field.date is None else None
        case _:
            assert_never(value)


def needs_one_number(step: Step, field: StepField) -> bool:
    """Whether something is computed from the field, so that a range or a gap would be read as a number."""
    computed = step.size_from is not None or step.repeat_within is not None
    return field.number is not None and (computed or field.number.due)


def _number_fault(limits: Number | None, amounts: Iterable[Decimal], decimals: int) -> FitFault | None:
    if limits is None:
        return FitFault.OTHER_KIND
    if decimals > limits.decimals:
        return FitFault.TOO_MANY_DECIMALS
    if not all(amount.is_finite() and limits.low <= amount <= limits.high for amount in amounts):
        return FitFault.OUT_OF_RANGE
    return None


def places_of(amount: Decimal) -> int:
    """Digits after the point, as written: "1.50" has 2."""
    exponent = amount.as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def value_fault(
    procedure: Procedure, step_id: str, field_id: str, value: SpokenValue, today: date | None = None
) -> str:
    """What is wrong with a new value of a reading, and what would be right; empty where it fits.

    Args:
        procedure: The procedure of the record.
        step_id: Step of the reading.
        field_id: Field of the step.
        value: The new value.
        today: Local date of the visit, or None where it is unknown.
    """
    step = next((step for step in procedure.steps if step.id == step_id), None)
    field = next((field for field in step.fields if field.id == field_id), None) if step is not None else None
    if step is None or field is None:
        return ""
    if field.computed is not None:
        return f"{field.label} is computed: amend what it is computed from ({', '.join(field.computed.inputs)})"
    misfit = misfit_of(step, field, value, today)
    return _in_words(misfit, field.label, value_text(value)) if misfit is not None else ""


def _in_words(misfit: Misfit, label: str, text: str) -> str:
    limits = misfit.number
    if limits is not None:
        span = f"{plain(limits.low)} to {plain(limits.high)} {limits.unit} with up to {limits.decimals} decimals"
        match misfit.fault:
            case FitFault.NEEDS_ONE_NUMBER:
                return f"{label} needs one number; {span} would be right"
            case FitFault.NEEDS_ANSWER:
                return f"{label} needs a number; {span} would be right"
            case _:
                return f"{text!r} does not fit {label}; {span} would be right"
    if misfit.fault is FitFault.TOO_EARLY:
        return f"{label} cannot lie before {misfit.earliest}, and {text} does"
    if misfit.fault is FitFault.TOO_LATE:
        return f"{label} cannot lie after {misfit.latest}, and {text} does"
    if misfit.fault is FitFault.LENGTH:
        return f"{label} has 1 to {misfit.max_length} characters"
    if misfit.options:
        return f"{text!r} is not on the list of {label}; these are: {', '.join(misfit.options)}"
    return f"{label} needs an answer"
