"""Stop words: they act at once, in every mode."""

from typing import Literal

from handsfree.model.commands import Control
from handsfree.model.effects import Priority
from handsfree.model.facts import (
    AnyFact,
    StopWordHeard,
)
from handsfree.model.reasons import HeatWordSaid
from handsfree.session.context import EventContext, Reply
from handsfree.session.cries import zone_of_cry
from handsfree.session.heat_report import asked_in_pause
from handsfree.session.holds import hold_after_heat
from handsfree.session.interruptions import break_off, pause_stopped
from handsfree.session.light_off_owed import owe_off
from handsfree.session.modes import Mode
from handsfree.session.navigation import stage_of_heat
from handsfree.session.prompts.fixed import Fixed, HoldAction
from handsfree.session.prompts.hold_sentences import ThenWays
from handsfree.session.questions import warmth
from handsfree.session.stray_light import stray_facts
from handsfree.session.ways import ways_from
from handsfree.session.zones import label_of, run_facts

_WORDS: dict[Control, Literal["stop", "hot", "pain"]] = {
    Control.STOP: "stop",
    Control.HOT: "hot",
    Control.PAIN: "pain",
}


def stop(now: EventContext) -> Reply:
    """A stop word that is no plain "light off": acts at once, in any mode, and breaks off whatever is on top.

    After any light, heat or pain holds the visit until somebody answers for it; else the visit is paused.
    """
    control = now.said.control if now.said is not None else None
    assert control is not None  # noqa: S101 - dispatch calls it for these
    word, state = _WORDS[control], now.state
    zone = _zone(now)
    facts = darken(now, word)
    lit_at_all = bool(facts) or (state.ledger is not None and bool(state.ledger.runs))
    while_lit = bool(facts)
    owe_off(state, facts)
    facts.append(StopWordHeard(word=word, while_lit=while_lit, mode=now.mode.value, heard=now.heard))
    facts += break_off(now)
    reply = Reply(facts)
    if word != "stop" and lit_at_all:
        stage = stage_of_heat(now.visit.plan, state)
        hold = hold_after_heat(stage, HeatWordSaid(word), zone)
        reply.holds.append(hold)
        state.modes.rest(Mode.HELD)
        ways = ways_from(now.visit, state, hold)
        reply.say(HoldAction.LIGHT_OFF_LOOK, ThenWays(ways), priority=Priority.STOP)
        return reply
    pause_stopped(now, zone=bool(zone))
    how = Fixed.STOPPED_WHILE_LIT if while_lit else Fixed.STOPPED
    asked = (warmth(now.guidance),) if zone and asked_in_pause(state) else ()
    reply.say(how, *asked, Fixed.RESUME_OR_END, priority=Priority.STOP)
    return reply


def _zone(now: EventContext) -> str:
    """Name of the zone that is lit, or that what may be a cry is about; "" where none is."""
    ledger = now.state.ledger
    return zone_of_cry(now.state) or (label_of(ledger, ledger.lit_zone) if ledger is not None else "")


def darken(now: EventContext, reason: str) -> list[AnyFact]:
    """End the run of light, if there is one, when the words were said; what that puts on record."""
    ledger = now.state.ledger
    if ledger is None:
        return []
    stray = stray_facts(now)
    if stray:
        return stray
    outcome = ledger.stop(now.from_s, reason)
    if outcome.run is None:
        return []
    return list(run_facts(ledger, outcome.run, now.heard))
