"""What may be a cry of heat or pain: whatever light there is ends at once, then it is asked."""

from dataclasses import replace

from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import AnyFact, CryHeard, CrySettled, LightOffConfirmed
from handsfree.model.light import RunEnd
from handsfree.model.reasons import HeatWordSaid
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.heat_report import asked_in_pause, warmth_is_open
from handsfree.session.holds import hold_after_heat
from handsfree.session.interruptions import break_off, coming_back, pause_stopped
from handsfree.session.light_off_owed import off_told, owe_off
from handsfree.session.modes import Mode
from handsfree.session.navigation import stage_of_heat
from handsfree.session.prompts.fixed import Fixed, HoldAction
from handsfree.session.prompts.hold_sentences import ThenWays
from handsfree.session.questions import warmth
from handsfree.session.state import Cried, OffOwed, SessionState
from handsfree.session.stray_light import stray_facts, stray_until_off
from handsfree.session.ways import ways_from
from handsfree.session.zones import label_of, run_facts, total_of, zone_sum


def stop_for_cry(now: EventContext) -> Reply:
    """End whatever light there is where the words began, and ask whether it was heat or pain; once more, ask anew."""
    state = now.state
    facts, zone_id = _ended_by_cry(now)
    owe_off(state, facts)
    state.modes.drop(frozenset({Mode.LIT, Mode.STRAY}))
    if now.mode is Mode.DOUBTING and state.doubt is None:
        state.modes.pop(Mode.DOUBTING)
    if now.mode is Mode.CRIED and state.cried is not None:
        state.cried = replace(state.cried, asked_s=state.now_s)
        off_told(state)
    else:
        state.modes.push(Mode.CRIED)
        state.cried = Cried(state.now_s, zone_id, state.last_said)
    words = now.written or now.heard.text
    reply = Reply([*facts, CryHeard(zone=state.cried.zone_id, words=words, heard=now.heard)])
    reply.say(Fixed.WAS_IT_HEAT, priority=Priority.STOP)
    return reply


def _ended_by_cry(now: EventContext) -> tuple[list[AnyFact], str]:
    """What the end of the light puts on record, and the zone that the words are about; "" where there is none."""
    state, ledger = now.state, now.state.ledger
    if ledger is None:
        return [], ""
    run = ledger.cry(now.from_s, now.to_s).run
    if run is not None:
        return list(run_facts(ledger, run, now.heard)), run.zone_id
    asked_of_zone = warmth_is_open(state) and now.mode is not Mode.LATE_HEAT
    return stray_facts(now), (state.zone_id or "") if asked_of_zone else ""


def affirm_heat(now: EventContext) -> Reply:
    """It was: the red hold, as after a word of heat or pain."""
    zone = zone_of_cry(now.state)
    reply = Reply([CrySettled(heat=True, heard=now.heard), *break_off(now)])
    stage = stage_of_heat(now.visit.plan, now.state)
    hold = hold_after_heat(stage, HeatWordSaid("cry"), zone)
    reply.holds.append(hold)
    now.state.modes.rest(Mode.HELD)
    off_told(now.state)
    ways = ways_from(now.visit, now.state, hold)
    reply.say(HoldAction.LIGHT_OFF_LOOK, ThenWays(ways), priority=Priority.STOP)
    return reply


def deny_heat(now: EventContext) -> Reply:
    """It was not: back to what was asked, or on with what the zone has had."""
    state, cried = now.state, now.state.cried
    assert cried is not None  # noqa: S101 - the mode is entered with one
    state.modes.pop(Mode.CRIED)
    state.cried, state.last_said = None, cried.before
    reply = Reply([CrySettled(heat=False, heard=now.heard)], [Earcon.RECORDED])
    if cried.zone_id and now.mode is Mode.ASKING:
        reply.then = Then.NEXT_ZONE
        reply.say(zone_sum(now.ledger, cried.zone_id), priority=Priority.INFORMATION)
    else:
        reply.then = coming_back(now)
    return reply


def stop_unanswered(now: EventContext) -> Reply:
    """Nobody said whether it was: after `deadlines.CRY_WAIT_S` that is a stop."""
    cried = now.state.cried
    assert cried is not None  # noqa: S101 - due with it alone
    reply = Reply([CrySettled(heat=None, heard=None), *break_off(now)])
    pause_stopped(now, zone=bool(cried.zone_id))
    off_told(now.state)
    asked = (warmth(now.guidance),) if cried.zone_id and asked_in_pause(now.state) else ()
    reply.say(Fixed.STOPPED_WHILE_LIT, *asked, Fixed.RESUME_OR_END, priority=Priority.STOP)
    return reply


def zone_of_cry(state: SessionState) -> str:
    """Name of the zone that what may be a cry is about; "" where there is none."""
    if state.cried is None or state.ledger is None:
        return ""
    return label_of(state.ledger, state.cried.zone_id)


def bear_out_stop(now: EventContext, owed: OffOwed | None) -> Reply:
    """Take "light off" after a cry, a stop word or a break: it may have been on until then. What is asked stays."""
    if owed is not None and owed.stray_from_s is not None:
        facts = stray_until_off(now, owed.stray_from_s)
    else:
        last = now.ledger.runs[-1]
        facts = [LightOffConfirmed(zone=last.zone_id, heard=now.heard)]
        if last.end is not RunEnd.INTERRUPTED:
            facts.append(total_of(now.ledger, last.zone_id))
    reply = Reply(facts, [Earcon.RECORDED])
    if now.mode is Mode.CRIED and now.state.cried is not None:
        now.state.cried = replace(now.state.cried, asked_s=now.state.now_s)
        reply.say(Fixed.WAS_IT_HEAT, priority=Priority.ATTENTION)
    elif now.mode is Mode.PAUSED and now.state.stopped:
        reply.say(Fixed.STILL_STOPPED)
    elif now.mode is Mode.RECONFIRM:
        reply.say(Fixed.CHECK_POSITION_IN_THE_DARK)
    elif now.mode is Mode.OPEN_ITEMS:
        reply.then = Then.ASK
    return reply
