"""Which handler takes an event, by the tables."""

from collections.abc import Mapping

from handsfree.model.commands import STOP_CONTROLS, Control, ControlCommand, DictateText, GiveValues, ScanLabel
from handsfree.model.events import (
    ClockTicked,
    CommandDoubted,
    CommandSpoken,
    SessionInterrupted,
    SessionStarted,
    SoundLost,
    SoundReturned,
    SpeechRejected,
    ToneHeard,
)
from handsfree.model.refusals import RefusalCode
from handsfree.session.baseline_fit import asked_about
from handsfree.session.context import EventContext, Handler
from handsfree.session.handlers import (
    after_break,
    beginning,
    conversation,
    labels,
    lamp,
    lost_devices,
    more_light,
    narrating,
    overriding,
    steps,
    values,
)
from handsfree.session.listening_context import controls, said_again, slots
from handsfree.session.modes import BY_VOICE_ALONE, Mode
from handsfree.session.named_steps import PLACE_SLOT
from handsfree.session.narrated_listening import may_narrate
from handsfree.session.tables import BREATH, HANDLERS, SAID_BACK, STOPS, VALUES
from handsfree.session.value_intake import goes_on

EVENTS: Mapping[type, Handler] = {
    SessionStarted: beginning.start,
    SessionInterrupted: after_break.go_on_after_break,
    ClockTicked: lamp.tick,
    ToneHeard: lamp.tone,
    SoundLost: lost_devices.device_lost,
    SoundReturned: lost_devices.device_returned,
    SpeechRejected: conversation.reject,
}
"""Who takes what is no command."""


_STANDING_STILL = frozenset({Mode.PAUSED, Mode.HELD})
"""Where an ordinary answer is answered with the reason why it does not count now."""


def handler_of(now: EventContext) -> Handler:
    """Who takes the event."""
    match now.event:
        case CommandSpoken():
            return handler_of_command(now)
        case CommandDoubted(command=ControlCommand(control=control)) if control in STOP_CONTROLS:
            return STOPS[control]
        case CommandDoubted(command=ControlCommand(control=Control.CRY)):
            return _control(now, Control.CRY)
        case CommandDoubted():
            return conversation.doubt
        case event:
            return EVENTS[type(event)]


def handler_of_command(now: EventContext) -> Handler:
    """Who takes a command; what is not legal now is refused aloud."""
    command = now.said.command if now.said is not None else None
    match command:
        case ControlCommand(control=control) if control in STOP_CONTROLS:
            return STOPS[control]
        case ControlCommand(control=Control.AFFIRM) if now.heard.pressed and BY_VOICE_ALONE & {*now.state.modes.all}:
            # Also where it would affirm that somebody said so: the doubt lies on the override.
            return lambda now: now.refuse(RefusalCode.BY_VOICE_ALONE)
        case ControlCommand(control=control):
            return _control(now, control)
        case GiveValues():
            return _values(now)
        case ScanLabel():
            return labels.take_label
        case DictateText():
            return conversation.dictate
        case _:
            raise TypeError(f"{type(command).__name__} is no command")


def _control(now: EventContext, control: Control) -> Handler:
    row, state = HANDLERS[now.mode], now.state
    if now.mode is Mode.READING_BACK and state.breath and control in BREATH:
        return BREATH[control]
    if control is Control.NEXT_STEP and _passes_gate(now):
        return narrating.go_to_gate
    if now.mode is Mode.LIT and control not in row:
        return lamp.refuse_while_lit
    if control in SAID_BACK and state.was_said_back and not state.unconfirmed:
        return SAID_BACK[control]
    if control in row and control in controls(now.visit, now.state):
        return row[control]
    return lambda now: now.refuse(RefusalCode.NOT_NOW)


def _passes_gate(now: EventContext) -> bool:
    """Whether "next step" goes on to the gate of the phase: in a narrated visit, where no single step is at hand."""
    state = now.state
    at_hand = state.reviewing or state.asked or now.stage.id in state.corrected or now.stage.step.kind == "expose"
    return state.narrated and now.mode is Mode.ASKING and not at_hand


def _values(now: EventContext) -> Handler:
    command = now.said.command if now.said is not None else None
    names = {given.slot for given in command.values} if isinstance(command, GiveValues) else set()
    if PLACE_SLOT in names:
        return steps.go_to if now.mode is Mode.ASKING else lambda now: now.refuse(RefusalCode.NOT_NOW)
    if now.state.narrated and may_narrate(now.visit, now.state):
        return narrating.take_narrated
    if now.mode is Mode.ASKING and isinstance(command, GiveValues) and command.lead == "correct":
        return values.correct_earlier
    if goes_on(now):
        return values.hear_further
    if now.mode is Mode.READING_BACK:
        return values.say_anew
    if isinstance(command, GiveValues) and command.lead == "override":
        return overriding.override_by if now.mode is Mode.HELD else lambda now: now.refuse(RefusalCode.NOT_NOW)
    correcting = now.mode is Mode.HELD and isinstance(command, GiveValues) and command.lead == "correct"
    if correcting and names <= {slot.slot for slot in said_again(now.visit, now.state)}:
        return values.correct_to
    if now.mode in _STANDING_STILL and names <= {slot.slot for slot in said_again(now.visit, now.state)}:
        return conversation.explain_standstill
    if not slots(now.visit, now.state):
        return lambda now: now.refuse(RefusalCode.NO_VALUE_ASKED)
    if now.mode is Mode.ASKING and now.stage.step.kind == "expose":
        return lamp.choose_zone
    if now.mode is Mode.HELD and asked_about(now.state) is None:
        return more_light.ask_more_light
    return VALUES[now.mode]
