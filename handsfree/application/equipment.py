"""What `run` does with a microphone and a loudspeaker."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import platformdirs
from rich.console import Console

from handsfree.audio.audio_link import AudioLink
from handsfree.clock import Clock
from handsfree.config import Config
from handsfree.definition.loader import Bundle
from handsfree.definition.side_words import with_side
from handsfree.display import ConversationView, LiveScreen
from handsfree.model.readings import Side
from handsfree.recognition.choose import make_recognizer_beside
from handsfree.recognition.endpointing import EndpointSettings
from handsfree.recognition.port import Recognizer
from handsfree.runner.keys import listening_for_keys
from handsfree.runner.live_outputs import LiveOutputs
from handsfree.runner.live_session import Inbox, KeyPressed, LabelScanned, Live
from handsfree.runner.session_runner import SessionRunner
from handsfree.session.prompts.sentences import Fixed
from handsfree.session.prompts.wording import Wording
from handsfree.voice.choose import choose_synthesizer

EARLY_SILENCE_S = 0.26
"""A command after which nothing can follow ends after this much silence; the answer must come quickly."""


@dataclass(frozen=True)
class Equipment:
    """Everything that a live session needs before it can start.

    Attributes:
        sound: The devices, open.
        recognizer: Loaded, or about to be.
        outputs: Voice, earcons and screen.
        view: The screen.
        config: Listening options are used here.
    """

    sound: AudioLink
    recognizer: Recognizer
    outputs: LiveOutputs
    view: ConversationView | LiveScreen
    config: Config

    def run(self, conductor: SessionRunner, clock: Clock) -> None:
        """Run a started session to its end."""
        inbox = Inbox()
        live = Live(
            conductor,
            self.outputs,
            self.view,
            self.sound,
            self.recognizer,
            clock,
            inbox,
            self.config.listening.phrase,
            self.config.listening.locale,
            talk_over=self.config.listening.talk_over,
        )
        with listening_for_keys(lambda: inbox.put(KeyPressed()), lambda label: inbox.put(LabelScanned(label)), clock):
            live.run()


@contextmanager
def equipment(
    config: Config, clock: Clock, console: Console, standing: frozenset[str] = frozenset()
) -> Iterator[Equipment]:
    """Load and open everything, then take the terminal.

    Args:
        config: Devices, voice, listening.
        clock: Session time.
        console: Where the view goes.
        standing: Prompts that hold no reading; their sound is kept between runs.

    Raises:
        HandsfreeError: Something is missing; nothing was recorded yet.
    """
    engine, voice = config.listening.engine, config.voice.name
    cache = Path(platformdirs.user_cache_dir("handsfree", appauthor=False)) / "prompts"
    # The tool speaks first, mostly prompts that are kept: voice and ears are loaded meanwhile. The voice would keep the
    # interpreter for half a second and tear a hole into sound, so it is a process of its own.
    synthesizer = choose_synthesizer(
        voice.value if voice is not None else None, cache, config.voice.rate, standing, apart=True
    )
    recognizer = make_recognizer_beside(
        engine.value if engine is not None else None, EndpointSettings(early_silence_s=EARLY_SILENCE_S)
    )
    names = config.devices.microphone, config.devices.loudspeaker
    if not console.is_terminal:
        with AudioLink(clock, *names) as sound:
            lines = ConversationView(console)
            yield Equipment(sound, recognizer, LiveOutputs(sound, synthesizer, lines, clock), lines, config)
        return
    with _library_noise_held(), AudioLink(clock, *names) as sound, LiveScreen(console) as screen:
        yield Equipment(sound, recognizer, LiveOutputs(sound, synthesizer, screen, clock), screen, config)


def standing_prompts(bundle: Bundle) -> frozenset[str]:
    """Prompts of a procedure that hold no reading, as the session says them at its start and at each step."""
    texts = {Wording().sentence(Fixed.NOT_APPROVED), *bundle.procedure.cautions}
    for step in bundle.procedure.steps:
        for text in (step.prompt, step.expert):
            if text is not None:
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
