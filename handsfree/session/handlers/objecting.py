"""What only stands: affirmed, or objected to."""

from handsfree.model.effects import Earcon
from handsfree.model.facts import StandingDisputed
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.sentence_codes import FileText
from handsfree.session.questions import prompt_text
from handsfree.session.standing import confirm_standing, withdraw


def object_to_standing(now: EventContext) -> Reply:
    """Take "negative" or "correction" to what was said back in the last prompt: it is taken back, and asked again."""
    state, plan = now.state, now.visit.plan
    if state.narrated:
        # Of many nobody knows which is meant.
        state.modes.drop(frozenset({Mode.CHECKING}))
        reply = Reply([StandingDisputed(stage=now.stage_name)], [Earcon.REFUSED])
        reply.say(Fixed.WHICH_IS_WRONG)
        return reply
    stages = {name.rpartition(".")[0] for name in state.standing}
    target = next(stage for stage in plan.stages if stage.id in stages)
    state.modes.drop(frozenset({Mode.CHECKING}))
    reply = Reply(withdraw(state), [Earcon.REFUSED], Then.REOPEN, target)
    state.pending.clear()
    reply.say(Fixed.NOT_RECORDED, FileText(prompt_text(now.visit, target, state)))
    return reply


def affirm_said_back(now: EventContext) -> Reply:
    """Take "affirmative" to what was said back in the last prompt: `standing.stands_now` has confirmed it."""
    return Reply(talk=[Earcon.RECORDED] if not now.state.standing else [])


def affirm_standing(now: EventContext) -> Reply:
    """Take "affirmative" to what stands at a gate: it is confirmed, and the visit goes on."""
    now.state.modes.pop(Mode.CHECKING)
    return Reply(confirm_standing(now.state), [Earcon.RECORDED], Then.GO_ON)
