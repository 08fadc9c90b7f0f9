"""Setting a hold: once for each cause, with a sound each time. Part of `after_handler`."""

from handsfree.model.effects import Earcon
from handsfree.model.facts import HoldSet
from handsfree.session.context import EventContext, Reply
from handsfree.session.state import Hold
from handsfree.session.visit import name_of


def set_hold(now: EventContext, reply: Reply, hold: Hold) -> None:
    """Hold the visit; what holds it already is not set twice."""
    reply.talk.append(Earcon.ATTENTION)
    if any(_same(hold, held) for held in now.state.holds):
        return
    now.state.holds.append(hold)
    now.state.acted_upon = False
    stage = now.visit.plan.stage(hold.stage_id)
    reply.facts.append(HoldSet(hold=hold.kind, stage=name_of(stage, now.state.side), grounds=hold.grounds))


def _same(one: Hold, other: Hold) -> bool:
    """Whether two holds are of one cause, said in the light or after it."""
    return (one.kind, one.stage_id, one.field_id, one.grounds) == (
        other.kind,
        other.stage_id,
        other.field_id,
        other.grounds,
    )
