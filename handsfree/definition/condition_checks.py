"""What is wrong with the conditions of a procedure: fields that are not there, other units, what may be skipped."""

from collections.abc import Iterator, Mapping
from difflib import get_close_matches

from handsfree.definition.condition_form import When
from handsfree.definition.form import Step, StepField

At = tuple[str | int, ...]
Fault = tuple[At, str]


def when_faults(step: Step, where: At, earlier: Mapping[str, Step]) -> Iterator[Fault]:
    """Everything that is wrong with the condition of a step.

    Args:
        step: The step.
        where: Its place in the file.
        earlier: The steps before it, by name.
    """
    if step.when is not None:
        yield from _faults(step, step.when, (*where, "when"), earlier)


def _faults(step: Step, when: When, where: At, earlier: Mapping[str, Step]) -> Iterator[Fault]:
    for key, parts in (("all", when.all_), ("any", when.any_)):
        for number, part in enumerate(parts):
            yield from _faults(step, part, (*where, key, number), earlier)
    if when.step is None:
        return
    name, _, field_id = when.step.partition(".")
    field = next((f for f in earlier[name].fields if f.id == field_id), None) if name in earlier else None
    if field is None:
        known = [f"{one.id}.{f.id}" for one in earlier.values() for f in one.fields]
        near = get_close_matches(when.step, known, 1)
        hint = f" (did you mean {near[0]}?)" if near else ""
        yield (*where, "step"), f"{when.step} is no field of an earlier step{hint}"
        return
    yield from _misfits(when, field, where)
    if step.hard and not earlier[name].hard:
        text = f"{name} may be skipped, and then nobody knows whether this hard step is needed"
        yield (*where, "step"), f"{text} (add hard: true to {name})"
    if earlier[name].repeat is not None:
        yield (*where, "step"), f"{name} is repeated, so its answer is not one (compute a mean or a sum of it)"
    if earlier[name].for_each is not None:
        yield (*where, "step"), f"{name} is done for each side, so its answer is not one (ask it once)"


def _misfits(when: When, field: StepField, where: At) -> Iterator[Fault]:
    """Where the condition does not fit the kind of its field."""
    if when.is_ and field.options is None:
        what = "a number: compare it with above, at_least, below or at_most" if field.number else "no list of answers"
        yield (*where, "is"), f"{when.step} is {what}"
    elif field.options is not None:
        for name in sorted(set(when.is_) - set(field.options)):
            yield (*where, "is"), f"{name} is no option of {when.step} (there are: {', '.join(field.options)})"
    key = next(iter(when.comparisons), None)
    if key is not None and field.number is None:
        listed = f": write is: [{', '.join(field.options)}]" if field.options else ""
        yield (*where, key), f"{when.step} is no number{listed}"
    elif key is not None and field.number is not None and field.number.unit != when.unit:
        yield (*where, "unit"), f"{when.step} is in {field.number.unit}, and {when.unit} is another unit"
