"""Warmth: answered while lit, after a zone, in a pause or late, by a word or a pain score."""

from handsfree.exposure.light_cues import pain_stops
from handsfree.model.commands import GiveValues
from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import PainScored, WarmthAnswered
from handsfree.model.light import Warmth
from handsfree.model.readings import Exact
from handsfree.model.reasons import PainOverLimit
from handsfree.model.refusals import RefusalCode
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.holds import hold_after_heat
from handsfree.session.listening_context import SCORE_SLOT
from handsfree.session.modes import Mode
from handsfree.session.navigation import stage_of_heat
from handsfree.session.prompts.fixed import Fixed, HoldAction
from handsfree.session.prompts.hold_sentences import ThenWays
from handsfree.session.prompts.sentence_codes import ScoreTaken
from handsfree.session.ways import ways_from
from handsfree.session.zones import label_of


def answer_warmth(now: EventContext) -> Reply:
    """Take an answer about warmth, while lit, after a zone, or to the late question: a word, or a pain score."""
    command = now.said.command if now.said is not None else None
    if isinstance(command, GiveValues) and command.values[0].slot == SCORE_SLOT and now.mode is not Mode.LIT:
        return _pain_score(now, command)
    word = now.chosen
    if word not in list(Warmth):
        return now.refuse(RefusalCode.NOT_ON_THE_LIST)
    state, mode = now.state, now.mode
    late = mode is Mode.LATE_HEAT
    fact = WarmthAnswered(answer=Warmth(word), zone=None if late else state.zone_id, late=late, heard=now.heard)
    state.warmth_answered_s = state.now_s
    reply = Reply([fact], [Earcon.RECORDED])
    if late:
        state.late_window_s = None
        state.late_answered_runs = len(state.ledger.runs) if state.ledger is not None else 0
        state.modes.pop(Mode.LATE_HEAT)
        reply.then = Then.GO_ON if now.mode is Mode.OPEN_ITEMS else Then.ASK
    elif mode is Mode.WARMTH:
        state.modes.pop(Mode.WARMTH)
        reply.then = Then.NEXT_ZONE
    elif mode is Mode.PAUSED:
        state.modes.pop(Mode.PAUSED)
        state.modes.turn_into(Mode.PAUSED)
        reply.say(Fixed.STILL_STOPPED)
    return reply


def _pain_score(now: EventContext, command: GiveValues) -> Reply:
    """A score on the numeric rating scale 0 … 10; from the profile's limit it stops, at once, as a stop word does."""
    value = command.values[0].value
    score = int(value.value) if isinstance(value, Exact) and value.decimals == 0 else -1
    if not 0 <= score <= 10:
        return now.refuse(RefusalCode.SCORE_ZERO_TO_TEN)
    state, late = now.state, now.mode is Mode.LATE_HEAT
    fact = PainScored(score=score, zone=None if late else state.zone_id, late=late, heard=now.heard)
    if pain_stops(score, now.guidance):
        reply = Reply([fact])
        stage = stage_of_heat(now.visit.plan, state)
        zone = "" if late or state.ledger is None else label_of(state.ledger, state.zone_id)
        hold = hold_after_heat(stage, PainOverLimit(score), zone)
        reply.holds.append(hold)
        state.modes.rest(Mode.HELD)
        ways = ways_from(now.visit, state, hold)
        reply.say(HoldAction.LIGHT_OFF_LOOK, ThenWays(ways), priority=Priority.STOP)
        return reply
    reply = Reply([fact], [Earcon.RECORDED])
    reply.say(ScoreTaken(score))
    return reply
