"""Sound as it crosses borders: mono 16-bit PCM at one rate."""

from dataclasses import dataclass
from enum import StrEnum

SAMPLE_RATE_HZ = 16_000
BLOCK_SAMPLES = 320
"""Samples in the usual block: 20 ms."""


class Heard(StrEnum):
    """How much of what it answers had been said when somebody began to speak."""

    NOTHING = "nothing"
    """They spoke before it was asked."""
    ALL = "all"
    ENOUGH = "enough"
    """The begin of a question that may be broken off."""
    TOO_LITTLE = "too little"


@dataclass(frozen=True, slots=True)
class AudioBlock:
    """A run of samples from the microphone or a file.

    Attributes:
        pcm: Little-endian signed 16-bit mono samples at `SAMPLE_RATE_HZ`.
        start_s: Session time (seconds, monotonic) of the first sample.
        shut: Whether the microphone was shut meanwhile: these are no samples of the room.
    """

    pcm: bytes
    start_s: float
    shut: bool = False

    @property
    def sample_count(self) -> int:
        """Number of samples."""
        return len(self.pcm) // 2

    @property
    def end_s(self) -> float:
        """Session time just after the last sample, in seconds."""
        return self.start_s + self.sample_count / SAMPLE_RATE_HZ


@dataclass(frozen=True, slots=True)
class Speech:
    """Rendered speech or an earcon, ready to play.

    Attributes:
        pcm: Little-endian signed 16-bit mono samples.
        sample_rate_hz: Samples a second.
    """

    pcm: bytes
    sample_rate_hz: int

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return len(self.pcm) / 2 / self.sample_rate_hz
