"""The built-in neural voice: hibari-tts, whose one voice lies inside its package, so that nothing is fetched."""

import threading
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

import numpy as np

from handsfree.errors import VoiceError
from handsfree.model.audio import Speech
from handsfree.voice.prompt_rate import PROMPT_WPM, paced
from handsfree.voice.quiet_ends import Samples, put_together

if TYPE_CHECKING:
    from hibari import Hibari

NATURAL_WPM = 178
"""Measured pace of the voice at speed 1 over six prompts of 5 to 21 words, with its pauses around each."""
BUNDLED_VOICE = "heart"
"""Its other voices would be downloaded: they are never asked for."""
SEED = 0
"""Fixes the noise part of the voice, so that the same text gives the same samples."""


class NeuralVoice:
    """See `Synthesizer`. It is loaded with the first text that it renders.

    Args:
        rate_wpm: Words a minute of a sentence without a number.

    Raises:
        VoiceError: The package is not installed.
    """

    def __init__(self, rate_wpm: int = PROMPT_WPM) -> None:
        self._rate_wpm = rate_wpm
        self._lock = threading.Lock()
        self._loaded: Hibari | None = None
        try:
            self._name = f"hibari-tts {version('hibari-tts')} {BUNDLED_VOICE}"
        except PackageNotFoundError as error:
            raise VoiceError("the neural voice is not installed (pip install hibari-tts)") from error

    def _engine(self) -> "Hibari":
        with self._lock:
            if self._loaded is None:
                try:
                    from hibari import Hibari

                    self._loaded = Hibari(voice=BUNDLED_VOICE, threads=1)
                except Exception as error:
                    raise VoiceError(f"the neural voice does not load: {error} (reinstall hibari-tts)") from error
            return self._loaded

    @property
    def name(self) -> str:
        """See `Synthesizer.name`."""
        return self._name

    def render(self, text: str) -> Speech:
        """See `Synthesizer.render`. Silence around its sentences is left out."""
        parts = self._sentences(text, 1.0)
        rate_hz = self._engine().sample_rate
        return _speech(put_together(parts, rate_hz) if parts else np.zeros(0, np.float32), rate_hz)

    def render_at(self, text: str, pace: float) -> Speech:
        """Render at another pace, as people speak, with the silence around each sentence.

        Args:
            text: Plain words.
            pace: Factor on the usual rate, 0.5 to 2.
        """
        parts = self._sentences(text, pace)
        return _speech(np.concatenate(parts) if parts else np.zeros(0, np.float32), self._engine().sample_rate)

    def _sentences(self, text: str, pace: float) -> list[Samples]:
        parts, engine = [], self._engine()
        for sentence, rate_wpm in paced(text, self._rate_wpm):
            speed = min(2.0, max(0.5, pace * rate_wpm / NATURAL_WPM))
            try:
                with self._lock:
                    parts.append(engine(sentence, speed=speed, seed=SEED))
            except Exception as error:
                raise VoiceError(f"the neural voice cannot say {sentence!r}: {error}") from error
        return parts


def _speech(samples: Samples, rate_hz: int) -> Speech:
    """Samples, full scale -1 to 1, as they are played."""
    pcm = np.clip(np.rint(samples * 32767.0), -32768, 32767)
    return Speech(pcm.astype("<i2").tobytes(), rate_hz)
