"""The answer to an earlier record of another patient or side: it is meant, or it is left out."""

from handsfree.model.baseline import BaselineAnswer, Difference
from handsfree.model.effects import Earcon
from handsfree.model.facts import HoldLifted
from handsfree.model.refusals import RefusalCode
from handsfree.session.baseline_fit import asked_about
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.state import Done


def answer_baseline(now: EventContext) -> Reply:
    """Lift the stop of an earlier record that is of another; what was compared before is judged again."""
    state, hold = now.state, asked_about(now.state)
    if hold is None or now.chosen not in list(BaselineAnswer):
        return now.refuse(RefusalCode.NOT_ON_THE_LIST)
    answer, difference = BaselineAnswer(now.chosen), hold.grounds.ground
    assert isinstance(difference, Difference)  # noqa: S101 - only such a hold asks
    state.baseline_answers[difference] = answer is BaselineAnswer.MEANT
    state.holds.remove(hold)
    lifted = HoldLifted(
        hold=hold.kind, grounds=hold.grounds, role=None, reason=answer.value, code=None, heard=now.heard
    )
    stage = now.visit.plan.stage(hold.stage_id)
    given = state.answers.get(stage.id, {})
    if not state.held_at(stage.id) and all(field.id in given for field in stage.step.fields):
        state.done.setdefault(stage.id, Done.ANSWERED)
    reply = Reply([lifted], [Earcon.RECORDED], Then.GO_ON, compared_anew=True)
    reply.say(Fixed.BASELINE_MEANT if answer is BaselineAnswer.MEANT else Fixed.BASELINE_LEFT_OUT)
    return reply
