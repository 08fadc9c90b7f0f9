"""Values that were read back together are kept together. Part of `settle`."""

from handsfree.model.effects import Earcon
from handsfree.session.confirmed_values import keep_values
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.group_read_back import read_together


def keep_together(now: EventContext, reply: Reply) -> None:
    """Keep the values of all stages that were read back together; what follows from any of them follows then."""
    state, stages = now.state, read_together(now.visit.plan, now.stage, now.state)
    if len(stages) == 1:
        keep_values(now, reply, "affirmed")
        return
    here, own, misheard = state.place, dict(state.pending), None
    for stage in stages:
        state.place = stage.id
        state.pending = own if stage.id == here else dict(state.ahead.pop(stage.id))
        keep_values(now, reply, "affirmed")
        misheard = misheard or state.misheard
        state.pending.clear()
    state.misheard = misheard
    first = reply.talk.index(Earcon.RECORDED)
    reply.talk[first + 1 :] = [one for one in reply.talk[first + 1 :] if one is not Earcon.RECORDED]
    reply.then = Then.GO_ON
