"""Whether somebody is speaking right now, block by block: the speech detector without an utterance around it."""

from collections import deque

from handsfree.model.audio import AudioBlock
from handsfree.recognition.speech_detector import SpeechDetector, raised, silero

CHUNK_BYTES = 1024
"""The detector takes 512 samples at a time."""
LOOKED_BACK = 5
"""Chunks, 160 ms: a detector follows a first syllable with a delay of as much."""
SPEECH = 0.5
"""Probability from which a chunk is speech: the threshold of its makers."""


class SpeechNearby:
    """Fed with every block, so that the detector knows what went before.

    Args:
        detector: Says how likely a chunk is speech; None loads the usual one.

    Raises:
        ModelError: Its package is not installed.
    """

    def __init__(self, detector: SpeechDetector | None = None) -> None:
        self._detector = detector or silero()
        self._waiting = b""
        self._recent: deque[float] = deque(maxlen=LOOKED_BACK)

    def hear(self, block: AudioBlock) -> None:
        """Take a block."""
        self._waiting += block.pcm
        while len(self._waiting) >= CHUNK_BYTES:
            self._recent.append(self._detector(raised(self._waiting[:CHUNK_BYTES])))
            self._waiting = self._waiting[CHUNK_BYTES:]

    @property
    def probability(self) -> float:
        """The highest of the last 160 ms."""
        return max(self._recent, default=0.0)
