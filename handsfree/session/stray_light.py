"""Light where none is permitted: kept as light outside a zone, until somebody says what became of it."""

from dataclasses import replace

from handsfree.definition.side_words import on_paper, with_side
from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import AnyFact, StrayLightBegan, StrayLightEnded, Utterance
from handsfree.model.refusals import Refusal, RefusalCode, RefusalReason, StepFirst
from handsfree.session.context import EventContext, Reply
from handsfree.session.deadlines import LIGHT_DOUBT_S, STRAY_EVERY_S, light_in_doubt
from handsfree.session.interruptions import coming_back
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.sentence_codes import RefusedBecause
from handsfree.session.state import SessionState, StrayLight
from handsfree.session.visit import name_of, side_of

_SAY_IT_THEMSELVES = frozenset(
    {
        RefusalCode.WARMTH_FIRST,
        RefusalCode.HEAT_FIRST,
        RefusalCode.RESUME_FIRST,
        RefusalCode.POSITION_FIRST,
        RefusalCode.ANSWER_FIRST,
        RefusalCode.ON_NOT_AFFIRMED,
    }
)
"""Refusals that begin with "light off"."""


def refuse_light(now: EventContext, reason: Refusal | StepFirst) -> Reply:
    """No light now: what speaks against it, and light outside a zone until somebody says what became of it."""
    before = ""
    if isinstance(reason, StepFirst):
        owed = next(one for one in now.visit.plan.stages if name_of(one, now.state.side) == reason.stage)
        before = on_paper(with_side(owed.step.expert or owed.step.prompt, side_of(owed, now.state.side)))
    refused = now.refuse(reason, before)
    return begin_stray(now, Reply(refused.facts), reason, before)


def begin_stray(now: EventContext, reply: Reply, why: RefusalReason, before: str = "") -> Reply:
    """Light went on where none is permitted: say what is missing, and ask for what became of it.

    Args:
        now: The event, with the words "light on".
        reply: What was put on record of it.
        why: What speaks against light.
        before: Of a step that must be done first, its prompt.
    """
    reply.facts.append(_begun(now.state, now.to_s, now.stage_name, why, now.heard))
    _tell_why(reply, why, before)
    return reply


def _begun(state: SessionState, at_s: float, stage: str, why: RefusalReason, heard: Utterance) -> StrayLightBegan:
    state.stray, state.off_owed = StrayLight(at_s, state.now_s, state.last_said), None
    state.modes.push(Mode.STRAY)
    state.acted_upon = True
    return StrayLightBegan(at_s=round(at_s, 3), stage=stage, why=why, heard=heard)


def _tell_why(reply: Reply, why: RefusalReason, before: str = "") -> None:
    off = () if isinstance(why, Refusal) and why.code in _SAY_IT_THEMSELVES else (Fixed.LIGHT_OFF,)
    reply.talk.append(Earcon.ATTENTION)
    reply.say(*off, RefusedBecause(why, before), priority=Priority.ATTENTION)


def tell_again(now: EventContext) -> Reply:
    """Take "light on" once more, while it is asked what became of it."""
    return _told(now)


def look_at_stray(now: EventContext) -> Reply:
    """Time passed: say it again until somebody says what became of the light."""
    stray = now.state.stray
    assert stray is not None  # noqa: S101 - the mode is entered with it
    return _told(now) if now.state.now_s >= stray.told_s + STRAY_EVERY_S else Reply()


def _told(now: EventContext) -> Reply:
    assert now.state.stray is not None  # noqa: S101 - as above
    now.state.stray = replace(now.state.stray, told_s=now.state.now_s)
    reply = Reply([], [Earcon.ATTENTION])
    reply.say(Fixed.STRAY_LIGHT, priority=Priority.ATTENTION)
    return reply


def end_stray(now: EventContext) -> Reply:
    """Take "light off": the seconds are kept, credited to nothing."""
    reply = Reply(stray_facts(now), [Earcon.RECORDED])
    now.state.modes.pop(now.mode)
    reply.then = coming_back(now)
    return reply


def deny_light(now: EventContext) -> Reply:
    """Take "negative": a lamp was only spoken of."""
    reply = Reply(stray_facts(now, lit=False))
    now.state.modes.pop(Mode.STRAY)
    reply.then = coming_back(now)
    return reply


def stray_facts(now: EventContext, *, lit: bool = True) -> list[AnyFact]:
    """What ends light outside a zone, or "light on" in doubt, with these words; nothing where there is neither."""
    state = now.state
    facts: list[AnyFact] = []
    if light_in_doubt(state) and state.doubt is not None:
        doubt, state.doubt = state.doubt, None
        why = Refusal(RefusalCode.ON_NOT_AFFIRMED)
        began = StrayLightBegan(at_s=round(doubt.to_s, 3), stage=now.stage_name, why=why, heard=doubt.heard)
        facts.append(began)
        from_s = doubt.to_s
    elif state.stray is not None:
        from_s, state.last_said, state.stray = state.stray.from_s, state.stray.before, None
    else:
        return []
    if state.ledger is not None:
        state.ledger.stop(now.from_s, "")
    to_s = max(from_s, now.from_s)
    facts.append(StrayLightEnded(from_s=round(from_s, 3), to_s=round(to_s, 3), lit=lit, heard=now.heard))
    return facts


def stray_until_off(now: EventContext, from_s: float) -> list[AnyFact]:
    """What "light off" puts on record of light outside a zone that a cry or a stop word had ended."""
    if now.state.ledger is not None:
        now.state.ledger.stop(now.from_s, "")
    to_s = max(from_s, now.from_s)
    return [StrayLightEnded(from_s=round(from_s, 3), to_s=round(to_s, 3), lit=True, heard=now.heard)]


def lapse(now: EventContext) -> Reply:
    """Nobody answered "did you say light on?": after `LIGHT_DOUBT_S` it is light that nobody affirmed."""
    state = now.state
    if state.now_s < state.doubted_s + LIGHT_DOUBT_S:
        return Reply()
    return leave_doubt(now, Reply())


def leave_doubt(now: EventContext, reply: Reply) -> Reply:
    """What was doubted is taken for light that nobody affirmed."""
    state, doubt = now.state, now.state.doubt
    assert doubt is not None  # noqa: S101 - there was a doubt
    state.doubt = None
    state.modes.drop(frozenset({Mode.DOUBTING}))
    why = Refusal(RefusalCode.ON_NOT_AFFIRMED)
    reply.facts.append(_begun(state, doubt.to_s, now.stage_name, why, doubt.heard))
    _tell_why(reply, why)
    return reply
