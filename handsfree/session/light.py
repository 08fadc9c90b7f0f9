"""Light: on, off, the cues between, warmth, strap, the late question. Times are those at which words were spoken."""

from handsfree.definition.plan import Mode, Plan
from handsfree.exposure.agreement import LampAgreement
from handsfree.exposure.guidance import (
    Cue,
    beeps_beside,
    cues_between,
    flags_of,
    late_question,
    warmth_cue,
    warmth_question,
)
from handsfree.exposure.ledger import EXPOSURE_LABEL, Ledger
from handsfree.exposure.runs import LedgerChange, LedgerOutcome, RunEnd
from handsfree.model.commands import Control
from handsfree.model.effects import Earcon, Priority
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Option
from handsfree.session.event_context import SessionState, Turn, heard_facts
from handsfree.session.navigation import advance, late_question_due
from handsfree.session.zones import choose_zone, zone_text, zones_of_stage

BEAT_S = 1.0
"""While lit, a sign of life is written this often: what a crash can leave uncounted."""
WHILE_LIT = frozenset({Control.STRAP_ON, Control.STRAP_OFF, Control.LIGHT_ON})
"""Commands besides the stop words that are taken while lit; any other is answered with "light off first"."""
NO_LIGHT_YET = {
    Mode.WARMTH: "Light off. Warmth first.",
    Mode.LATE_HEAT: "Light off. Warmth first.",
    Mode.LATCHED: "Held. No light.",
    Mode.PAUSED: "Light off. Say resume first.",
    Mode.RECONFIRM: "Light off. Check position and warmth first.",
}
"""Where a light that comes too early is still heard: nobody would count its seconds otherwise."""
WARMTH_SLOT = "warmth"
ZONE_SLOT = "zone"


def heat_is_reported(plan: Plan, state: SessionState) -> bool:
    """Whether the patient can be relied on to report heat, by what is confirmed so far and the procedure file."""
    for stage in plan.stages:
        for field in stage.step.fields:
            held = state.answers.get(stage.id, {}).get(field.id) if field.no_heat_report else None
            if held is not None and isinstance(held.value, Option) and held.value.value in field.no_heat_report:
                return False
    return True


def why_not_light(turn: Turn) -> str:
    """Why the light must stay off, fit to be spoken; empty if nothing that is recorded speaks against it."""
    stage, state = turn.stage, turn.state
    if stage.step.kind != "expose" or turn.ledger is None or state.zone_id is None:
        return "Not now. This step has no light."
    if turn.mode in NO_LIGHT_YET:
        return NO_LIGHT_YET[turn.mode]
    if turn.red or any(latch.kind == "stop" and latch.stage_id == stage.id for latch in state.latches):
        return "Held. No light."
    for name in stage.step.requires:
        owed = [s for s in turn.plan.stages_of(name) if state.done.get(s.id) in {None, "skipped"}]
        if owed:
            return f"No light before: {owed[0].step.expert or owed[0].step.prompt}"
    if stage.step.zones == "strap" and turn.ledger.strap_is_on:
        return "Strap off first."
    return ""


def light_on(turn: Turn, heard: Hypothesis, probability: float) -> None:
    """Take "light on"."""
    problem = why_not_light(turn)
    ledger = turn.ledger
    if ledger is not None and ledger.is_lit:
        _move_on_while_lit(turn, ledger)
    zone_id = turn.state.zone_id
    if problem or ledger is None or zone_id is None:
        turn.refuse(problem, **heard_facts(heard, probability))
        return
    outcome = ledger.light_on(zone_id, heard.spoken_to_s)
    if outcome.refused:
        turn.refuse(outcome.message, **heard_facts(heard, probability))
        return
    if outcome.happened is LedgerChange.REPEATED:
        turn.record("light_on_repeated", zone=zone_id, **heard_facts(heard, probability))
        return
    if outcome.run is not None:
        _record_run(turn, ledger, outcome, heard, probability)
        turn.say(outcome.message, Priority.ATTENTION)
    turn.record(
        "light_turned_on",
        stage=turn.name_of(turn.stage),
        zone=zone_id,
        counted_from_s=round(heard.spoken_to_s, 3),
        heat_reported=turn.guidance.patient_reports_heat,
        **heard_facts(heard, probability),
    )
    turn.state.warmth_answered_s = None
    # From where the light counts: what fell due while "light on" was being understood is said at once.
    turn.state.last_look_s = heard.spoken_to_s
    turn.to(Mode.LIT)
    turn.earcon(Earcon.HEARD)
    if outcome.happened is LedgerChange.LIT_IN_SHADOW:
        turn.say(outcome.message, Priority.ATTENTION)


def _move_on_while_lit(turn: Turn, ledger: Ledger) -> None:
    """Go on where "light off" was missed: a zone that has had its seconds by now is followed by the next one."""
    ids = zones_of_stage(turn, turn.stage)
    left = [zone for zone in ids if ledger.lit_s(zone, turn.state.now_s) < ledger.target_s(zone)]
    if ledger.lit_zone not in left and left:
        turn.state.zone_id = left[0]


def light_off(turn: Turn, heard: Hypothesis, probability: float) -> None:
    """Take "light off": the run ends when the word began. In the dark it may bear out an end by the lamp's sound."""
    ledger = turn.ledger
    outcome = ledger.light_off(heard.spoken_from_s) if ledger is not None else None
    if ledger is None or outcome is None or outcome.happened is LedgerChange.REFUSED_NOT_LIT:
        turn.refuse("The light was not on, as far as heard.", **heard_facts(heard, probability))
        return
    if outcome.happened in {LedgerChange.OFF_AGREES, LedgerChange.OFF_DIFFERS}:
        _bear_out(turn, ledger, outcome, heard, probability)
        return
    if outcome.refused:
        outcome = ledger.stop(heard.spoken_from_s, "light off")
    _end_run(turn, ledger, outcome, heard, probability)


def _end_run(turn: Turn, ledger: Ledger, outcome: LedgerOutcome, heard: Hypothesis | None, probability: float) -> None:
    """Put a run that ended in the ordinary way on record, say its sum, go on."""
    beeps = _record_run(turn, ledger, outcome, heard, probability)
    turn.earcon(Earcon.RECORDED)
    if beeps in {LampAgreement.BEEPS_MISSING, LampAgreement.BEEP_AFTER_OFF}:
        _disagree(turn, outcome.zone_id, beeps.value, "Lamp beeps and words differ. Recorded.")
    if turn.stage.step.warmth:
        turn.to(Mode.WARMTH)
        asked = warmth_question(turn.guidance, short=turn.expert)
        turn.say(f"{_zone_sum(ledger, outcome.zone_id, short=turn.expert)} {asked}")
    else:
        turn.to(Mode.ASKING)
        turn.say(_zone_sum(ledger, outcome.zone_id, short=turn.expert), Priority.INFORMATION)
        next_zone(turn)


def _bear_out(turn: Turn, ledger: Ledger, outcome: LedgerOutcome, heard: Hypothesis, probability: float) -> None:
    """Words that follow an end by sound: set beside it, with what is counted now."""
    run = outcome.run
    assert run is not None  # noqa: S101 - such outcomes carry the run
    turn.record(
        "light_off_said_after_sound",
        zone=run.zone_id,
        agrees=outcome.happened is LedgerChange.OFF_AGREES,
        counted_from_s=round(run.from_s, 3),
        counted_to_s=round(run.known_to_s, 3),
        possible_to_s=round(run.to_s, 3),
        **heard_facts(heard, probability),
    )
    _record_total(turn, ledger, run.zone_id)
    turn.earcon(Earcon.RECORDED)
    if outcome.happened is LedgerChange.OFF_DIFFERS:
        _disagree(turn, run.zone_id, "words_apart", outcome.message)


def _disagree(turn: Turn, zone_id: str | None, what: str, text: str) -> None:
    """Name a disagreement between lamp and words, once; it is never settled here."""
    turn.record("lamp_disagreed", what=what, zone=zone_id)
    turn.say(text, Priority.INFORMATION)


def tone_heard(turn: Turn, from_s: float, to_s: float) -> None:
    """The lamp beeped. In the dark before any light that says nothing and is not kept."""
    ledger = turn.ledger
    if ledger is None:
        return
    lit_zone, heard_before = ledger.lit_zone, turn.state.beeps_after_off
    outcome = ledger.tone(from_s, to_s)
    if lit_zone is None and outcome.happened is not LedgerChange.BEEP_WHILE_DARK:
        return
    turn.record("tone_heard", from_s=round(from_s, 3), to_s=round(to_s, 3), zone=lit_zone)
    if outcome.happened is LedgerChange.DARKENED_BY_SOUND:
        _end_run(turn, ledger, outcome, None, 0.0)
    elif outcome.happened is LedgerChange.BEEP_WHILE_DARK:
        turn.state.beeps_after_off = len(ledger.runs)
        if heard_before != len(ledger.runs):
            turn.record("lamp_disagreed", what=LampAgreement.BEEP_AFTER_OFF.value, zone=ledger.runs[-1].zone_id)
            # The lamp may still be heating: that comes before an open question, which is asked again.
            question = turn.state.last_said
            turn.say(outcome.message, Priority.ATTENTION)
            turn.say(question)


def end_run(turn: Turn, heard: Hypothesis, probability: float, reason: str) -> bool:
    """End the run for a stop word.

    Returns:
        Whether the light was on as far as heard.
    """
    ledger = turn.ledger
    if ledger is None:
        return False
    outcome = ledger.stop(heard.spoken_from_s, reason)
    if outcome.happened is LedgerChange.STOPPED:
        _record_run(turn, ledger, outcome, heard, probability)
        return True
    return False


def _zone_sum(ledger: Ledger, zone_id: str | None, *, short: bool) -> str:
    zone = next(zone for zone in ledger.zones if zone.id == zone_id)
    lit_s, target_s = ledger.lit_s(zone.id), ledger.target_s(zone.id)
    # The light's seconds say nothing about firmness; the hand does.
    check = (", firmness?" if short else ", check firmness") if lit_s >= target_s else ""
    if short:
        return f"{zone.label.capitalize()}, {lit_s:.1f} of {target_s:g}{check or '.'}"
    return f"{zone.label.capitalize()}, {lit_s:.1f} of {target_s:g} seconds{check}."


def _record_run(
    turn: Turn, ledger: Ledger, outcome: LedgerOutcome, heard: Hypothesis | None, probability: float
) -> LampAgreement:
    """Put a run on record, with its zone's new sum."""
    run = outcome.run
    assert run is not None  # noqa: S101 - callers pass outcomes that closed a run
    beeps = beeps_beside(ledger, run)
    words = heard_facts(heard, probability) if heard is not None else {}
    turn.record(
        "light_turned_off",
        zone=run.zone_id,
        counted_from_s=round(run.from_s, 3),
        counted_to_s=round(run.known_to_s, 3),
        possible_to_s=round(run.to_s, 3),
        credited_s=round(ledger.credited_s(run), 3),
        dose_j_cm2=round(ledger.credited_s(run) * ledger.irradiance_mw_cm2 / 1000, 4),
        end=run.end.value,
        reason=run.reason,
        beeps=beeps.value,
        flags=[flag.value for flag in flags_of(ledger, run, turn.guidance)],
        **words,
    )
    _record_total(turn, ledger, run.zone_id)
    return beeps


def _record_total(turn: Turn, ledger: Ledger, zone_id: str) -> None:
    turn.record(
        "zone_totalled",
        zone=zone_id,
        lit_s=round(ledger.lit_s(zone_id), 3),
        possible_s=round(ledger.possible_s(zone_id), 3),
        target_s=round(ledger.target_s(zone_id), 3),
        dose_j_cm2=round(ledger.dose_j_cm2(zone_id), 4),
        quantity=EXPOSURE_LABEL,
    )


def answer_warmth(turn: Turn, word: str, heard: Hypothesis, probability: float) -> None:
    """Take "cool" or "warm", after a zone or to the late question; "hot" and "painful" are stop words."""
    late = turn.mode is Mode.LATE_HEAT
    turn.record(
        "warmth_answered",
        answer=word,
        zone=None if late else turn.state.zone_id,
        late=late,
        **heard_facts(heard, probability),
    )
    turn.earcon(Earcon.RECORDED)
    turn.state.warmth_answered_s = turn.state.now_s
    if turn.mode is Mode.LIT:
        return
    if late:
        turn.state.late_window_s = None
        back_from_late(turn)
    else:
        turn.to(Mode.ASKING)
        next_zone(turn)


def ask_warmth(turn: Turn) -> None:
    """The question about warmth, right after the light or late."""
    if turn.mode is Mode.LATE_HEAT:
        turn.say(late_question(turn.guidance), Priority.ATTENTION)
    else:
        turn.say(warmth_question(turn.guidance))


def back_from_late(turn: Turn) -> None:
    """Back to what was being asked before the late heat question."""
    turn.to(turn.state.under_late)
    if turn.state.under_late is Mode.OPEN_ITEMS:
        advance(turn)
    else:
        turn.say(turn.prompt_of(turn.stage))


def next_zone(turn: Turn) -> None:
    """After a run: the same zone if it is short, else the next one, else the stage is done."""
    ledger, stage, state = turn.ledger, turn.stage, turn.state
    assert ledger is not None  # noqa: S101 - called after a run
    before = state.zone_id
    choose_zone(turn)
    zone_id = state.zone_id
    if zone_id is not None and ledger.short_s(zone_id) > 0:
        again = "Again: " if zone_id == before else ""
        turn.say(f"{again}{zone_text(turn)} Say light on.")
        return
    state.done[stage.id] = "exposed"
    if stage.step.late_question_s is not None:
        dark_s = max(run.to_s for run in ledger.runs)
        first, last = stage.step.late_question_s
        state.late_window_s = (dark_s + first, dark_s + last)
    turn.record("stage_exposed", stage=turn.name_of(stage))
    if state.reviewing:
        turn.say("Say next step to go on.")
        return
    advance(turn)


def is_being_lit(turn: Turn) -> bool:
    """Whether the session stands at a stage of light that is not done."""
    stage, state = turn.stage, turn.state
    return stage.step.kind == "expose" and stage.id not in state.done and not state.reviewing


def strap(turn: Turn, heard: Hypothesis, probability: float, *, off: bool) -> None:
    """Take "strap off" and "strap on"."""
    if turn.ledger is None:
        turn.refuse("This procedure has no strap.")
        return
    spoken_s = heard.spoken_to_s if off else heard.spoken_from_s
    outcome = turn.ledger.strap_off(spoken_s) if off else turn.ledger.strap_on(spoken_s)
    turn.record(
        "strap_removed" if off else "strap_replaced", at_s=round(spoken_s, 3), **heard_facts(heard, probability)
    )
    turn.earcon(Earcon.RECORDED)
    turn.say(outcome.message)


def tick(turn: Turn) -> None:
    """Time passed: cues while lit, the sign of life, the late heat question."""
    now_s, state, ledger = turn.state.now_s, turn.state, turn.ledger
    if ledger is not None and ledger.is_lit:
        silence = ledger.listen_for_silence(now_s)
        if silence.run is not None:
            _end_run(turn, ledger, silence, None, 0.0)
            return
        due = cues_between(ledger, turn.guidance, state.last_look_s, now_s, state.warmth_answered_s)
        if due or now_s - state.last_look_s >= BEAT_S - 1e-6:
            ledger.heartbeat(now_s)
            turn.record("light_still_on", zone=ledger.lit_zone, at_s=round(now_s, 3), cues=[cue.value for cue in due])
            state.last_look_s = now_s
            turn.earcon(Earcon.TICK)
            for cue in due:
                _say_cue(turn, cue)
    elif late_question_due(turn) and turn.mode in {Mode.ASKING, Mode.OPEN_ITEMS} and not state.pending:
        state.under_late = turn.mode
        turn.to(Mode.LATE_HEAT)
        overdue = state.late_window_s is not None and now_s > state.late_window_s[1]
        turn.record("late_heat_asked", overdue=overdue)
        ask_warmth(turn)


def _say_cue(turn: Turn, cue: Cue) -> None:
    match cue:
        case Cue.HALF:
            turn.say("Half.", Priority.INFORMATION)
        case Cue.NEXT_SPOT:
            turn.say("Next spot.", Priority.ATTENTION)
        case Cue.TARGET_REACHED:
            # As short as can be: while the tool speaks it cannot hear "light off".
            turn.say("Light off.", Priority.ATTENTION)
        case Cue.OVERRUN:
            turn.earcon(Earcon.ATTENTION)
        case Cue.WARMTH_DUE:
            turn.say(warmth_cue(turn.guidance), Priority.ATTENTION)


def lost(turn: Turn, *, interrupted: bool) -> None:
    """The program ended, or went deaf, in the middle: a lit zone counts up to the last sign of life."""
    if turn.ledger is None or not turn.ledger.is_lit:
        return
    outcome = turn.ledger.interrupt()
    assert outcome.run is not None  # noqa: S101 - it was lit
    assert outcome.run.end is RunEnd.INTERRUPTED  # noqa: S101 - by the ledger's rules
    _record_run(turn, turn.ledger, outcome, None, 0.0)
    turn.to(Mode.RECONFIRM if interrupted else Mode.ASKING)
    turn.say(outcome.message, Priority.ATTENTION)
    if not interrupted and is_being_lit(turn):
        next_zone(turn)
