"""A live session: one inbox, one thread that owns session and journal, the devices around it."""

import logging
import queue
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

from handsfree.clock import Clock
from handsfree.errors import RecordError
from handsfree.model.audio import Heard
from handsfree.model.commands import STOP_CONTROLS, Control
from handsfree.model.effects import Priority
from handsfree.model.events import RejectionReason
from handsfree.model.facts import PromptCutShort, SoundOverflowed
from handsfree.recognition.port import Recognizer
from handsfree.runner.listening_thread import (
    BeepHeard,
    DeviceChanged,
    EarsFailed,
    FramesLost,
    LiveEars,
    Message,
    RoomTooLoud,
    SoundHeard,
    TalkedOver,
    UtteranceHeard,
)
from handsfree.runner.live_outputs import LiveOutputs
from handsfree.runner.session_runner import SessionRunner
from handsfree.runner.talk_watch import Canceller
from handsfree.runner.view import View

_LOG = logging.getLogger(__name__)
LOOK_S = 0.2
"""How often the screen shows level and clock."""
SPEAKING_LOOK_S = 0.05
"""How soon the end of a prompt is noticed."""
NOBODY_S = 2.5
"""A prompt that was broken off, after which nothing was heard for so long, is said once more: a cough, a chair."""
LAST_WORDS_S = 15.0
"""How long the end waits for the closing words to be heard."""


@dataclass(frozen=True, slots=True)
class KeyPressed:
    """Any key, or a pedal that types one: it cuts a prompt short."""


@dataclass(frozen=True, slots=True)
class CommandPressed:
    """A key, or a pedal, that is set to say something.

    Attributes:
        control: What.
        at_s: Session time at which it was pressed.
    """

    control: Control
    at_s: float


@dataclass(frozen=True, slots=True)
class LabelRead:
    """A scanner has typed a label.

    Attributes:
        text: As the scanner sent it.
        at_s: Session time at which it was typed.
    """

    text: str
    at_s: float


@dataclass(frozen=True, slots=True)
class RecordMoved:
    """Something is on the disk now, or cannot be written: what waits for it may be said."""


Inbox = queue.Queue[Message | KeyPressed | CommandPressed | LabelRead | RecordMoved]


class Live:
    """Runs a started session on live devices. Everything happens in the thread that calls `run`.

    Args:
        runner: Owns session and journal; speaks through `outputs`.
        outputs: As given to the runner.
        view: The screen.
        sound: The devices.
        load_recognizer: Waits for the recogniser and gives it; called by the listening thread, which alone uses it.
        clock: Session time.
        inbox: Where keys are posted, and where the ears post.
        phrase: Attention phrase in lower-case words, or () for none.
        locale: Language of the grammars.
        talk_over: Whether somebody who speaks over a prompt cuts it short.
        canceller: Full duplex, or None for half; see `LiveEars`.

    Attributes:
        ears: Listen.
    """

    def __init__(
        self,
        runner: SessionRunner,
        outputs: LiveOutputs,
        view: View,
        sound: SoundHeard,
        load_recognizer: Callable[[], Recognizer],
        clock: Clock,
        inbox: Inbox,
        phrase: tuple[str, ...] = (),
        locale: str = "en-US",
        *,
        talk_over: bool = True,
        canceller: Canceller | None = None,
    ) -> None:
        self._runner = runner
        self._outputs = outputs
        self._view = view
        self._sound = sound
        self._clock = clock
        self._inbox = inbox
        runner.on_written(lambda: inbox.put(RecordMoved()))
        self.ears = LiveEars(
            sound,
            load_recognizer,
            inbox.put,
            phrase,
            locale,
            talk_over=talk_over,
            lamp_tone=runner.session.lamp_tone,
            canceller=canceller,
        )
        self._broken_off_s: float | None = None

    def run(self) -> None:
        """Run until the session closes.

        Raises:
            HandsfreeError: The record cannot be written, or the voice or the recogniser failed.
        """
        self.ears.start(self._runner.wanted)
        try:
            while not self._runner.closed:
                self.turn(self._patience_s())
            self._hear_out()
        except RecordError:
            self._hear_out()  # it was said aloud that nothing more is recorded
            raise
        finally:
            self.ears.stop()

    def turn(self, patience_s: float) -> None:
        """Deal with what is in the inbox, or comes within so many seconds, and with the time.

        Raises:
            HandsfreeError: As `run`.
        """
        with suppress(queue.Empty):
            self._take(self._inbox.get(timeout=patience_s) if patience_s else self._inbox.get_nowait())
        self._runner.tick()
        self._mind_broken_off()
        self.ears.attend(self._runner.wanted, self._runner.asked)
        self._show_levels()

    def _mind_broken_off(self) -> None:
        """A prompt that was broken off for nothing is said once more."""
        since_s = self._broken_off_s
        if since_s is None or self.ears.hears_somebody or self._clock.monotonic_s() - since_s < NOBODY_S:
            return
        self._broken_off_s = None
        if not self._sound.speaking:
            self._runner.ask_again()

    def _patience_s(self) -> float:
        return self._runner.patience_s(SPEAKING_LOOK_S if self._sound.speaking else LOOK_S)

    def _show_levels(self) -> None:
        now = self._clock.monotonic_s()
        room = self.ears.room
        self._view.levels(now, room.level_dbfs, room.floor_dbfs, deaf=self._sound.speaking and not self.ears.is_full)

    def _take(self, message: Message | KeyPressed | CommandPressed | LabelRead | RecordMoved) -> None:
        match message:
            case UtteranceHeard():
                self._hear(message)
            case KeyPressed():
                self._cut_by_key()
            case CommandPressed():
                self._press(message)
            case LabelRead(text=text, at_s=at_s):
                self._runner.type(text, at_s)
            case RecordMoved():
                pass  # it has woken the turn, which ends by saying what may be said now
            case TalkedOver(at_s=at_s):
                self._broken_off_s = at_s
                self._runner.note(PromptCutShort(by="voice", at_s=round(at_s, 3)))
            case DeviceChanged(what=what, there=there):
                self._device_changed(what, there=there)
            case FramesLost(count=count, at_s=at_s):
                _LOG.warning("sound_overflowed at_s=%.3f count=%d", at_s, count)
                self._runner.note(SoundOverflowed(count=count, at_s=round(at_s, 3)))
                self._view.notice(at_s, "some sound was lost: this machine is too busy")
            case RoomTooLoud():
                room = self.ears.room
                _LOG.warning("room_too_loud level_dbfs=%.1f floor_dbfs=%.1f", room.level_dbfs, room.floor_dbfs)
                self._view.notice(self._clock.monotonic_s(), "too noisy to hear you")
                self._runner.reject(None, RejectionReason.TOO_NOISY)
            case BeepHeard(beep=beep):
                self._runner.lamp_beeped(beep)
            case EarsFailed(error=error):
                raise error

    def _hear(self, heard: UtteranceHeard) -> None:
        if not heard.addressed and not heard.hypothesis.tags and not self._runner.may_be_cry(heard.hypothesis):
            # Talk of the room: neither answered nor kept.
            self._outputs.heard(None, "not for me", 0.0)
            return
        self._broken_off_s = None
        listened_for, answers = self._runner.unasked or heard.wanted, heard.answers
        is_whole = heard.spoilt is None
        began_over = is_whole and answers in {Heard.TOO_LITTLE, Heard.ENOUGH}
        if began_over and self._runner.takes_back(heard.hypothesis, listened_for):
            answers = Heard.ALL
            self._sound.cut(Priority.ATTENTION)
        if is_whole and heard.hypothesis.goes_on:
            # The read-back of half a reading; a warning is heard out.
            self._sound.cut(Priority.ATTENTION)
        self._runner.hear(
            heard.hypothesis,
            listened_for=listened_for,
            spoilt=heard.spoilt,
            answers=answers,
            earlier=heard.earlier,
        )

    def _press(self, pressed: CommandPressed) -> None:
        """A stop acts at once. Nobody affirms what is still being said: the key then cuts it short, as any key does."""
        if pressed.control not in STOP_CONTROLS and self._sound.speaking:
            self._cut_by_key()
            if pressed.control is Control.AFFIRM:
                self._view.notice(pressed.at_s, "that was still being said: press once more to affirm it")
                return
        self._runner.press(pressed.control, pressed.at_s)

    def _cut_by_key(self) -> None:
        if self._sound.speaking:
            self._sound.stop()
            self._runner.note(PromptCutShort(by="key", at_s=round(self._clock.monotonic_s(), 3)))

    def _device_changed(self, what: str, *, there: bool) -> None:
        now = self._clock.monotonic_s()
        if not there:
            self._view.notice(now, f"{what} lost: plug it in again")
            self._runner.device_changed(what, there=False)
            return
        self._view.notice(now, f"{what} is back")
        self._runner.device_changed(what, there=True)
        unasked = self._runner.unasked is not None
        self._runner.tell(f"The {what} is back.")
        if not unasked:
            self._runner.tell(self._runner.session.snapshot.prompt)

    def _hear_out(self) -> None:
        """Let the closing words be heard; a key or a lost device ends them."""
        until_s = self._clock.monotonic_s() + LAST_WORDS_S
        while self._sound.busy and self._clock.monotonic_s() < until_s:
            with suppress(queue.Empty):
                if isinstance(self._inbox.get(timeout=SPEAKING_LOOK_S), KeyPressed | CommandPressed):
                    self._sound.stop()
