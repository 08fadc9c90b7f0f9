"""What may be a cry of heat or pain while lit: the light ends at once, then it is asked."""

from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import CryHeard, CrySettled, LightOffConfirmed
from handsfree.model.reasons import HeatWordSaid
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.deadlines import CRY_WAIT_S
from handsfree.session.holds import hold_after_heat
from handsfree.session.modes import Mode
from handsfree.session.navigation import stage_of_heat
from handsfree.session.prompts.fixed import Fixed, HoldAction
from handsfree.session.prompts.hold_sentences import ThenWays
from handsfree.session.questions import warmth
from handsfree.session.ways import ways_from
from handsfree.session.zones import label_of, run_facts, total_of, zone_sum


def stop_for_cry(now: EventContext) -> Reply:
    """End the run where the words began, and ask whether it was heat or pain."""
    state, ledger = now.state, now.ledger
    outcome = ledger.cry(now.from_s, now.to_s)
    assert outcome.run is not None  # noqa: S101 - taken while lit alone
    cry = CryHeard(zone=outcome.run.zone_id, words=now.written or now.heard.text, heard=now.heard)
    state.modes.drop(frozenset({Mode.LIT}))
    state.modes.push(Mode.CRIED)
    state.cried_s = state.now_s
    reply = Reply([*run_facts(ledger, outcome.run, now.heard), cry])
    reply.say(Fixed.WAS_IT_HEAT, priority=Priority.STOP)
    return reply


def affirm_heat(now: EventContext) -> Reply:
    """It was: the red hold, as after a word of heat or pain."""
    reply = Reply([CrySettled(heat=True, heard=now.heard)])
    stage = stage_of_heat(now.visit.plan, now.state)
    hold = hold_after_heat(stage, HeatWordSaid("cry"), label_of(now.ledger, now.ledger.runs[-1].zone_id))
    reply.holds.append(hold)
    now.state.modes.rest(Mode.HELD)
    ways = ways_from(now.visit, now.state, hold)
    reply.say(HoldAction.LIGHT_OFF_LOOK, ThenWays(ways), priority=Priority.STOP)
    return reply


def deny_heat(now: EventContext) -> Reply:
    """It was not: the work goes on with what the zone has had."""
    now.state.modes.pop(Mode.CRIED)
    reply = Reply([CrySettled(heat=False, heard=now.heard)], [Earcon.RECORDED], Then.NEXT_ZONE)
    reply.say(zone_sum(now.ledger, now.ledger.runs[-1].zone_id), priority=Priority.INFORMATION)
    return reply


def stop_unanswered(now: EventContext) -> Reply:
    """Nobody said whether it was: after `CRY_WAIT_S` that is a stop."""
    state = now.state
    if state.now_s < state.cried_s + CRY_WAIT_S:
        return Reply()
    state.modes.turn_into(Mode.WARMTH)
    state.modes.push(Mode.PAUSED)
    state.stopped = True
    state.warmth_asked_s = state.now_s
    reply = Reply([CrySettled(heat=None, heard=None)])
    reply.say(Fixed.STOPPED_WHILE_LIT, warmth(now.guidance), Fixed.RESUME_OR_END, priority=Priority.STOP)
    return reply


def bear_out_stop(now: EventContext) -> Reply:
    """Take "light off" after a cry or a stop word: until then the light may have been on. What is asked stays."""
    zone = now.ledger.runs[-1].zone_id
    reply = Reply([LightOffConfirmed(zone=zone, heard=now.heard), total_of(now.ledger, zone)], [Earcon.RECORDED])
    if now.mode is Mode.CRIED:
        now.state.cried_s = now.state.now_s
        reply.say(Fixed.WAS_IT_HEAT, priority=Priority.ATTENTION)
    elif now.mode is Mode.PAUSED and now.state.stopped:
        reply.say(Fixed.STILL_STOPPED)
    return reply
