"""In a narrated visit, after a silence: what is missing is asked for. Part of the handler of ticks."""

from handsfree.model.facts import MissingTold
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.questions import said_missing
from handsfree.session.section import missing, open_in_section
from handsfree.session.visit import name_of


def ask_for_missing(now: EventContext) -> Reply:
    """Nobody has said anything of the phase for a while: the tool asks for the first of what is missing."""
    state = now.state
    items = missing(now.visit, state)
    stage = next(iter(open_in_section(now.visit.plan, state)), None)
    state.missing_told_s = state.now_s
    state.unsided = ()
    if stage is None:
        return Reply()
    fact = MissingTold(stage=now.stage_name, items=tuple(one.name for one in items), because="silence")
    if stage.id in state.answers or stage.id in state.waiting:
        reply = Reply([fact])
        reply.say(said_missing(tuple(one for one in items if one.name.startswith(name_of(stage, state.side)))))
        return reply
    state.asked = True
    return Reply([fact], then=Then.ENTER, stage=stage)
