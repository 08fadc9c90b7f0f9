"""Light that a cry, a stop word or a break ended: asked for until somebody says "light off"; it may be on still."""

from collections.abc import Sequence
from dataclasses import replace

from handsfree.model.effects import Earcon, Priority
from handsfree.model.facts import AnyFact, StrayLightEnded
from handsfree.session.context import EventContext, Reply
from handsfree.session.deadlines import SAID_AT_STOP_S
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.state import OffOwed, SessionState


def owe_off(state: SessionState, facts: Sequence[AnyFact]) -> None:
    """Remember that nobody said "light off" of the light that these facts end; without any there was none."""
    if facts:
        stray = next((fact for fact in facts if isinstance(fact, StrayLightEnded)), None)
        state.off_owed = OffOwed(state.now_s, stray.from_s if stray is not None else None)
        off_told(state)


def off_told(state: SessionState) -> None:
    """It is said now to put the light off, with what else is said at a stop, where nobody has said that it is."""
    if state.off_owed is not None:
        state.off_owed = replace(state.off_owed, told_s=state.now_s + SAID_AT_STOP_S)


def tell_off_owed(now: EventContext) -> Reply:
    """Time passed, and nobody has said "light off": it is said again, and what is asked stays."""
    assert now.state.off_owed is not None  # noqa: S101 - due with it alone
    now.state.off_owed = replace(now.state.off_owed, told_s=now.state.now_s)
    reply = Reply([], [Earcon.ATTENTION])
    reply.say(Fixed.LIGHT_OFF_OWED, priority=Priority.ATTENTION, passing=True)
    return reply
