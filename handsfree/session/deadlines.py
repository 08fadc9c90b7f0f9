"""When time alone makes a visit do something: only light, heat and timers (`timers.timer_due_s`) run on time.

Silence is asked again about light, heat and warmth alone, and in a narrated visit once about what is missing: any
other question stands until somebody speaks ("say again" repeats it).
"""

from math import inf, isfinite

from handsfree.exposure.light_cues import next_cue_s
from handsfree.model.commands import Control, ControlCommand
from handsfree.session.heat_report import guidance_now, warmth_is_open
from handsfree.session.modes import Mode
from handsfree.session.section import open_in_section
from handsfree.session.state import SessionState
from handsfree.session.visit import Visit

BEAT_S = 1.0
"""While lit, a sign of life is written this often: what a crash can leave uncounted. Chosen here; common practice, no
source."""
_CUE_SLACK_S = 0.001
CRY_WAIT_S = 6.0
"""Seconds after which the question whether it was hot or painful is a stop, if nobody answers: time to look and speak.
Chosen here; common practice, no source."""

LIGHT_DOUBT_S = 5.0
"""Seconds for the answer to "did you say light on?": later it is taken for light that nobody affirmed.
Chosen here; common practice, no source."""
SAID_AT_STOP_S = 4.0
"""About so long it takes to say what is said at a stop: what follows too soon is talked into an answer.
Chosen here; common practice, no source."""
STRAY_EVERY_S = 5.0
"""Seconds from one prompt to put off light outside a zone to the next. Chosen here; common practice, no source."""


def light_in_doubt(state: SessionState) -> bool:
    """Whether it is asked whether "light on" was said."""
    command = state.doubt.command if state.doubt is not None else None
    return isinstance(command, ControlCommand) and command.control is Control.LIGHT_ON


def next_deadline_s(visit: Visit, state: SessionState) -> float | None:
    """Session time at which a tick is needed, seconds; None where nothing waits for time."""
    ledger = state.ledger
    if ledger is not None and ledger.is_lit:
        guidance = guidance_now(visit.plan, visit.guidance, state)
        cue_s = next_cue_s(ledger, guidance, state.last_look_s, state.warmth_answered_s)
        # Cues a moment late, so that rounding never leaves one just ahead of the tick that is to say it.
        due_s = [state.last_look_s + BEAT_S]
        if cue_s is not None:
            due_s.append(cue_s + _CUE_SLACK_S)
        if ledger.silence_due_s is not None:
            due_s.append(ledger.silence_due_s)
        return min(due_s)
    due = min(off_due_s(visit, state), _due_in_mode_s(visit, state))
    return due if isfinite(due) else None


def cry_due_s(state: SessionState) -> float:
    """Session time at which what may be a cry is a stop, unanswered, seconds; infinite where there is none."""
    return state.cried.asked_s + CRY_WAIT_S if state.cried is not None else inf


def off_due_s(visit: Visit, state: SessionState) -> float:
    """Session time at which it is said again to put the light off, seconds; infinite where nobody owes that."""
    if state.off_owed is None or state.modes.top is Mode.CLOSED:
        return inf
    return state.off_owed.told_s + visit.guidance.repeat_every_s


def missing_due_s(visit: Visit, state: SessionState) -> float:
    """Session time at which a narrated visit asks for what is missing, seconds; infinite where nothing is, or it did.

    It asks once in each silence.
    """
    asked = state.missing_told_s is not None and state.missing_told_s >= state.spoke_s
    if not state.narrated or asked or state.modes.top is not Mode.ASKING or state.reviewing or state.asked:
        return inf
    return state.spoke_s + visit.procedure.ask_after_s if open_in_section(visit.plan, state) else inf


def _due_in_mode_s(visit: Visit, state: SessionState) -> float:
    if state.modes.top is Mode.CRIED:
        return cry_due_s(state)
    if state.stray is not None:
        return state.stray.told_s + STRAY_EVERY_S
    if light_in_doubt(state):
        return state.doubted_s + LIGHT_DOUBT_S
    if warmth_is_open(state):
        return state.warmth_asked_s + visit.guidance.warmth_again_s
    silent_s = missing_due_s(visit, state)
    resting = state.modes.top in {Mode.ASKING, Mode.OPEN_ITEMS} and not state.pending
    late_s = state.late_window_s[0] if state.late_window_s is not None and resting else inf
    return min(late_s, silent_s)
