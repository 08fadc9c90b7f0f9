"""What is wrong with the computed values of a procedure: fields that are not there, units that differ, ranges."""

from collections.abc import Iterator, Mapping
from difflib import get_close_matches

from handsfree.definition.computed_form import ELAPSED_UNITS, INTERVAL_UNITS
from handsfree.definition.form import Step, StepField

At = tuple[str | int, ...]
Fault = tuple[At, str]


def computed_faults(step: Step, where: At, earlier: Mapping[str, Step]) -> Iterator[Fault]:
    """Everything that is wrong with what a step computes.

    Args:
        step: The step.
        where: Its place in the file.
        earlier: The steps before it, by name.
    """
    for number, field in enumerate(step.fields):
        if field.computed is not None:
            yield from _field_faults(step, field, (*where, "fields", number, "computed"), earlier)


def _field_faults(step: Step, field: StepField, where: At, earlier: Mapping[str, Step]) -> Iterator[Fault]:
    assert field.computed is not None  # noqa: S101 - the caller checks
    key = field.computed.how
    found: list[StepField] = []
    for place, name in enumerate(field.computed.inputs):
        step_id, _, field_id = name.partition(".")
        other = earlier.get(step_id)
        own = next((one for one in other.fields if one.id == field_id), None) if other is not None else None
        if other is None or (own is None and key != "elapsed"):
            known = (
                [*earlier] if key == "elapsed" else [f"{one.id}.{f.id}" for one in earlier.values() for f in one.fields]
            )
            near = get_close_matches(name, known, 1)
            hint = f" (did you mean {near[0]}?)" if near else ""
            what = "no earlier step" if key == "elapsed" else "no field of an earlier step"
            yield (*where, key, place), f"{name} is {what}{hint}"
            continue
        if other.for_each is not None and step.for_each is None:
            yield (*where, key, place), f"{step_id} is done for each side (add for_each: side to {step.id} too)"
        if own is None:
            continue
        if own.number is None:
            yield (*where, key, place), f"{name} is no number, so nothing can be computed from it"
            continue
        found.append(own)
    yield from _unit_faults(field, found, where)


def _unit_faults(field: StepField, inputs: list[StepField], where: At) -> Iterator[Fault]:
    computed, result = field.computed, field.number
    if computed is None or result is None:
        return
    if computed.how == "elapsed":
        if result.unit not in ELAPSED_UNITS:
            yield (*where, "elapsed"), f"time is told in {', '.join(ELAPSED_UNITS)}, and the result is in {result.unit}"
        return
    units = dict.fromkeys(one.number.unit for one in inputs if one.number is not None)
    if len(units) > 1:
        yield (*where, computed.how), f"the values are in {' and '.join(units)} (measure all of them in one unit)"
        return
    unit = next(iter(units), result.unit)
    if computed.how == "sum" and unit in INTERVAL_UNITS:
        yield (*where, "sum"), f"temperatures in {unit} cannot be summed (mean and difference can be computed)"
        return
    wanted = INTERVAL_UNITS.get(unit, unit) if computed.how == "difference" else unit
    if result.unit != wanted:
        why = " for a difference of temperatures" if wanted != unit else ""
        yield (*where, computed.how), f"gives {wanted}{why}, and the result is in {result.unit} (write unit: {wanted})"
