"""Stop words, latches, and the only way to lift them: role, reason, read-back."""

from handsfree.definition.plan import Mode
from handsfree.definition.verbalization import cardinal
from handsfree.exposure.guidance import pain_stops
from handsfree.model.commands import Control
from handsfree.model.effects import Earcon, Priority
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Exact, SpokenValue
from handsfree.session.event_context import Latch, Turn, heard_facts
from handsfree.session.holds import hold, set_latch
from handsfree.session.light import is_being_lit, next_zone
from handsfree.session.navigation import advance, finish, gaps

HEAT_ACTION = "Light off. Lift it away. Look at the skin."
ROLE_SLOT = "role"
REASON_SLOT = "reason"
SCORE_SLOT = "pain_score"
_OVERLAYS = {
    Mode.OVERRIDE_ROLE,
    Mode.OVERRIDE_REASON,
    Mode.OVERRIDE_CONFIRM,
    Mode.SKIP_REASON,
    Mode.DOUBTING,
    Mode.NOTING,
    Mode.LIT,
    Mode.LATE_HEAT,
    Mode.PAUSED,
}


def stop_word(turn: Turn, control: Control, heard: Hypothesis, probability: float, end_run: bool) -> None:
    """A stop word that is no plain "light off": acts at once, in any state.

    Args:
        turn: The turn; a run of light was ended before the call.
        control: Which word.
        heard: The words.
        probability: How surely they were heard.
        end_run: Whether a run of light was ended by it.
    """
    state = turn.state
    turn.record(
        "stop_word_heard",
        word=control.value,
        while_lit=end_run,
        mode=turn.mode.value,
        **heard_facts(heard, probability),
    )
    _keep_note(turn)
    beneath = _mode_beneath(turn)
    lit_ever = turn.ledger is not None and bool(turn.ledger.runs)
    if control in {Control.HOT, Control.PAIN} and lit_ever:
        _latch_for_heat(turn, f"the word {control.value} was said")
        return
    state.under_pause = beneath
    turn.to(Mode.PAUSED)
    text = "Stopped. Light off, lift it away." if end_run else "Stopped."
    turn.say(f"{text} Say resume, or override to end.", Priority.STOP)


def _latch_for_heat(turn: Turn, reason: str) -> None:
    turn.to(Mode.ASKING) if turn.mode is Mode.LIT else None
    set_latch(turn, "red", reason, HEAT_ACTION)
    if turn.mode is not Mode.LATCHED:
        turn.to(Mode.LATCHED)
    turn.say(f"{HEAT_ACTION} Then say override.", Priority.STOP)


def take_pain_score(turn: Turn, value: SpokenValue, heard: Hypothesis, probability: float) -> None:
    """Take a score on the numeric rating scale 0 … 10 as an answer about warmth; from the profile's limit it stops.

    It acts at once, without read-back, as a stop word does.
    """
    score = int(value.value) if isinstance(value, Exact) and value.decimals == 0 else -1
    if not 0 <= score <= 10:
        turn.refuse("Say score, then one number from zero to ten.", **heard_facts(heard, probability))
        return
    late = turn.mode is Mode.LATE_HEAT
    zone = None if late else turn.state.zone_id
    turn.record("pain_scored", score=score, zone=zone, late=late, **heard_facts(heard, probability))
    if pain_stops(score, turn.guidance):
        _latch_for_heat(turn, f"pain score {cardinal(score)}")
        return
    turn.earcon(Earcon.RECORDED)
    turn.say(f"Score {cardinal(score)}. Cool or warm?")


def _mode_beneath(turn: Turn) -> Mode:
    """The mode that a pause goes back to."""
    mode = turn.mode
    if mode is Mode.PAUSED:
        return turn.state.under_pause
    if mode is Mode.NOTING and turn.state.before_note is Mode.PAUSED:
        return turn.state.under_pause
    broken_off = {Mode.DOUBTING: turn.state.before_doubt, Mode.NOTING: turn.state.before_note}.get(mode, mode)
    return resting(turn) if broken_off in _OVERLAYS else broken_off


def resting(turn: Turn) -> Mode:
    """The mode in which the session waits at its stage: held, with a read-back open, or asking."""
    state = turn.state
    if any(latch.kind == "red" or latch.stage_id == turn.stage.id for latch in state.latches):
        return Mode.LATCHED
    fields = turn.stage.step.fields
    return Mode.READING_BACK if fields and all(field.id in state.pending for field in fields) else Mode.ASKING


def _keep_note(turn: Turn) -> None:
    """A note that a stop word breaks off is kept as far as it was said."""
    if turn.mode is Mode.NOTING:
        store_note(turn, broken_off=True)


def store_note(turn: Turn, *, broken_off: bool) -> None:
    """Put the note on record, unverified until a person has read it."""
    text = " ".join(turn.state.note)
    turn.state.note.clear()
    if text:
        turn.state.notes += 1
        turn.record("note_taken", text=text, verified=False, broken_off=broken_off, stage=turn.name_of(turn.stage))


def ask_override(turn: Turn) -> None:
    """Take "override": of a latch, of values that are missing at the end, or to end the visit early."""
    state = turn.state
    if turn.mode is Mode.PAUSED:
        state.override_of = "end"
    elif state.latches:
        state.override_of = "latch"
    elif turn.mode is Mode.OPEN_ITEMS and gaps(turn):
        state.override_of = "gaps"
    else:
        turn.refuse("There is nothing to override.")
        return
    turn.to(Mode.OVERRIDE_ROLE)
    turn.say(f"Role? {', '.join(phrases[0] for phrases in turn.procedure.roles.values())}?")


def take_role(turn: Turn, role: str) -> None:
    """The role of whoever answers for it."""
    turn.state.override_role = role
    turn.to(Mode.OVERRIDE_REASON)
    turn.say(f"Reason? {', '.join(phrases[0] for phrases in turn.procedure.override_reasons.values())}?")


def take_reason(turn: Turn, reason: str) -> None:
    """The reason; both are read back before anything is lifted."""
    turn.state.override_reason = reason
    turn.to(Mode.OVERRIDE_CONFIRM)
    role = turn.procedure.roles[turn.state.override_role][0]
    what = {"end": "End the visit", "gaps": "Accept missing values", "latch": "Override"}[turn.state.override_of]
    turn.say(f"{what}. {role.capitalize()}; {turn.procedure.override_reasons[reason][0]}. Correct?")


def cancel_override(turn: Turn) -> None:
    """Take "negative" or "correction" on the way: nothing is lifted."""
    state = turn.state
    turn.record("override_dropped", of=state.override_of)
    if state.override_of == "end":
        turn.to(Mode.PAUSED)
        turn.say("Not ended. Say resume, or override to end.")
    elif state.override_of == "gaps":
        turn.to(Mode.OPEN_ITEMS)
        turn.say("Nothing changed.")
    else:
        hold(turn)


def apply_override(turn: Turn, heard: Hypothesis, probability: float) -> None:
    """Lift what was read back."""
    state = turn.state
    facts = {
        "role": state.override_role,
        "reason": state.override_reason,
        **heard_facts(heard, probability),
    }
    turn.earcon(Earcon.RECORDED)
    if state.override_of == "end":
        turn.record("session_stopped", stage=turn.name_of(turn.stage), **facts)
        finish(turn, "stopped")
        return
    if state.override_of == "gaps":
        turn.record("gaps_accepted", gaps=list(gaps(turn)), **facts)
        state.accepted_gaps |= {
            f"{stage.id}.{field_id}" for stage in turn.plan.stages for field_id in state.answers.get(stage.id, {})
        }
        turn.to(Mode.OPEN_ITEMS)
        advance(turn)
        return
    for latch in state.latches:
        turn.record("latch_lifted", latch=latch.kind, set_for=latch.reason, **facts)
        if (latch.kind == "stop" and latch.answerable) or _answered(turn, latch):
            state.done.setdefault(latch.stage_id, "overridden")
            turn.record("step_overridden", stage=latch.stage_id, **facts)
    state.latches.clear()
    turn.to(Mode.ASKING)
    if is_being_lit(turn):
        next_zone(turn)
        return
    advance(turn)


def _answered(turn: Turn, latch: Latch) -> bool:
    """Whether every field of the stage where the latch was set has its value."""
    stage = turn.plan.stages[turn.plan.index(latch.stage_id)]
    given = turn.state.answers.get(stage.id, {})
    return bool(stage.step.fields) and all(field.id in given for field in stage.step.fields)
