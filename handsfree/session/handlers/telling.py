"""What is still missing, told to whoever asks: while anything is asked, read back or held, and that stays as it is."""

from handsfree.model.effects import Priority
from handsfree.model.facts import MissingTold
from handsfree.model.open_items import OpenReading, OpenZone
from handsfree.session.context import EventContext, Reply
from handsfree.session.holds import in_order
from handsfree.session.modes import Mode
from handsfree.session.navigation import open_items
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.hold_sentences import HeldInStatus, LeftOpen
from handsfree.session.prompts.sentence_codes import AnySentence
from handsfree.session.questions import said_missing
from handsfree.session.section import missing
from handsfree.session.visit import name_of


def tell_missing(now: EventContext) -> Reply:
    """Take "what is missing": what is open in the phase, before it what holds the visit."""
    state = now.state
    if now.mode is Mode.ASKING:
        items = missing(now.visit, state)
        reply = Reply([MissingTold(stage=now.stage_name, items=tuple(one.name for one in items), because="asked")])
        reply.say(said_missing(items) if items else Fixed.NOTHING_MISSING)
        return reply
    held = {name_of(now.visit.plan.stage(hold.stage_id), state.side) for hold in state.holds}
    # What holds is told as such: that its answer is open would ask for one.
    items = tuple(one for one in missing(now.visit, state) if one.name.partition(".")[0] not in held)
    reply = Reply([MissingTold(stage=now.stage_name, items=tuple(one.name for one in items), because="asked")])
    told: list[AnySentence] = [HeldInStatus(tuple(hold.grounds for hold in in_order(state.holds)))] if held else []
    told += [said_missing(items)] if items else []
    kinds = OpenReading | OpenZone if now.stage.step.kind == "expose" else OpenReading
    left = tuple(one for one in open_items(now.visit.plan, state) if isinstance(one, kinds))
    told += [LeftOpen(left)] if left else []
    reply.say(*(told or [Fixed.NOTHING_MISSING]), priority=Priority.INFORMATION)
    return reply
