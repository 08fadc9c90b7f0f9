"""Findings before beside findings after, side beside side; what differs by more than the measuring error. Pure.

Steps belong together where their identifiers differ only in the ending (circulation_before, circulation_after).
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from handsfree.definition.loader import Bundle
from handsfree.model.facts import StatedReading
from handsfree.model.readings import Exact, Timing
from handsfree.model.readings import plain as plain_number
from handsfree.record.contents import Record
from handsfree.record.display_text import capital, plain, with_unit
from handsfree.record.display_values import display_value, standing_readings
from handsfree.report.procedure_at_hand import very_version

_STEM = re.compile(r"_(before|after|mid)$")
Errors = Mapping[tuple[str, str], Decimal]
"""Measuring error of a number, in its unit, by step and field."""


@dataclass(frozen=True, slots=True)
class Twice:
    """One finding on one side, before and after.

    Attributes:
        before: Value before, or "".
        after: Value after, or "".
        differs: Whether both were taken and are not the same, of a number by more than its measuring error; that says
            nothing about what it means.
        by: How much a number changed, and against which error; "" for others, and where it did not.
    """

    before: str
    after: str
    differs: bool = False
    by: str = ""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Findings before beside after, and side beside side.

    Attributes:
        sides: Names of the sides, the declared one first; "" for findings without a side.
        rows: Step, label, and one pair of values a side.
    """

    sides: tuple[str, ...]
    rows: tuple[tuple[str, str, tuple[Twice, ...]], ...]


def measuring_errors(record: Record, bundle: Bundle | None) -> Errors:
    """What the procedure states; nothing where its very version is not at hand."""
    same = very_version(record, bundle)
    if same is None:
        return {}
    return {
        (step.id, field.id): field.number.measuring_error
        for step in same.procedure.steps
        for field in step.fields
        if field.number is not None and field.number.measuring_error is not None
    }


def comparison(record: Record, errors: Errors | None = None) -> Comparison:
    """Findings that were taken before and after.

    Args:
        record: The record.
        errors: Measuring errors that the procedure states; of other numbers every difference is marked.
    """
    found: dict[tuple[str, str], dict[str, dict[str, StatedReading]]] = {}
    for reading in standing_readings(record):
        stands = reading.stands
        stem, when = _STEM.sub("", stands.step), _when(stands)
        if when:
            sides_of = found.setdefault((stem, stands.label), {})
            sides_of.setdefault(stands.side or "", {}).setdefault(when, stands)
    twice = {key: sides for key, sides in found.items() if any(len(values) == 2 for values in sides.values())}
    sides = tuple(dict.fromkeys(side for values in twice.values() for side in values))
    return Comparison(
        sides,
        tuple(
            (capital(plain(step)), label, tuple(_twice(values.get(side, {}), errors or {}) for side in sides))
            for (step, label), values in twice.items()
        ),
    )


def _when(stands: StatedReading) -> str:
    """Before or after the work; what was set during it, in the step that the later ones are called after, is before."""
    ending = _STEM.search(stands.step)
    if stands.timing is Timing.AFTER and ending is not None:
        return "after"
    if stands.timing is Timing.BASELINE and ending is not None:
        return "before"
    return "before" if stands.timing is Timing.DURING and ending is None else ""


def _twice(values: Mapping[str, StatedReading], errors: Errors) -> Twice:
    before, after = values.get("before"), values.get("after")
    was, now = (display_value(one.value, one.unit) if one is not None else "" for one in (before, after))
    if before is None or after is None or was == now:
        return Twice(was, now)
    if not isinstance(before.value, Exact) or not isinstance(after.value, Exact) or before.unit != after.unit:
        return Twice(was, now, differs=True)
    change = after.value.value - before.value.value
    amount = with_unit(f"{'+' if change > 0 else '−'}{plain_number(abs(change))}", after.unit)
    error = errors.get((after.step, after.field))
    if error is None:
        return Twice(was, now, differs=bool(change), by=f"{amount}, no measuring error stated" if change else "")
    within = abs(change) <= error
    told = f"{amount}, {'within' if within else 'over'} the error of {with_unit(plain_number(error), after.unit)}"
    return Twice(was, now, differs=not within, by=told)
