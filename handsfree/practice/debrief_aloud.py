"""The spoken debriefing on real devices, after the session and its sound are closed."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

from handsfree.application.equipment import EARLY_SILENCE_S, LiveSettings
from handsfree.audio.audio_link import AudioLink
from handsfree.audio.loudspeaker import Loudspeaker
from handsfree.audio.port import Player
from handsfree.clock import Clock
from handsfree.errors import AudioDeviceError, ModelError
from handsfree.model.commands import Wanted
from handsfree.practice.aloud import Interruptions, say_aloud
from handsfree.recognition.choose import begin_loading
from handsfree.recognition.endpoint_settings import EndpointSettings
from handsfree.recognition.port import Recognizer
from handsfree.runner.listening_thread import LiveEars
from handsfree.voice.choose import choose_synthesizer


def debrief_aloud(sentences: Sequence[str], settings: LiveSettings, clock: Clock, tell: Callable[[str], None]) -> bool:
    """Say the sentences; whether all were said to their end, and not cut off by a stop word.

    Args:
        sentences: What is said.
        settings: Voice, devices and engine.
        clock: Of the session that is over.
        tell: Takes a line when it listens for a stop word, and when it cannot; any thread calls it.

    Raises:
        VoiceError: There is no voice, or a sentence cannot be spoken.
        AudioDeviceError: There is no loudspeaker.
        KeyboardInterrupt: Ctrl-C; the sound is off at once.
    """
    # Both before the devices are open: loading takes seconds, and tears holes into sound.
    load = _begin_loading(settings)
    synthesizer = choose_synthesizer(settings.voice, rate_wpm=settings.rate_wpm)
    spoken = [synthesizer.render(sentence) for sentence in sentences]
    heard = Interruptions(tell)
    with _devices(settings, clock, heard, load) as player:
        return say_aloud(spoken, player, clock, heard)


def _begin_loading(settings: LiveSettings) -> Callable[[], Recognizer] | None:
    """What waits for the recogniser; None where there is none."""
    try:
        return begin_loading(settings.engine, EndpointSettings(early_silence_s=EARLY_SILENCE_S))
    except ModelError:
        return None


@contextmanager
def _devices(
    settings: LiveSettings, clock: Clock, heard: Interruptions, load: Callable[[], Recognizer] | None
) -> Iterator[Player]:
    """A loudspeaker; with ears beside it that listen for stop words, where there are a microphone and a recogniser."""
    try:
        link = AudioLink(clock, settings.microphone, settings.loudspeaker) if load is not None else None
    except AudioDeviceError:
        link = None
    if link is None or load is None:
        heard.ready(hears=False)
        with Loudspeaker(clock, settings.loudspeaker) as player:
            yield player
        return

    def loaded() -> Recognizer:
        recognizer = load()
        heard.ready(hears=True)
        return recognizer

    with link as sound:
        ears = LiveEars(sound, loaded, heard.take, locale=settings.locale)
        ears.start(Wanted())
        try:
            yield sound
        finally:
            sound.stop()
            ears.stop()
