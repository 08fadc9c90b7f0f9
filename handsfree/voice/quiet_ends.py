"""Sentences put together without the silence that a voice leaves around each: a prompt begins at once and ends soon.

The neural voice leaves about a third of a second before a sentence and half a second after it (measured on eight
prompts), so that a word such as "half" took longer in silence than in sound.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

SOUND_DB = -50.0
"""Level of 10 ms of sound over full scale from which on it is speech. Chosen here: soft ends of words are above it."""
BEFORE_S = 0.03
AFTER_S = 0.08
"""What is kept around speech, seconds: a first or last sound may begin softly."""
PAUSE_S = 0.3
"""Between two sentences of one prompt, seconds; common practice, no source."""
_FRAME_S = 0.01


def trimmed(samples: Samples, rate_hz: int) -> Samples:
    """Sound without what is quiet before and after it.

    Args:
        samples: Samples, full scale -1 to 1.
        rate_hz: Samples a second.

    Returns:
        The part with speech, `BEFORE_S` and `AFTER_S` around it; none where there is no speech.
    """
    frame = max(1, int(_FRAME_S * rate_hz))
    frames = samples[: len(samples) // frame * frame].reshape(-1, frame)
    loud = np.flatnonzero(np.sqrt(np.mean(frames.astype(np.float64) ** 2, axis=1)) > 10 ** (SOUND_DB / 20))
    if not len(loud):
        return samples[:0]
    start = max(0, int(loud[0] * frame - BEFORE_S * rate_hz))
    return samples[start : int((loud[-1] + 1) * frame + AFTER_S * rate_hz)]


def put_together(sentences: Sequence[Samples], rate_hz: int) -> Samples:
    """Sentences of one prompt, one after the other, with a short pause between.

    Args:
        sentences: At least one, each as in `trimmed`.
        rate_hz: Samples a second.
    """
    pause = np.zeros(int((PAUSE_S - BEFORE_S - AFTER_S) * rate_hz), np.float32)
    parts = [part for one in sentences for part in (pause, trimmed(one, rate_hz))]
    return np.concatenate(parts[1:])
