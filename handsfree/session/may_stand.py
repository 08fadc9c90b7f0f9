"""Which values may stand without being affirmed: findings that were heard well and that hold nothing. Reads only."""

from collections.abc import Mapping
from dataclasses import replace

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.model.readings import Option
from handsfree.model.reasons import Severity
from handsfree.session.context import EventContext
from handsfree.session.read_back import must_be_confirmed
from handsfree.session.state import TakenValue
from handsfree.session.value_intake import judged_now

LEAST = 0.95
"""Probability from which a finding may stand without being affirmed; no source: chosen here, on the figures of
scripts/bench_closed_loop.py in scripts/MEASURED.md."""


def may_stand(now: EventContext, stage: Stage, field: StepField, taken: TakenValue) -> bool:
    """Whether a value, judged as it is, may stand without being affirmed.

    Never a number, code, date or side; nor what holds the visit, what may come to hold it beside another answer, what
    says who works or whose visit it is, what was in doubt, what nobody named ("the rest"), what takes the place of
    another, nor where the file marks the step.
    """
    if not now.visit.going_on or stage.step.read_back == "confirm" or field.options is None:
        return False
    if not isinstance(taken.value, Option) or set(field.options) <= {"left", "right"}:
        return False
    declared = f"{stage.step.id}.{field.id}" in now.visit.procedure.declared
    best = not field.scale or taken.value.value == field.scale[0]
    answered = field.id in now.state.answers.get(stage.id, {})
    heard_well = taken.heard.probability >= LEAST and not taken.asked and not taken.of_the_rest
    calm = taken.severity in {Severity.NONE, Severity.AMBER}
    return heard_well and calm and best and not declared and not answered


def all_may_stand(now: EventContext, stage: Stage, values: Mapping[str, TakenValue]) -> bool:
    """Whether none of some values of a stage must be affirmed; each is judged for it."""
    for field in stage.step.fields:
        if field.id not in values:
            continue
        judgement = judged_now(now, stage, field, values[field.id].value)
        judged = replace(values[field.id], severity=judgement.severity, grounds=judgement.grounds)
        if not may_stand(now, stage, field, judged):
            return False
    return bool(values)


def needs_affirming(now: EventContext) -> bool:
    """Whether anything of the breath of a narrated visit must be affirmed."""
    for stage_id, values in now.state.breath.items():
        stage = now.visit.plan.stage(stage_id)
        if "" in values:
            if not now.visit.going_on or values[""].heard.probability < LEAST or values[""].asked:
                return True
        elif not all_may_stand(now, stage, values):
            return True
    return False


def may_be_echoed(now: EventContext) -> bool:
    """Whether the breath is the one answer to a question that the tool has asked, of a step that is only said back."""
    state = now.state
    if not state.asked or [*state.breath] != [state.place]:
        return False
    step = now.stage.step
    return bool(step.fields) and not must_be_confirmed(step)
