"""What each command and each trouble leads to, by mode. One flat table a function."""

from handsfree.definition.plan import Mode
from handsfree.definition.verbalization import duration_words
from handsfree.model.commands import (
    STOP_CONTROLS,
    Command,
    Control,
    ControlCommand,
    DictateText,
    GiveValues,
    ScanLabel,
)
from handsfree.model.effects import Earcon, Priority
from handsfree.model.events import CommandDoubted, RejectionReason, SessionInterrupted, SpeechRejected
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Option
from handsfree.session import holds, light, navigation, read_back, scanned_values, stops
from handsfree.session.event_context import Turn, heard_facts
from handsfree.session.listening_context import wanted
from handsfree.session.zones import zone_text, zones_of_stage

HELP_AFTER = 2
"""Rejections in a row after which the session says what would be understood."""


def act(turn: Turn, command: Command, heard: Hypothesis, probability: float) -> None:
    """Take an accepted command; what is not legal now is refused aloud."""
    if isinstance(command, ControlCommand) and command.control in STOP_CONTROLS:
        _stop(turn, command.control, heard, probability)
        return
    legal = wanted(turn)
    match command:
        case ControlCommand(control=control) if turn.lit and control not in light.WHILE_LIT:
            turn.refuse("Light off first.", command=control.value, **heard_facts(heard, probability))
        case ControlCommand(control=control):
            if control not in legal.controls:
                turn.refuse("Not now.", command=control.value, **heard_facts(heard, probability))
                return
            _control(turn, control, heard, probability)
        case GiveValues():
            if not legal.slots:
                turn.refuse("No value is asked for now.", **heard_facts(heard, probability))
                return
            _values(turn, command, heard, probability)
        case ScanLabel():
            scanned_values.take(turn, command, heard, probability)
        case DictateText(text=text):
            if turn.mode is not Mode.NOTING:
                turn.refuse("Say take note first.")
                return
            turn.state.note.append(text)
            turn.record("note_dictated", text=text, **heard_facts(heard, probability))
            turn.earcon(Earcon.HEARD)


def _stop(turn: Turn, control: Control, heard: Hypothesis, probability: float) -> None:
    if control is Control.LIGHT_OFF:
        light.light_off(turn, heard, probability)
        return
    ended = light.end_run(turn, heard, probability, control.value)
    stops.stop_word(turn, control, heard, probability, ended)


def _control(turn: Turn, control: Control, heard: Hypothesis, probability: float) -> None:  # noqa: C901 - a flat table
    match control:
        case Control.AFFIRM:
            _affirm(turn, heard, probability)
        case Control.NEGATE:
            _negate(turn)
        case Control.CORRECTION:
            _correction(turn)
        case Control.SAY_AGAIN:
            turn.record("said_again", stage=turn.name_of(turn.stage))
            turn.say(turn.state.last_said)
        case Control.STATUS:
            navigation.status(turn)
        case Control.HELP:
            turn.record("help_given", stage=turn.name_of(turn.stage))
            turn.say(f"{wanted(turn).hint.capitalize()}.", Priority.INFORMATION)
        case Control.NEXT_STEP:
            navigation.advance(turn) if turn.mode is Mode.OPEN_ITEMS else navigation.go_on(turn)
        case Control.PREVIOUS_STEP:
            navigation.go_back(turn)
        case Control.SKIP:
            navigation.ask_skip(turn)
        case Control.WAIT:
            turn.state.under_pause = turn.mode
            turn.to(Mode.PAUSED)
            turn.record("session_paused", stage=turn.name_of(turn.stage))
            turn.say("Waiting. Say resume.")
        case Control.RESUME:
            _resume(turn)
        case Control.TAKE_NOTE:
            turn.state.before_note = turn.mode
            turn.to(Mode.NOTING)
            turn.record("note_begun", stage=turn.name_of(turn.stage))
            turn.earcon(Earcon.HEARD)
            turn.say("Note. Then say end note.")
        case Control.END_NOTE:
            stops.store_note(turn, broken_off=False)
            turn.earcon(Earcon.RECORDED)
            _return_to(turn, turn.state.before_note)
        case Control.OVERRIDE:
            stops.ask_override(turn)
        case Control.LIGHT_ON:
            light.light_on(turn, heard, probability)
        case Control.STRAP_OFF | Control.STRAP_ON:
            light.strap(turn, heard, probability, off=control is Control.STRAP_OFF)
        case _:
            turn.refuse("Not now.", command=control.value)


def _affirm(turn: Turn, heard: Hypothesis, probability: float) -> None:
    state = turn.state
    match turn.mode:
        case Mode.READING_BACK:
            read_back.confirm(turn, "affirmed")
        case Mode.DOUBTING:
            doubt = state.doubt
            state.doubt = None
            turn.to(state.before_doubt)
            if doubt is not None:
                turn.record("doubt_settled", right=True, words=doubt.heard.text, **heard_facts(heard, probability))
                turn.asked = True
                act(turn, doubt.command, doubt.heard, doubt.probability)
        case Mode.OVERRIDE_CONFIRM:
            stops.apply_override(turn, heard, probability)
        case Mode.RECONFIRM:
            turn.record("position_reconfirmed", **heard_facts(heard, probability))
            mode = stops.resting(turn)
            if mode is Mode.ASKING and light.is_being_lit(turn):
                turn.to(mode)
                light.next_zone(turn)
            else:
                _return_to(turn, mode)
        case _:
            _affirm_step(turn, heard, probability)


def _affirm_step(turn: Turn, heard: Hypothesis, probability: float) -> None:
    stage, state = turn.stage, turn.state
    name = turn.name_of(stage)
    if stage.step.kind == "teach":
        item = stage.step.items[state.taught.get(stage.id, 0)]
        state.taught[stage.id] = state.taught.get(stage.id, 0) + 1
        turn.record("item_taught", stage=name, item=item.id, said=item.say, teach_back=item.teach_back)
        turn.earcon(Earcon.RECORDED)
        if state.taught[stage.id] < len(stage.step.items):
            navigation.ask(turn)
            return
        state.done[stage.id] = "taught"
    else:
        state.done[stage.id] = "told" if stage.step.kind == "tell" else "confirmed"
        turn.record("step_confirmed", stage=name, step=stage.step.id, **heard_facts(heard, probability))
        turn.earcon(Earcon.RECORDED)
    state.last_answered = stage.id
    navigation.advance(turn)


def _negate(turn: Turn) -> None:
    match turn.mode:
        case Mode.READING_BACK:
            read_back.dispute(turn)
        case Mode.DOUBTING:
            doubt = turn.state.doubt
            turn.state.doubt = None
            turn.to(turn.state.before_doubt)
            turn.record("doubt_settled", right=False, words=doubt.heard.text if doubt is not None else "")
            turn.say("Say it again.")
        case Mode.OVERRIDE_ROLE | Mode.OVERRIDE_REASON | Mode.OVERRIDE_CONFIRM:
            stops.cancel_override(turn)
        case Mode.SKIP_REASON:
            turn.to(Mode.ASKING)
            turn.record("skip_dropped", stage=turn.name_of(turn.stage))
            navigation.ask(turn)
        case _:
            turn.record("step_denied", stage=turn.name_of(turn.stage), step=turn.stage.step.id)
            turn.earcon(Earcon.REFUSED)
            turn.say("Not done. Say affirmative when it is done.")


def _correction(turn: Turn) -> None:
    match turn.mode:
        case Mode.READING_BACK:
            read_back.dispute(turn)
        case Mode.OVERRIDE_ROLE | Mode.OVERRIDE_REASON | Mode.SKIP_REASON:
            _negate(turn)
        case _:
            read_back.correct(turn)


def _resume(turn: Turn) -> None:
    turn.record("session_resumed", stage=turn.name_of(turn.stage))
    _return_to(turn, turn.state.under_pause)


def _return_to(turn: Turn, mode: Mode) -> None:
    """Back to what was going on, with its question asked again."""
    turn.to(mode)
    match mode:
        case Mode.READING_BACK:
            navigation.read_back(turn)
        case Mode.LATCHED:
            holds.hold(turn)
        case Mode.ASKING if turn.stage.id in turn.state.done and not turn.state.reviewing:
            navigation.advance(turn)
        case Mode.ASKING:
            navigation.ask(turn)
        case Mode.WARMTH | Mode.LATE_HEAT:
            light.ask_warmth(turn)
        case Mode.PAUSED:
            turn.say("Still stopped. Say resume, or override to end.")
        case _:
            turn.say(turn.state.last_said)


def _values(turn: Turn, command: GiveValues, heard: Hypothesis, probability: float) -> None:
    if turn.mode is Mode.ASKING and turn.stage.step.kind != "expose":
        read_back.take_values(turn, command, heard, probability)
        return
    value = command.values[0].value
    chosen = value.value if isinstance(value, Option) else ""
    match turn.mode:
        case Mode.WARMTH | Mode.LATE_HEAT if command.values[0].slot == stops.SCORE_SLOT:
            stops.take_pain_score(turn, value, heard, probability)
        case Mode.WARMTH | Mode.LATE_HEAT | Mode.LIT if chosen in {"cool", "warm"}:
            light.answer_warmth(turn, chosen, heard, probability)
        case Mode.OVERRIDE_ROLE if chosen in turn.procedure.roles:
            stops.take_role(turn, chosen)
        case Mode.OVERRIDE_REASON if chosen in turn.procedure.override_reasons:
            stops.take_reason(turn, chosen)
        case Mode.SKIP_REASON if chosen in turn.procedure.skip_reasons:
            navigation.skip(turn, chosen)
        case Mode.ASKING if chosen in zones_of_stage(turn, turn.stage):
            turn.state.zone_id = chosen
            turn.record("zone_chosen", zone=chosen, **heard_facts(heard, probability))
            turn.say(f"{zone_text(turn)} Say light on.")
        case _:
            turn.refuse("That is not on the list.", **heard_facts(heard, probability))


def doubt(turn: Turn, event: CommandDoubted) -> None:
    """Ask whether that was said; stop words act on doubt as well."""
    command = event.command
    if isinstance(command, ControlCommand) and command.control in STOP_CONTROLS:
        _stop(turn, command.control, event.heard, event.probability)
        return
    if turn.mode in {Mode.LIT, Mode.DOUBTING, Mode.NOTING}:
        turn.record("utterance_not_taken", reason="doubt", **heard_facts(event.heard, event.probability))
        turn.earcon(Earcon.NOT_UNDERSTOOD)
        return
    turn.state.before_doubt = turn.mode
    turn.state.doubt = event
    turn.to(Mode.DOUBTING)
    turn.record("utterance_doubted", **heard_facts(event.heard, event.probability))
    turn.say(f"Did you say: {event.heard.text}?")


def reject(turn: Turn, event: SpeechRejected) -> None:
    """Say by a short sound that nothing was taken; after some in a row, what would be."""
    turn.state.rejections += 1
    words = event.heard.text if event.heard is not None else ""
    turn.record("utterance_not_taken", reason=event.reason.value, heard=words)
    turn.earcon(Earcon.NOT_UNDERSTOOD)
    if event.reason is RejectionReason.TOO_NOISY:
        turn.say("Too noisy to hear you.", Priority.INFORMATION)
    elif turn.state.rejections >= HELP_AFTER and turn.mode is not Mode.LIT:
        hint = wanted(turn).hint
        if hint:
            turn.say(f"{hint.capitalize()}.", Priority.INFORMATION)


def interrupted(turn: Turn, event: SessionInterrupted) -> None:
    """Go on after the program had ended: say what is known, ask again for what cannot be carried over."""
    state = turn.state
    turn.record("session_interrupted", gap_s=round(event.gap_s, 3), stage=turn.name_of(turn.stage))
    if turn.mode is Mode.NOTING:
        stops.store_note(turn, broken_off=True)
    state.pending.clear()
    navigation.keep_for_repeat(turn, turn.stage)
    state.scanned.clear()
    state.doubt = None
    light.lost(turn, interrupted=True)
    exposing = turn.ledger is not None and bool(turn.ledger.runs)
    if turn.mode is Mode.PAUSED:
        state.under_pause = stops.resting(turn)
    elif turn.mode is not Mode.RECONFIRM:
        if turn.mode not in {Mode.ASKING, Mode.LATCHED, Mode.OPEN_ITEMS}:
            turn.to(Mode.LATCHED if state.latches else Mode.ASKING)
        if turn.mode is Mode.ASKING and stops.resting(turn) is Mode.LATCHED:
            turn.to(Mode.LATCHED)
        if exposing and turn.mode is Mode.ASKING:
            turn.to(Mode.RECONFIRM)
    turn.say(_known(turn, event.gap_s), Priority.INFORMATION)
    navigation.status(turn)
    if turn.mode is Mode.RECONFIRM:
        turn.say("Light off? Check position and warmth again. Then say affirmative.")
    else:
        _return_to(turn, turn.mode)


def _known(turn: Turn, gap_s: float) -> str:
    """What a resumed session knows, so that whoever goes on can object: kind, side, size, what was recorded last."""
    state = turn.state
    known = [f"This visit goes on after a break of {duration_words(gap_s)}."]
    if state.practice:
        known.append("Practice.")
    if state.side is not None:
        known.append(f"{state.side.value.capitalize()} side.")
    if state.size is not None:
        known.append(f"Size {state.size}.")
    if state.last_answered is not None and state.answers.get(state.last_answered):
        last = turn.plan.stages[turn.plan.index(state.last_answered)]
        known.append(f"Recorded last: {navigation.recorded_words(turn, last)}")
    return " ".join(known)
