"""One event to one handler, by the tables; then everything settles."""

from collections.abc import Mapping

from handsfree.model.commands import STOP_CONTROLS, Control, ControlCommand, DictateText, GiveValues, ScanLabel
from handsfree.model.effects import Close
from handsfree.model.events import (
    ClockTicked,
    CommandDoubted,
    CommandSpoken,
    SessionEvent,
    SessionInterrupted,
    SessionStarted,
    SoundLost,
    SoundReturned,
    SpeechRejected,
    ToneHeard,
)
from handsfree.model.facts import Utterance
from handsfree.model.refusals import RefusalCode
from handsfree.session.after_handler import settle
from handsfree.session.baseline_fit import asked_about
from handsfree.session.context import EventContext, Handler, Reply
from handsfree.session.handlers import beginning, continuing, conversation, labels, lamp, more_light, values
from handsfree.session.listening_context import controls, slots
from handsfree.session.modes import Mode
from handsfree.session.phase_gates import PhaseMachine
from handsfree.session.prompts.wording import Wording
from handsfree.session.state import Said, SessionState
from handsfree.session.tables import HANDLERS, STOPS, VALUES
from handsfree.session.value_intake import goes_on
from handsfree.session.visit import Visit

EVENTS: Mapping[type, Handler] = {
    SessionStarted: beginning.start,
    SessionInterrupted: continuing.go_on_after_break,
    ClockTicked: lamp.tick,
    ToneHeard: lamp.tone,
    SoundLost: continuing.device_lost,
    SoundReturned: continuing.device_returned,
    SpeechRejected: conversation.reject,
}
"""Who takes what is no command."""


def dispatch(
    visit: Visit, state: SessionState, wording: Wording, phases: PhaseMachine, event: SessionEvent
) -> tuple[Reply, Close | None]:
    """Take one event.

    Returns:
        Everything that was answered, and the end of the session where this was it.
    """
    now = EventContext(visit, state, wording, event, _said(event))
    if isinstance(event, CommandSpoken | CommandDoubted):
        state.warmth_asked_s = state.now_s
    if isinstance(event, CommandSpoken):
        state.rejections = 0
    reply = _handler(now)(now)
    closing = settle(now, reply, phases)
    if reply.redo is not None:
        then, closing = _again(now, reply.redo, phases)
        reply = Reply([*reply.facts, *then.facts], [*reply.talk, *then.talk])
    return reply, closing


def _again(now: EventContext, said: Said, phases: PhaseMachine) -> tuple[Reply, Close | None]:
    """A command that was in doubt and is affirmed now: taken as if it had been said so, without another doubt."""
    again = EventContext(now.visit, now.state, now.wording, now.event, said)
    reply = _command(again)(again)
    return reply, settle(again, reply, phases)


def _said(event: SessionEvent) -> Said | None:
    """The command of an event; its words as they are put on record, its times as they are counted by."""
    if not isinstance(event, CommandSpoken | CommandDoubted):
        return None
    words = event.heard
    heard = Utterance(
        text=words.text,
        probability=round(event.probability, 4),
        runner_up=" ".join(words.runner_up) if words.runner_up is not None else None,
        engine=words.engine,
        spoken_from_s=round(words.spoken_from_s, 3),
        spoken_to_s=round(words.spoken_to_s, 3),
    )
    return Said(event.command, heard, words.spoken_from_s, words.spoken_to_s)


def _handler(now: EventContext) -> Handler:
    match now.event:
        case CommandSpoken():
            return _command(now)
        case CommandDoubted(command=ControlCommand(control=control)) if control in STOP_CONTROLS:
            return STOPS[control]
        case CommandDoubted(command=ControlCommand(control=Control.CRY)):
            return _control(now, Control.CRY)
        case CommandDoubted():
            return conversation.doubt
        case event:
            return EVENTS[type(event)]


def _command(now: EventContext) -> Handler:
    """Who takes a command; what is not legal now is refused aloud."""
    command = now.said.command if now.said is not None else None
    match command:
        case ControlCommand(control=control) if control in STOP_CONTROLS:
            return STOPS[control]
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
    row = HANDLERS[now.mode]
    if now.mode is Mode.LIT and control not in row:
        return lamp.refuse_while_lit
    if control in row and control in controls(now.visit, now.state):
        return row[control]
    return lambda now: now.refuse(RefusalCode.NOT_NOW)


def _values(now: EventContext) -> Handler:
    if goes_on(now):
        return values.hear_further
    if not slots(now.visit, now.state):
        return lambda now: now.refuse(RefusalCode.NO_VALUE_ASKED)
    if now.mode is Mode.ASKING and now.stage.step.kind == "expose":
        return lamp.choose_zone
    if now.mode is Mode.HELD and asked_about(now.state) is None:
        return more_light.ask_more_light
    return VALUES[now.mode]
