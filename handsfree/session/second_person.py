"""A second person's confirmation: by a role and a code that is not the operator's; a plain yes confirms nothing."""

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.model.facts import SecondPersonConfirmed
from handsfree.model.readings import Option, SpelledText
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.session.context import EventContext, Reply
from handsfree.session.lift_rules import may_be_code


def code_problem(now: EventContext, stage: Stage, field: StepField, code: SpelledText) -> Refusal | None:
    """Why a code may not stand for the second person, or for the operator beside one; None if it may."""
    state, second = now.state, stage.step.second_person
    if f"{stage.step.id}.{field.id}" == now.visit.procedure.operator_from:
        taken = code.bare in {known.bare for known in _second_codes(now)}
        return Refusal(RefusalCode.SECOND_PERSONS_CODE) if taken else None
    if second is None or field.id != second.code:
        return None
    if state.operator is None:
        return Refusal(RefusalCode.OPERATOR_FIRST)
    if code.bare == SpelledText(state.operator).bare:
        return Refusal(RefusalCode.OPERATORS_OWN_CODE)
    if code.bare in state.lifters.get(stage.id, set()):
        return Refusal(RefusalCode.ANOTHER_PERSON)
    return None if may_be_code(now.visit.plan, code) else Refusal(RefusalCode.NO_PERSONS_CODE)


def has_confirmed(now: EventContext, stage: Stage, code: SpelledText) -> bool:
    """Whether this is the code of the second person at a stage."""
    known = _second_code(now, stage)
    return known is not None and known.bare == code.bare


def _second_codes(now: EventContext) -> list[SpelledText]:
    """The codes of everybody who confirmed a step as the second person."""
    found = (_second_code(now, stage) for stage in now.visit.plan.stages)
    return [code for code in found if code is not None]


def _second_code(now: EventContext, stage: Stage) -> SpelledText | None:
    second = stage.step.second_person
    taken = now.state.answers.get(stage.id, {}).get(second.code) if second is not None else None
    return taken.value if taken is not None and isinstance(taken.value, SpelledText) else None


def note_second_person(now: EventContext, reply: Reply) -> None:
    """Put on record who confirmed the stage, once role and code were read back and affirmed."""
    stage, second = now.stage, now.stage.step.second_person
    answers = now.state.answers.get(stage.id, {})
    if second is None or not {second.role, second.code} <= answers.keys():
        return
    role, code = answers[second.role], answers[second.code]
    if isinstance(role.value, Option) and isinstance(code.value, SpelledText):
        reply.facts.append(
            SecondPersonConfirmed(
                stage=now.stage_name,
                step=stage.step.id,
                role=role.value.value,
                code=code.value.text,
                heard=code.heard,
            )
        )
