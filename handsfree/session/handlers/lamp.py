"""The lamp: on, off, its beeps, the strap, the cues between. Times are those at which words were spoken."""

from dataclasses import replace
from math import isfinite

from handsfree.exposure.light_cues import cues_between
from handsfree.exposure.runs import OFF_BY_WORDS, LedgerChange, LedgerOutcome, LightRun
from handsfree.model.commands import Control
from handsfree.model.effects import Earcon, Priority
from handsfree.model.events import CommandSpoken, ToneHeard
from handsfree.model.facts import (
    LampBeeped,
    LampDisagreed,
    LateHeatAsked,
    LightOffSaidAfterSound,
    LightOnRepeated,
    LightStillOn,
    LightTurnedOn,
    PositionReconfirmed,
    StrapRemoved,
    StrapReplaced,
    ZoneChosen,
)
from handsfree.model.light import Cue, LampAgreement, LampDisagreement
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.session import cries
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.deadlines import cry_due_s, light_in_doubt, missing_due_s, off_due_s
from handsfree.session.heat_report import late_question_due, warmth_is_open
from handsfree.session.light_off_owed import tell_off_owed
from handsfree.session.light_permission import why_not
from handsfree.session.missing_asked import ask_for_missing
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.sentence_codes import InShadow, OffNotHeard, WordsApart, ZoneIs
from handsfree.session.questions import late_warmth, warmth
from handsfree.session.state import SessionState
from handsfree.session.stray_light import end_stray, lapse, look_at_stray, refuse_light
from handsfree.session.timers import tell_timers, timer_due_s
from handsfree.session.warmth_again import ask_warmth_again
from handsfree.session.zones import (
    how_to_light,
    is_being_lit,
    is_owed,
    label_of,
    run_facts,
    total_of,
    zone_sum,
    zones_of,
)

_REFUSALS = {
    LedgerChange.REFUSED_STALE: RefusalCode.SAID_BEFORE_COUNTED,
    LedgerChange.REFUSED_TIME: RefusalCode.TIME_UNKNOWN,
    LedgerChange.REFUSED_UNKNOWN_ZONE: RefusalCode.NO_LIGHT_HERE,
}
_DISAGREEMENTS = {
    LampAgreement.BEEPS_MISSING: LampDisagreement.BEEPS_MISSING,
    LampAgreement.BEEP_AFTER_OFF: LampDisagreement.BEEP_AFTER_OFF,
}


def refuse_while_lit(now: EventContext) -> Reply:
    """Everything but light and strap waits for the dark."""
    return now.refuse(RefusalCode.LIGHT_OFF_FIRST)


def light_on(now: EventContext) -> Reply:
    """Take "light on"."""
    state, ledger, plan = now.state, now.state.ledger, now.visit.plan
    reason = why_not(plan, state)
    if ledger is not None and ledger.is_lit:
        _move_on_while_lit(now)
    if ledger is not None and not isfinite(now.to_s):
        return now.refuse(RefusalCode.TIME_UNKNOWN)
    if ledger is not None and ledger.was_dark_after(now.to_s):
        return now.refuse(RefusalCode.SAID_BEFORE_COUNTED)
    if reason is not None or ledger is None or state.zone_id is None:
        return refuse_light(now, reason or Refusal(RefusalCode.NO_LIGHT_HERE))
    zone_id, guidance = state.zone_id, now.guidance
    counted_s = _affirmed_s(now)
    possible_s = now.to_s if counted_s > now.to_s else None
    outcome = ledger.light_on(zone_id, counted_s, possible_s)
    if outcome.refused:
        return now.refuse(_REFUSALS[outcome.happened])
    if outcome.happened is LedgerChange.REPEATED:
        return Reply([LightOnRepeated(zone=zone_id, heard=now.heard)], [Earcon.HEARD])
    reply = Reply()
    if outcome.run is not None:
        missed = outcome.run.zone_id
        reply.facts += run_facts(ledger, outcome.run, now.heard)
        reply.say(OffNotHeard(label_of(ledger, missed), ledger.lit_s(missed)), priority=Priority.ATTENTION)
    reply.facts.append(
        LightTurnedOn(
            stage=now.stage_name,
            zone=zone_id,
            counted_from_s=round(counted_s, 3),
            possible_from_s=round(possible_s, 3) if possible_s is not None else None,
            heat_reported=guidance.patient_reports_heat,
            heard=now.heard,
        )
    )
    state.warmth_answered_s = state.cued_off_s = state.off_owed = None
    # From where the light counts: what fell due while "light on" was being understood is said at once.
    state.last_look_s = counted_s
    if now.mode is not Mode.LIT:
        state.modes.push(Mode.LIT)
    reply.talk.append(Earcon.HEARD)
    if outcome.happened is LedgerChange.LIT_IN_SHADOW:
        reply.say(InShadow(label_of(ledger, zone_id)), priority=Priority.ATTENTION)
    return reply


def _affirmed_s(now: EventContext) -> float:
    """When "light on" was said, or affirmed where it was in doubt: nothing is credited on a doubt."""
    assert now.said is not None  # noqa: S101 - called for a command
    if now.said.asked and isinstance(now.event, CommandSpoken):
        return max(now.to_s, now.event.heard.spoken_to_s)
    return now.to_s


def _move_on_while_lit(now: EventContext) -> None:
    """Go on where "light off" was missed: a zone that has had its seconds by now is followed by the next one."""
    ledger, lit = now.ledger, now.ledger.lit_zone
    if lit is None or ledger.short_s(lit, now.state.now_s) > 0:
        return
    others = (zone for zone in zones_of(now.stage, ledger) if zone != lit)
    now.state.zone_id = next((zone for zone in others if is_owed(zone, now.state)), now.state.zone_id)


def light_off(now: EventContext) -> Reply:
    """Take "light off": the run ends when the word began. In the dark it may bear out an end by the lamp's sound."""
    ledger, owed = now.state.ledger, now.state.off_owed
    now.state.off_owed = None
    if now.mode is Mode.STRAY or (now.mode is Mode.DOUBTING and light_in_doubt(now.state)):
        return end_stray(now)
    if owed is not None and owed.stray_from_s is not None:
        return cries.bear_out_stop(now, owed)
    outcome = ledger.light_off(now.from_s) if ledger is not None else None
    if ledger is None or outcome is None or outcome.happened is LedgerChange.REFUSED_NOT_LIT:
        return cries.bear_out_stop(now, owed) if owed is not None else now.refuse(RefusalCode.LIGHT_WAS_NOT_ON)
    if outcome.happened is LedgerChange.OFF_AFTER_STOP:
        return cries.bear_out_stop(now, owed)
    if outcome.happened in {LedgerChange.OFF_AGREES, LedgerChange.OFF_DIFFERS}:
        return _bear_out(now, outcome)
    if outcome.refused:
        outcome = ledger.stop(now.from_s, OFF_BY_WORDS)
    if now.state.cued_off_s is not None and now.from_s > now.state.cued_off_s:
        now.state.reactions_s.append(now.from_s - now.state.cued_off_s)
    assert outcome.run is not None  # noqa: S101 - whatever else is refused or bears out
    return _run_ended(now, outcome.run, by_words=True)


def _run_ended(now: EventContext, run: LightRun, *, by_words: bool) -> Reply:
    """A run ended in the ordinary way: its sum, then warmth or the next zone."""
    ledger = now.ledger
    now.state.modes.drop(frozenset({Mode.LIT}))
    ended, total = run_facts(ledger, run, now.heard if by_words else None)
    reply = Reply([ended, total], [Earcon.RECORDED])
    disagreement = _DISAGREEMENTS.get(ended.beeps)
    if disagreement is not None:
        reply.facts.append(LampDisagreed(what=disagreement, zone=run.zone_id))
        reply.say(Fixed.LAMP_AND_WORDS_DIFFER, priority=Priority.INFORMATION)
    told = zone_sum(ledger, run.zone_id)
    if now.stage.step.warmth:
        now.state.warmth_asked_s = now.state.now_s
        now.state.modes.push(Mode.WARMTH)
        reply.say(told, warmth(now.guidance))
    else:
        reply.say(told, priority=Priority.INFORMATION)
        reply.then = Then.NEXT_ZONE
    return reply


def _bear_out(now: EventContext, outcome: LedgerOutcome) -> Reply:
    """Words that follow an end by sound: set beside it, with what is counted now."""
    ledger = now.ledger
    run = outcome.run
    assert run is not None  # noqa: S101 - such outcomes carry the run
    agrees = outcome.happened is LedgerChange.OFF_AGREES
    said = LightOffSaidAfterSound(
        zone=run.zone_id,
        agrees=agrees,
        counted_from_s=round(run.from_s, 3),
        counted_to_s=round(run.known_to_s, 3),
        possible_to_s=round(run.to_s, 3),
        heard=now.heard,
    )
    reply = Reply([said, total_of(ledger, run.zone_id)], [Earcon.RECORDED])
    if not agrees:
        reply.facts.append(LampDisagreed(what=LampDisagreement.WORDS_APART, zone=run.zone_id))
        reply.say(WordsApart(outcome.apart_s), priority=Priority.INFORMATION)
    return reply


def tone(now: EventContext) -> Reply:
    """The lamp beeped. In the dark before any light that says nothing and is not kept."""
    event, state, ledger = now.event, now.state, now.state.ledger
    assert isinstance(event, ToneHeard)  # noqa: S101 - dispatch calls it for these
    if ledger is None:
        return Reply()
    lit_zone, beeped_before = ledger.lit_zone, state.beeped_after_runs
    outcome = ledger.tone(event.from_s, event.to_s)
    if lit_zone is None and outcome.happened is not LedgerChange.BEEP_WHILE_DARK:
        return Reply()
    beep = LampBeeped(from_s=round(event.from_s, 3), to_s=round(event.to_s, 3), zone=lit_zone)
    if outcome.happened is LedgerChange.DARKENED_BY_SOUND and outcome.run is not None:
        reply = _run_ended(now, outcome.run, by_words=False)
        reply.facts.insert(0, beep)
        return reply
    reply = Reply([beep])
    if outcome.happened is LedgerChange.BEEP_WHILE_DARK:
        state.beeped_after_runs = len(ledger.runs)
        if beeped_before != len(ledger.runs):
            zone = ledger.runs[-1].zone_id
            reply.facts.append(LampDisagreed(what=LampDisagreement.BEEP_AFTER_OFF, zone=zone))
            # The lamp may still be heating: that comes before an open question, which is asked again.
            reply.say(Fixed.LAMP_STILL_BEEPS, priority=Priority.ATTENTION, passing=True)
            if state.last_said is not None:
                reply.talk.append(replace(state.last_said, priority=Priority.PROMPT))
    return reply


def strap(now: EventContext) -> Reply:
    """Take "strap off" and "strap on"."""
    ledger = now.state.ledger
    if ledger is None:
        return now.refuse(RefusalCode.NO_STRAP)
    off = now.said is not None and now.said.control is Control.STRAP_OFF
    spoken_s = now.to_s if off else now.from_s
    if off:
        ledger.strap_off(spoken_s)
    else:
        ledger.strap_on(spoken_s)
    kind = StrapRemoved if off else StrapReplaced
    reply = Reply([kind(at_s=round(spoken_s, 3), heard=now.heard)], [Earcon.RECORDED])
    reply.say(Fixed.STRAP_OFF if off else Fixed.STRAP_ON)
    return reply


def choose_zone(now: EventContext) -> Reply:
    """Naming a zone chooses it: for extra light where a zone is still soft."""
    zone_id, ledger = now.chosen, now.state.ledger
    if ledger is None or zone_id not in zones_of(now.stage, ledger):
        return now.refuse(RefusalCode.NOT_ON_THE_LIST)
    now.state.zone_id = zone_id
    reply = Reply([ZoneChosen(zone=zone_id, heard=now.heard)])
    reply.say(ZoneIs(label_of(ledger, zone_id)), how_to_light(ledger, zone_id))
    return reply


def tick(now: EventContext) -> Reply:
    """Time passed: cues while lit, the sign of life, the late question about heat."""
    state, ledger = now.state, now.state.ledger
    if ledger is not None and ledger.is_lit:
        return _tick_while_lit(now)
    if now.mode is Mode.STRAY:
        return look_at_stray(now)
    if now.mode is Mode.DOUBTING and light_in_doubt(state):
        return lapse(now)
    if now.mode is Mode.CRIED and cry_due_s(state) <= state.now_s:
        return cries.stop_unanswered(now)
    if off_due_s(now.visit, state) <= state.now_s:
        return tell_off_owed(now)
    if warmth_is_open(state):
        return ask_warmth_again(now)
    if timer_due_s(state) <= state.now_s:
        return tell_timers(now)
    if not late_question_due(state):
        return ask_for_missing(now) if missing_due_s(now.visit, state) <= state.now_s else Reply()
    overdue = state.late_window_s is not None and state.now_s > state.late_window_s[1]
    state.modes.push(Mode.LATE_HEAT)
    state.warmth_asked_s = state.now_s
    return Reply([LateHeatAsked(overdue=overdue)], [late_warmth(now.guidance)])


def _tick_while_lit(now: EventContext) -> Reply:
    state, ledger, now_s, guidance = now.state, now.ledger, now.state.now_s, now.guidance
    silence = ledger.listen_for_silence(now_s)
    if silence.run is not None:
        return _run_ended(now, silence.run, by_words=False)
    due = cues_between(ledger, guidance, state.last_look_s, now_s, state.warmth_answered_s)
    if not due and now_s <= state.last_look_s:
        return Reply()
    _note_cue_to_end(state, due)
    ledger.heartbeat(now_s)
    zone = ledger.lit_zone
    assert zone is not None  # noqa: S101 - it is lit
    state.last_look_s = now_s
    reply = Reply([LightStillOn(zone=zone, at_s=round(now_s, 3), cues=due)], [Earcon.TICK])
    for cue in due:
        _say_cue(reply, cue, reports_heat=guidance.patient_reports_heat)
    return reply


def _note_cue_to_end(state: SessionState, due: tuple[Cue, ...]) -> None:
    """Keep when people were told to put the light off; whoever needs to be told twice shows no reaction."""
    if Cue.TARGET_REACHED in due:
        state.cued_off_s = state.now_s
    elif Cue.TIME_OVER in due or Cue.TAKE_AWAY in due:
        state.cued_off_s = None


def _say_cue(reply: Reply, cue: Cue, *, reports_heat: bool) -> None:
    match cue:
        case Cue.HALF:
            reply.say(Fixed.HALF, priority=Priority.INFORMATION)
        case Cue.NEXT_SPOT:
            reply.say(Fixed.NEXT_SPOT, priority=Priority.ATTENTION)
        case Cue.TARGET_REACHED:
            # As short as can be: while the tool speaks it cannot hear "light off".
            reply.say(Fixed.LIGHT_OFF, priority=Priority.ATTENTION)
        case Cue.TIME_OVER:
            reply.talk.append(Earcon.ATTENTION)
            reply.say(Fixed.TIME_OVER, priority=Priority.ATTENTION)
        case Cue.TAKE_AWAY:
            reply.talk.append(Earcon.ATTENTION)
            reply.say(Fixed.TAKE_AWAY, priority=Priority.ATTENTION)
        case Cue.OVERRUN:
            reply.talk.append(Earcon.ATTENTION)
        case Cue.WARMTH_DUE:
            reply.say(Fixed.WARMTH if reports_heat else Fixed.LIGHT_OFF_TOUCH, priority=Priority.ATTENTION)


def reconfirm_position(now: EventContext) -> Reply:
    """After an interruption position and warmth were checked."""
    state = now.state
    state.off_owed = None
    state.modes.rest(Mode.ASKING)
    reply = Reply([PositionReconfirmed(heard=now.heard)], then=Then.ASK)
    if state.red or state.held_at(now.stage.id):
        reply.then = Then.HOLD
    elif is_being_lit(now.stage, state):
        reply.then = Then.NEXT_ZONE
    elif now.stage.id in state.done and not state.reviewing:
        reply.then = Then.GO_ON
    return reply
