"""Any sample rate to the one rate that recognition takes, and sound to the rate that a loudspeaker takes."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from handsfree.errors import AudioDeviceError
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock

Samples = npt.NDArray[np.float32]
"""Mono samples, full scale -1 to 1."""

LOWEST_RATE_HZ = 4_000
HIGHEST_RATE_HZ = 768_000


def check_rate(sample_rate_hz: int, what: str) -> None:
    """Refuse a sample rate that cannot be meant.

    Raises:
        AudioDeviceError: The rate is outside `LOWEST_RATE_HZ` to `HIGHEST_RATE_HZ`.
    """
    if not LOWEST_RATE_HZ <= sample_rate_hz <= HIGHEST_RATE_HZ:
        raise AudioDeviceError(
            f"{what}: a sample rate of {sample_rate_hz} Hz is outside {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} Hz"
            f" ({SAMPLE_RATE_HZ} Hz is best)"
        )


def to_pcm(samples: Samples) -> bytes:
    """Float samples as little-endian 16-bit PCM; what is beyond full scale is clipped."""
    scaled = np.clip(np.rint(samples.astype(np.float64) * 32768.0), -32768, 32767)
    return scaled.astype("<i2").tobytes()


def samples_of(pcm: bytes) -> Samples:
    """Little-endian 16-bit PCM as float samples; `to_pcm` gives the same bytes back."""
    return np.frombuffer(pcm, dtype="<i2").astype(np.float32) / np.float32(32768.0)


def to_rate(samples: npt.NDArray[np.int16], from_hz: int, to_hz: int) -> npt.NDArray[np.int16]:
    """The same sound at another rate.

    Args:
        samples: 16-bit mono.
        from_hz: Their rate, samples a second.
        to_hz: The rate wanted.
    """
    if from_hz == to_hz or not len(samples):
        return samples
    import soxr

    return np.asarray(soxr.resample(samples, from_hz, to_hz), dtype=np.int16)


class Blocks:
    """Cuts a stream of samples of one rate into blocks of `BLOCK_SAMPLES` at `SAMPLE_RATE_HZ`.

    Session time is counted in samples: the first block starts at 0.

    Args:
        sample_rate_hz: Rate of what is fed in, samples a second.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._resampler: Any = None
        if sample_rate_hz != SAMPLE_RATE_HZ:
            import soxr

            self._resampler = soxr.ResampleStream(sample_rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32")
        self._held = b""
        self._given = 0

    def feed(self, samples: Samples, *, last: bool = False) -> Iterator[AudioBlock]:
        """Take samples and give the blocks that are full.

        Args:
            samples: Mono samples at the rate stated at the start; may be empty.
            last: Nothing follows: give the rest as well, filled with silence to a whole block.
        """
        if self._resampler is not None:
            samples = self._resampler.resample_chunk(samples, last=last)
        self._held += to_pcm(samples)
        size = 2 * BLOCK_SAMPLES
        if last and len(self._held) % size:
            self._held += bytes(size - len(self._held) % size)
        whole = len(self._held) - len(self._held) % size
        ready, self._held = self._held[:whole], self._held[whole:]
        for start in range(0, whole, size):
            yield AudioBlock(ready[start : start + size], self._given / SAMPLE_RATE_HZ)
            self._given += BLOCK_SAMPLES
