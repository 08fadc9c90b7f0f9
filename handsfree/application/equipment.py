"""Microphone, loudspeaker, voice, ears and screen of a live session."""

import logging
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Self

from rich.console import Console

from handsfree.application.echo_check import DuplexWay, way_found
from handsfree.application.places import echo_checks, prompt_cache
from handsfree.audio.audio_link import AudioLink
from handsfree.audio.devices import name_of
from handsfree.audio.echo_canceller import EchoCanceller
from handsfree.clock import Clock
from handsfree.config import Config, Duplex
from handsfree.definition.loader import Bundle
from handsfree.definition.side_words import VISIT_PLACEHOLDERS, with_side
from handsfree.display import ConversationView, LiveScreen
from handsfree.errors import AudioDeviceError, HandsfreeError
from handsfree.model.commands import Control
from handsfree.model.readings import Side
from handsfree.recognition.choose import begin_loading
from handsfree.recognition.endpoint_settings import EndpointSettings
from handsfree.recognition.port import Recognizer
from handsfree.recognition.speech_nearby import SpeechNearby
from handsfree.runner.keys import listening_for_keys
from handsfree.runner.live_outputs import LiveOutputs
from handsfree.runner.live_session import CommandPressed, Inbox, KeyPressed, LabelRead, Live
from handsfree.runner.session_runner import SessionRunner
from handsfree.runner.talk_watch import Canceller
from handsfree.runner.view import BothViews, View
from handsfree.session.prompts.approval_words import NOT_APPROVED
from handsfree.session.prompts.wording import Wording
from handsfree.voice.choose import choose_synthesizer

_LOG = logging.getLogger(__name__)
_CHECKED_SO = "the sound check of these devices found so"
_NOT_CHECKED = "no sound check of these devices yet (handsfree soundcheck)"
EARLY_SILENCE_S = 0.26
"""A command after which nothing can follow ends after this much silence; the answer must come quickly."""


@dataclass(frozen=True, slots=True)
class LiveSettings:
    """What is chosen for a live session.

    Attributes:
        microphone: Name or a part of it, or None for the system's default.
        loudspeaker: As `microphone`.
        engine: Name of the recogniser, or None for the usual one.
        voice: Name of the tool's voice, or None for the best there is.
        rate_wpm: Words a minute, 90 … 220.
        phrase: Attention phrase in lower-case words, or () for none.
        locale: Language of the grammars.
        talk_over: Whether somebody who speaks over a prompt cuts it short.
        keys: What keys are set to say, by their names.
        duplex: Whether what is said over a prompt is understood.
    """

    microphone: str | None
    loudspeaker: str | None
    engine: str | None
    voice: str | None
    rate_wpm: int
    phrase: tuple[str, ...]
    locale: str
    talk_over: bool
    keys: Mapping[str, Control] = field(default_factory=dict)
    duplex: Duplex = Duplex.CHECKED

    @classmethod
    def of(cls, config: Config) -> Self:
        """As the configuration has it; `dataclasses.replace` puts in what options say."""
        engine, voice = config.listening.engine, config.voice.name
        return cls(
            microphone=config.devices.microphone,
            loudspeaker=config.devices.loudspeaker,
            engine=engine.value if engine is not None else None,
            voice=voice.value if voice is not None else None,
            rate_wpm=config.voice.rate,
            phrase=config.listening.phrase,
            locale=config.listening.locale,
            talk_over=config.listening.talk_over,
            keys=config.keys.by_key,
            duplex=config.listening.duplex,
        )


@dataclass(frozen=True)
class Equipment:
    """Everything that a live session needs before it can start.

    Attributes:
        sound: The devices, open.
        load_recognizer: Waits for the recogniser and gives it.
        outputs: Voice, earcons and screen.
        view: The screen.
        settings: How it listens.
        canceller: What full duplex needs, or None for half.
    """

    sound: AudioLink
    load_recognizer: Callable[[], Recognizer]
    outputs: LiveOutputs
    view: View
    settings: LiveSettings
    canceller: Canceller | None = None

    def run(self, runner: SessionRunner, clock: Clock) -> None:
        """Run a started session to its end."""
        inbox = Inbox()
        live = Live(
            runner,
            self.outputs,
            self.view,
            self.sound,
            self.load_recognizer,
            clock,
            inbox,
            self.settings.phrase,
            self.settings.locale,
            talk_over=self.settings.talk_over,
            canceller=self.canceller,
        )

        def scanned(label: str, at_s: float) -> None:
            inbox.put(LabelRead(label, at_s))

        def saying(control: Control) -> Callable[[float], None]:
            return lambda at_s: inbox.put(CommandPressed(control, at_s))

        named = {name: saying(control) for name, control in self.settings.keys.items()}
        with listening_for_keys(lambda: inbox.put(KeyPressed()), scanned, clock, named):
            live.run()


@contextmanager
def equipment(
    settings: LiveSettings,
    clock: Clock,
    console: Console,
    standing: frozenset[str] = frozenset(),
    room: View | None = None,
) -> Iterator[Equipment]:
    """Load and open everything, then take the terminal.

    Args:
        settings: Devices, voice, listening.
        clock: Session time.
        console: Where the view goes.
        standing: Prompts that hold no reading; their sound is kept between runs.
        room: A screen for the room, or None.

    Raises:
        HandsfreeError: Something is missing; nothing was recorded yet.
    """
    # The tool speaks first, mostly prompts that are kept: voice and ears are loaded meanwhile. The voice would keep the
    # interpreter for half a second and tear a hole into sound, so it is a process of its own.
    synthesizer = choose_synthesizer(settings.voice, prompt_cache(), settings.rate_wpm, standing, apart=True)
    load_recognizer = begin_loading(settings.engine, EndpointSettings(early_silence_s=EARLY_SILENCE_S))
    names = settings.microphone, settings.loudspeaker
    if not console.is_terminal:
        with AudioLink(clock, *names) as sound:
            lines = _beside(ConversationView(console), room)
            outputs = LiveOutputs(sound, synthesizer, lines, clock)
            yield Equipment(sound, load_recognizer, outputs, lines, settings, canceller_for(settings, sound, lines))
        return
    with _library_noise_held(), AudioLink(clock, *names) as sound, LiveScreen(console) as screen:
        view = _beside(screen, room)
        outputs = LiveOutputs(sound, synthesizer, view, clock)
        yield Equipment(sound, load_recognizer, outputs, view, settings, canceller_for(settings, sound, view))


def _beside(view: View, room: View | None) -> View:
    return BothViews(view, room) if room is not None else view


def canceller_for(settings: LiveSettings, sound: AudioLink, view: View) -> Canceller | None:
    """What full duplex needs, where it is wanted and can be; what is done instead is shown.

    Args:
        settings: What is wanted.
        sound: The devices, open.
        view: Where it is shown.
    """
    if settings.duplex is Duplex.HALF or not settings.talk_over:
        return None
    try:
        if settings.duplex is Duplex.CHECKED:
            devices = name_of("input", settings.microphone), name_of("output", settings.loudspeaker)
            found = way_found(devices, echo_checks())
            if found is not DuplexWay.FULL:
                raise AudioDeviceError(_CHECKED_SO if found is not None else _NOT_CHECKED)
        canceller = Canceller(EchoCanceller(sound.played), SpeechNearby())
    except HandsfreeError as error:
        view.notice(0.0, f"while the tool speaks only stop words are heard: {error}")
        _LOG.info("duplex_chosen way=half fault=%s", type(error).__name__)
        return None
    _LOG.info("duplex_chosen way=full")
    return canceller


def standing_prompts(bundle: Bundle) -> frozenset[str]:
    """Prompts of a procedure that hold no reading, as the session says them at its start and at each step."""
    texts = {*map(Wording().sentence, NOT_APPROVED.values()), *bundle.procedure.cautions}
    for step in bundle.procedure.steps:
        for text in (step.prompt, step.expert):
            if text is not None and not any(place in text for place in VISIT_PLACEHOLDERS):
                texts |= {with_side(text, side) for side in (None, *Side)}
    return frozenset(texts)


@contextmanager
def _library_noise_held() -> Iterator[None]:
    """Keep what C libraries print about lost devices off the screen, and what is logged meanwhile."""
    sys.stderr.flush()
    kept = os.dup(2)
    before = sys.stderr
    nothing = os.open(os.devnull, os.O_WRONLY)
    with os.fdopen(os.dup(kept), "w", buffering=1) as out:
        os.dup2(nothing, 2)
        sys.stderr = out
        try:
            yield
        finally:
            sys.stderr = before
            os.dup2(kept, 2)
            os.close(kept)
            os.close(nothing)
