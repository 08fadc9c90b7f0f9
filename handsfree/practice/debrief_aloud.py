"""The spoken debriefing on real devices, after the session and its sound are closed."""

from collections.abc import Iterator, Sequence
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
from handsfree.runner.listening_thread import LiveEars
from handsfree.voice.choose import choose_synthesizer


def debrief_aloud(sentences: Sequence[str], settings: LiveSettings, clock: Clock) -> bool:
    """Say the sentences; whether all were said to their end, and not cut off by a stop word.

    Raises:
        VoiceError: There is no voice, or a sentence cannot be spoken.
        AudioDeviceError: There is no loudspeaker.
        KeyboardInterrupt: Ctrl-C; the sound is off at once.
    """
    synthesizer = choose_synthesizer(settings.voice, rate_wpm=settings.rate_wpm)
    # Before the devices are open: loading a voice takes seconds, and tears holes into sound.
    spoken = [synthesizer.render(sentence) for sentence in sentences]
    heard = Interruptions()
    with _devices(settings, clock, heard) as player:
        return say_aloud(spoken, player, clock, heard)


@contextmanager
def _devices(settings: LiveSettings, clock: Clock, heard: Interruptions) -> Iterator[Player]:
    """A loudspeaker; with ears beside it that listen for stop words, where there are a microphone and a recogniser."""
    try:
        load = begin_loading(settings.engine, EndpointSettings(early_silence_s=EARLY_SILENCE_S))
        link = AudioLink(clock, settings.microphone, settings.loudspeaker)
    except (AudioDeviceError, ModelError):
        with Loudspeaker(clock, settings.loudspeaker) as player:
            yield player
        return
    with link as sound:
        ears = LiveEars(sound, load, heard.take, locale=settings.locale)
        ears.start(Wanted())
        try:
            yield sound
        finally:
            sound.stop()
            ears.stop()
