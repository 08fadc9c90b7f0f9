"""What follows from the case by the procedure's own arithmetic, and what a wrong value of it decides. Pure.

Nobody says a computed value, so none is marked by itself: where a wrong value made a result look better than it truly
was, that value is marked, once, for what the result decides.
"""

from collections.abc import Iterator, Mapping
from decimal import Decimal

from handsfree.definition.computed_form import Computed, result_of
from handsfree.definition.form import Step, Strict
from handsfree.definition.loader import Bundle
from handsfree.model.facts import ReadingAmended, ReadingConfirmed
from handsfree.model.readings import Exact, plain
from handsfree.model.reasons import Severity
from handsfree.practice.deciding import Decides, by_class
from handsfree.practice.scenario import FieldPlace, Scenario

SIDES = ("left", "right")


class ComputedTruth(Strict):
    """A computed value that is known from the case.

    Attributes:
        true: What it truly is, in digits.
        decides: What it decides.
        inputs: Places of the case that it follows from, also through other computed values.
    """

    true: str
    decides: Decides
    inputs: tuple[FieldPlace, ...]


def times_due(scenario: Scenario, step: Step) -> int:
    """How often a repeated step is due: as the scenario says, else as often as its case names; 0 for other steps."""
    if step.repeat is None:
        return 0
    if step.id in scenario.times:
        return scenario.times[step.id]
    return max((step.repeat.least, *numbers_named(scenario, step)))


def numbers_named(scenario: Scenario, step: Step) -> tuple[int, ...]:
    """The numbers of a repeated step that a scenario says something about."""
    places = (*scenario.case, *(place for event in scenario.events for place in (*event.shows, *event.remedy)))
    marks = (place.partition(".")[0].partition("@") for place in places)
    return tuple(int(number) for name, _, number in marks if name == step.id and number.isdecimal())


def computed_truths(scenario: Scenario, bundle: Bundle) -> dict[str, ComputedTruth]:
    """What follows from the case, "step.field" or "step@left.field" to its truth; nothing where a value is not named.

    Time between steps is what the learner took: no case knows it.
    """
    steps = {step.id: step for step in bundle.procedure.steps}
    found: dict[str, ComputedTruth] = {}
    for step in bundle.procedure.steps:
        for side in SIDES if step.for_each is not None else ("",):
            for field in step.fields:
                if field.computed is None or field.number is None:
                    continue
                inputs = list(_inputs(field.computed, side, steps, scenario))
                values = [_amount(place, found, scenario.case) for place in inputs]
                known = [Exact(value, 0) for value in values if value is not None]
                if field.computed.how == "elapsed" or len(known) < len(inputs):
                    continue
                result = result_of(field.computed.how, known, field.number.decimals, field.number.unit)
                if result is None:
                    continue
                true = plain(result.value)
                leaves = (leaf for place in inputs for leaf in (found[place].inputs if place in found else (place,)))
                found[f"{_stage(step.id, side)}.{field.id}"] = ComputedTruth(
                    true=true, decides=by_class(field, true), inputs=tuple(dict.fromkeys(leaves))
                )
    return found


def _inputs(computed: Computed, side: str, steps: Mapping[str, Step], scenario: Scenario) -> Iterator[str]:
    """The places that a value is computed from, of its own side; of a step that is repeated, each number."""
    for name in computed.inputs:
        step_id, _, field_id = name.partition(".")
        step = steps[step_id]
        if step.repeat is not None:
            yield from (f"{step_id}@{number}.{field_id}" for number in range(1, times_due(scenario, step) + 1))
        elif step.for_each is not None and not side:
            yield from (f"{step_id}@{one}.{field_id}" for one in SIDES)
        else:
            yield f"{_stage(step_id, side if step.for_each is not None else '')}.{field_id}"


def _stage(step_id: str, side: str) -> str:
    return f"{step_id}@{side}" if side else step_id


def _amount(place: str, found: Mapping[str, ComputedTruth], case: Mapping[str, str]) -> Decimal | None:
    if place in found:
        return Decimal(found[place].true)
    value = true_at(place, case)
    return Decimal(value) if value is not None else None


def true_at(place: str, case: Mapping[str, str]) -> str | None:
    """What is true at "step@3.field": what the case says of it, else of every one of the step."""
    stage, _, field = place.partition(".")
    return case.get(place, case.get(f"{stage.partition('@')[0]}.{field}"))


_LEAST = {Decides.FLAG: Severity.AMBER.rank, Decides.STOP: Severity.STOP.rank}


def looks_better(truth: ComputedTruth, fact: ReadingConfirmed | ReadingAmended) -> bool:
    """Whether a computed value on record is less grave than what truly follows."""
    return fact.severity.rank < _LEAST.get(truth.decides, Severity.NONE.rank)
