"""Sentences said aloud one after the other, outside a session: nobody is listened to meanwhile."""

from collections.abc import Iterable

from handsfree.audio.port import Player
from handsfree.clock import Clock
from handsfree.model.effects import Priority
from handsfree.voice.port import Synthesizer

BREATH_S = 0.6
"""Between two sentences, so that they are heard as two. Chosen here, no source."""
_LOOK_S = 0.1


def say_aloud(sentences: Iterable[str], player: Player, synthesizer: Synthesizer, clock: Clock) -> None:
    """Say each sentence and wait until it is over.

    Raises:
        VoiceError: A sentence cannot be spoken.
    """
    for sentence in sentences:
        speech = synthesizer.render(sentence)
        # A device that plays nothing would keep a person waiting for good.
        latest_s = clock.monotonic_s() + speech.duration_s + 2 * BREATH_S
        player.play(speech, Priority.PROMPT)
        while player.speaking and clock.monotonic_s() < latest_s:
            clock.sleep_until(clock.monotonic_s() + _LOOK_S)
        clock.sleep_until(clock.monotonic_s() + BREATH_S)
