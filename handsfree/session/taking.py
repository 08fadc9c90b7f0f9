"""What taking a value leads to, said or scanned: does it fit, what is still missing, what is read back."""

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.model.commands import SlotValue
from handsfree.model.effects import Earcon
from handsfree.model.facts import AnyFact, ReadingProposed, ReadingRefused
from handsfree.model.readings import Ambiguous, Option
from handsfree.model.refusals import Refusal, RefusalCode, RefusalReason, TooFarApart
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.fit import refusal_of
from handsfree.session.limits import apart
from handsfree.session.modes import Mode
from handsfree.session.prompts.sentences import RefusedBecause
from handsfree.session.questions import read_back
from handsfree.session.reading_facts import stated
from handsfree.session.state import SessionState, TakenValue


def proposed(now: EventContext, stage: Stage, field: StepField, taken: TakenValue) -> AnyFact:
    """That a value was taken and waits to be confirmed."""
    return ReadingProposed(**stated(stage, field, taken, now.state.side))


def complete(now: EventContext, reply: Reply) -> None:
    """After values were taken: ask for what is missing, or read all back."""
    stage, state = now.stage, now.state
    if any(field.id not in state.pending for field in stage.step.fields):
        reply.talk.append(Earcon.HEARD)
        reply.then = Then.ASK
        return
    too_far = _too_far_apart(stage, state)
    if too_far is not None:
        reply.facts.append(ReadingRefused(stage=now.stage_name, field="", reason=too_far, heard=None))
        state.pending.clear()
        reply.talk.append(Earcon.REFUSED)
        reply.say(RefusedBecause(too_far))
    elif stage.step.explicit_read_back:
        state.modes.push(Mode.READING_BACK)
        reply.talk.append(read_back(now.visit, state))
    else:
        reply.keep = "echo"


def value_problem(now: EventContext, field: StepField, given: SlotValue) -> RefusalReason | None:
    """Why a value does not fit its field or this record; None if it does. An ambiguous one is asked for by digits."""
    if isinstance(given.value, Ambiguous):
        now.state.digit_by_digit.add(field.id)
    reason = refusal_of(now.stage, field, given.value)
    if reason is None and isinstance(given.value, Option):
        return _kind_problem(now, field, given.value.value)
    return reason


def _kind_problem(now: EventContext, field: StepField, chosen: str) -> RefusalReason | None:
    """Why this is no answer to the question whether the visit is live or practice."""
    if f"{now.stage.step.id}.{field.id}" != now.visit.procedure.kind_from:
        return None
    if now.state.practice_only and chosen == "live":
        return Refusal(RefusalCode.ONLY_PRACTICE)
    answered = now.state.answers.get(now.stage.id, {}).get(field.id)
    if answered is not None and answered.value != Option(chosen):
        return Refusal(RefusalCode.KIND_IS_FIXED)
    return None


def _too_far_apart(stage: Stage, state: SessionState) -> TooFarApart | None:
    rule = stage.step.repeat_within
    if rule is None:
        return None
    amount = apart([state.pending[name].value for name in rule.fields])
    return TooFarApart(amount) if amount is not None and amount > rule.tolerance else None
