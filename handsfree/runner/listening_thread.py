"""The listening thread of a live session: sound, gate, noise, recogniser. It decides nothing."""

import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Protocol

from handsfree.audio.audio_link import Notice
from handsfree.audio.half_duplex_gate import HalfDuplexGate
from handsfree.audio.lamp_listener import LampEar
from handsfree.audio.port import Player
from handsfree.audio.room_level import RoomLevel
from handsfree.exposure.profiles import ToneProfile
from handsfree.exposure.tone import Beep
from handsfree.model.audio import AudioBlock, Heard
from handsfree.model.commands import Wanted
from handsfree.model.events import RejectionReason
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.port import Recognizer
from handsfree.runner.talk_watch import GOES_ON_S, Canceller, Over, TalkWatch
from handsfree.runner.wake_phrase import after_phrase
from handsfree.understanding.completeness import is_unfinished
from handsfree.understanding.listening_graph import graph_for

LOUD_AFTER_S = 5.0
"""A room must be too loud for this long before that is said."""
LOUD_AGAIN_S = 30.0
"""It is said again after this many seconds."""


@dataclass(frozen=True, slots=True)
class UtteranceHeard:
    """An utterance.

    Attributes:
        hypothesis: What was recognised.
        wanted: What was listened for.
        spoilt: Why its words cannot be trusted, or None.
        addressed: Whether it was meant for the tool, as far as the attention phrase tells.
        answers: How much of what it answers had been said when it began.
        earlier: What was listened for when it began, where something was asked after that; None where too much was.
    """

    hypothesis: Hypothesis
    wanted: Wanted
    spoilt: RejectionReason | None = None
    addressed: bool = True
    answers: Heard = Heard.ALL
    earlier: Wanted | None = None


@dataclass(frozen=True, slots=True)
class DeviceChanged:
    """A device went away or came back."""

    what: str
    there: bool


@dataclass(frozen=True, slots=True)
class FramesLost:
    """Sound was lost because this machine was too slow to take it.

    Attributes:
        count: How often since the last message.
        at_s: Session time when it was noticed.
    """

    count: int
    at_s: float


@dataclass(frozen=True, slots=True)
class TalkedOver:
    """Somebody spoke over a prompt, which was cut short.

    Attributes:
        at_s: Session time.
    """

    at_s: float


@dataclass(frozen=True, slots=True)
class RoomTooLoud:
    """Nobody can be understood over the steady sound of the room."""


@dataclass(frozen=True, slots=True)
class BeepHeard:
    """The lamp's own beep was heard, also under the tool's voice."""

    beep: Beep


@dataclass(frozen=True, slots=True)
class EarsFailed:
    """The listening thread ended with an error."""

    error: Exception


Message = UtteranceHeard | DeviceChanged | FramesLost | TalkedOver | RoomTooLoud | BeepHeard | EarsFailed


class SoundHeard(Player, Protocol):
    """A microphone and a loudspeaker. `audio.audio_link.AudioLink` is the real one."""

    notice: Notice

    def __iter__(self) -> Iterator[AudioBlock]:
        """Blocks until `close`."""

    @property
    def overflows(self) -> int:
        """How often sound of the microphone was lost."""

    def close(self) -> None:
        """Let the iteration end."""


class LiveEars:
    """Listens in a thread of its own for what the session wants, and posts what happens.

    Args:
        sound: The devices.
        load_recognizer: Waits for the recogniser and gives it; called by the listening thread, which alone uses it.
        post: Takes each message; must not block.
        phrase: Attention phrase in lower-case words, or () for none.
        locale: Language of the grammars.
        talk_over: Whether somebody who speaks over a prompt cuts it short.
        lamp_tone: The lamp's own beep, or None.
        canceller: Takes the tool's own voice out of the microphone, so that what is said over it is understood; None
            where that cannot be.
    """

    def __init__(
        self,
        sound: SoundHeard,
        load_recognizer: Callable[[], Recognizer],
        post: Callable[[Message], None],
        phrase: tuple[str, ...] = (),
        locale: str = "en-US",
        *,
        talk_over: bool = True,
        lamp_tone: ToneProfile | None = None,
        canceller: Canceller | None = None,
    ) -> None:
        self.room = RoomLevel()
        self._sound = sound
        self._load_recognizer = load_recognizer
        self._recognizer: Recognizer | None = None
        self._post = post
        self._phrase = phrase
        self._locale = locale
        self._watch = TalkWatch(sound, canceller)
        self._talk_over = talk_over
        self._gate = HalfDuplexGate(sound.sounded, held_blocks=self._watch.held_blocks)
        self._lamp = LampEar(lamp_tone)
        self._wanted = Wanted()
        self._asked = self._asked_before = 0
        self._listening_for: Wanted | None = None
        self._listened_for: Wanted | None = None
        self._overflows = 0
        self._hole_s = float("-inf")
        self._attended_s = self._attended_before_s = float("-inf")
        self._began_in_silence = False
        self._loud_since_s: float | None = None
        self._thread = threading.Thread(target=self._run, name="ears", daemon=True)
        sound.notice = self._device_changed

    def start(self, wanted: Wanted) -> None:
        """Begin to listen."""
        self._wanted = wanted
        self._thread.start()

    def attend(self, wanted: Wanted, asked: int) -> None:
        """Listen for this from now on; called by the thread that owns the session.

        Args:
            wanted: What is wanted.
            asked: How many questions were asked so far: one may be answered in the same words as the one before.
        """
        self._wanted = wanted
        self._asked = asked

    def stop(self, patience_s: float = 3.0) -> None:
        """End the thread and free the devices; a device that hangs is left to the end of the process."""
        self._sound.close()
        self._thread.join(patience_s)

    def _device_changed(self, what: str, there: bool) -> None:
        # What was being said when the sound broke off is not whole: it must not be taken for an answer.
        if self._recognizer is not None:
            self._recognizer.reset()
        self._watch.forget()
        self._post(DeviceChanged(what, there))

    def _run(self) -> None:
        try:
            # Here, so that whoever speaks first need not wait for what will listen.
            self.load()
            for block in self._sound:
                self.hear(block)
        except Exception as error:  # noqa: BLE001 - whatever it is, the owner of the session must know
            self._post(EarsFailed(error))

    def load(self) -> None:
        """Get the recogniser; before the first block, in the thread that hears.

        Raises:
            HandsfreeError: It cannot be loaded.
        """
        self._recognizer = self._load_recognizer()
        self._attend(self._recognizer, float("-inf"))

    def _attend(self, recognizer: Recognizer, now_s: float) -> None:
        wanted = self._wanted
        if self._asked != self._asked_before or wanted != self._listening_for:
            self._asked_before = self._asked
            self._listened_for = self._listening_for
            self._attended_before_s, self._attended_s = self._attended_s, now_s
        if wanted == self._listening_for:
            return
        self._listening_for = wanted
        unfinished = partial(is_unfinished, wanted=wanted)
        if self._phrase and not wanted.dictation:
            recognizer.listen_for(after_phrase(self._phrase, wanted, self._locale), unfinished)
        elif wanted.dictation:
            recognizer.listen_for_dictation(graph_for(wanted, self._locale))
        else:
            recognizer.listen_for(graph_for(wanted, self._locale), unfinished)

    def hear(self, raw: AudioBlock) -> None:
        """Take the next block of the microphone."""
        recognizer = self._recognizer
        assert recognizer is not None  # noqa: S101 - loaded before the first block
        for beep in self._lamp.feed(raw):
            self._post(BeepHeard(beep))
        cleaned = self._watch.clean(raw)
        block = cleaned.words
        self.room.hear(block, own=self._gate.is_own(block))
        passed = self._gated(block, cleaned.somebody)
        self._count_losses(block)
        self._mind_noise(block)
        self._attend(recognizer, block.start_s)
        wanted = self._wanted if self._listening_for is None else self._listening_for
        for part in passed:
            for hypothesis in recognizer.accept(part):
                # What is left of the tool's own voice answers nothing, and stops nothing.
                if self._watch.was_own_voice(hypothesis.spoken_from_s, hypothesis.spoken_to_s):
                    continue
                self._post(self._heard(hypothesis, wanted))
        # Somebody goes on with a reading: what is said back must wait for the rest of it. And nobody is interrupted.
        self._sound.hold_back(held=recognizer.goes_on or self._would_interrupt(recognizer, block))

    def _would_interrupt(self, recognizer: Recognizer, block: AudioBlock) -> bool:
        """Whether somebody speaks who began while the tool was silent; what is left of its own voice is nobody."""
        if not recognizer.speaking:
            self._began_in_silence = not self._gate.is_own(block)
        return recognizer.speaking and self._began_in_silence

    def _heard(self, hypothesis: Hypothesis, wanted: Wanted) -> UtteranceHeard:
        answers = self._sound.heard_at(hypothesis.spoken_from_s) if self._watch.is_full else Heard.ALL
        earlier = None
        # What was begun before the question was asked is no answer to it.
        if self._attended_s > hypothesis.spoken_from_s and not hypothesis.goes_on:
            answers = Heard.NOTHING
            earlier = self._listened_for if self._attended_before_s <= hypothesis.spoken_from_s else None
        spoilt, addressed = self._fault_of(hypothesis), self._is_addressed(hypothesis, wanted)
        return UtteranceHeard(hypothesis, wanted, spoilt, addressed, answers, earlier)

    @property
    def is_full(self) -> bool:
        """Whether what is said over the tool's own voice is understood."""
        return self._watch.is_full

    @property
    def hears_somebody(self) -> bool:
        """Whether somebody is being heard; any thread may ask."""
        return self._recognizer is not None and self._recognizer.speaking

    def _gated(self, block: AudioBlock, hushed: AudioBlock) -> tuple[AudioBlock, ...]:
        """What of the sound so far is listened to: somebody who speaks over a prompt opens the gate.

        The prompt is cut short then, unless it must be heard out. Where the tool's own voice is taken out the gate is
        open beside it, also for what is not known for speech: "hot" is over before it is.
        """
        over = Over.NOBODY
        if self._talk_over:
            over = self._watch.hear(block, self.room, own=self._gate.is_own(block))
        if over is Over.NOBODY:
            return self._gate.take(block, hushed)
        if over is Over.SOMEBODY and self._watch.break_off():
            self._post(TalkedOver(block.end_s))
            return self._gate.open(block, None, self._watch.since_s)
        if not self._watch.is_full:
            return self._gate.take(block)
        return self._gate.open(block, block.end_s + GOES_ON_S, self._watch.since_s)

    def _fault_of(self, hypothesis: Hypothesis) -> RejectionReason | None:
        if self.room.drowned(hypothesis.spoken_from_s, hypothesis.spoken_to_s):
            return RejectionReason.TOO_NOISY
        # What has a hole may have lost a word; what was said over our own speech may have taken a word from it.
        span = hypothesis.spoken_from_s, hypothesis.spoken_to_s
        mixed = self._sound.sounded(*span)
        if mixed and self._watch.is_full:
            mixed = self._gate.has_silenced(*span)
        return RejectionReason.NOT_UNDERSTOOD if mixed or self._hole_s > hypothesis.spoken_from_s else None

    def _is_addressed(self, hypothesis: Hypothesis, wanted: Wanted) -> bool:
        return not self._phrase or wanted.dictation or hypothesis.words[: len(self._phrase)] == self._phrase

    def _count_losses(self, block: AudioBlock) -> None:
        overflows = self._sound.overflows
        if overflows > self._overflows:
            self._post(FramesLost(overflows - self._overflows, block.end_s))
            self._overflows = overflows
            self._hole_s = block.end_s

    def _mind_noise(self, block: AudioBlock) -> None:
        if not self.room.too_loud:
            self._loud_since_s = None
        elif self._loud_since_s is None:
            self._loud_since_s = block.end_s
        elif block.end_s - self._loud_since_s >= LOUD_AFTER_S:
            self._post(RoomTooLoud())
            self._loud_since_s = block.end_s + LOUD_AGAIN_S - LOUD_AFTER_S
