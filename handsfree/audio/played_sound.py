"""What the loudspeaker was given, by session time: the reference of the echo canceller."""

from collections import deque

import numpy as np
import numpy.typing as npt

from handsfree.audio.resample import to_pcm
from handsfree.model.audio import SAMPLE_RATE_HZ

MARGIN_S = 0.03
"""Read so much later than it was handed over: a device asks for 20 ms at a time, and what it has not asked for yet is
not known. The echo comes later still, because the sound has to leave the device first (60 ms are asked of it)."""
KEPT_S = 2.0
"""How much is kept."""
SETTLE_CHUNKS = 50
"""A second of fills: one may come late, none early, so the earliest of them tells where the count stands."""
ERROR_S = 5.0
"""Over how long the difference between count and clock is averaged."""
BEGIN_BLOCKS = 100
"""For two seconds the count goes by the clock: a device asks for some fills at once when it begins."""
OFF_SAMPLES = 24
"""Differences under 1.5 ms are left alone: the canceller follows them by itself."""
PAUSE_BLOCKS = 30
"""Larger ones are set right while nothing was played for 0.6 s: the canceller finds the delay that it has learnt."""
SLEW_FROM_SAMPLES = 160
SLEW_EVERY_BLOCKS = 25
"""While something is played only differences of 10 ms are worn off, by a sample in so many blocks, 125 parts in a
million: more than two sound cards differ by (tens, common practice, no source); a filter that has learnt the room
cannot follow much more."""
LOST_S = 0.1
LOST_BLOCKS = 25
"""What is off by this much for half a second is set right at once: sound was lost, or the device opened anew."""

Wave = npt.NDArray[np.int16]


class PlayedSound:
    """Written by the device's callback, read block by block by one other thread.

    Samples are counted on both sides, so that the reference neither jumps nor tears when either comes late; the count
    is held to the clock slowly, because microphone and loudspeaker may be two devices with a second of their own.

    Args:
        rate_hz: Rate of what is put in, samples a second.
    """

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._given: deque[tuple[float, bytes]] = deque(maxlen=round(KEPT_S / 0.005))
        self._resampler = None
        if rate_hz != SAMPLE_RATE_HZ:
            import soxr

            self._resampler = soxr.ResampleStream(rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32")
        self._kept: Wave = np.zeros(0, dtype=np.int16)
        self._first = 0
        self._counted_s = 0.0
        self._offsets_s: deque[float] = deque(maxlen=SETTLE_CHUNKS)
        self._next: int | None = None
        self._error = 0.0
        self._lost = 0
        self._blocks = self._silent = 0

    def put(self, pcm: bytes, at_s: float) -> None:
        """Take what the device was given; in its callback, so it is only kept.

        Args:
            pcm: Little-endian 16-bit mono samples.
            at_s: Session time at which it was asked for.
        """
        self._given.append((at_s, pcm))

    def take(self, start_s: float, count: int) -> Wave:
        """The samples at `SAMPLE_RATE_HZ` that were handed over `MARGIN_S` before a block of the microphone.

        Args:
            start_s: Session time of its first sample.
            count: How many samples it has.

        Returns:
            As many; zeros where nothing was played, or nothing is known of it.
        """
        self._draw()
        if not self._offsets_s:
            return np.zeros(count, dtype=np.int16)
        due = round((start_s - MARGIN_S - min(self._offsets_s)) * SAMPLE_RATE_HZ)
        begin = self._begin(due)
        self._next = begin + count
        found = np.zeros(count, dtype=np.int16)
        low, high = max(begin, self._first), min(begin + count, self._first + len(self._kept))
        if high > low:
            found[low - begin : high - begin] = self._kept[low - self._first : high - self._first]
        self._silent = 0 if found.any() else self._silent + 1
        return found

    def _begin(self, due: int) -> int:
        """Where to read on: after what was read last, held to where the clock says."""
        if self._next is None:
            return due
        off = due - self._next
        self._lost = self._lost + 1 if abs(off) > LOST_S * SAMPLE_RATE_HZ else 0
        if self._lost >= LOST_BLOCKS:
            self._lost, self._error = 0, 0.0
            return due
        self._blocks += 1
        if self._blocks <= BEGIN_BLOCKS:
            return due
        if not self._lost:
            self._error += (off - self._error) * 0.02 / ERROR_S
        if self._silent >= PAUSE_BLOCKS and abs(self._error) > OFF_SAMPLES:
            step, self._error = round(self._error), 0.0
            return self._next + step
        if abs(self._error) > SLEW_FROM_SAMPLES and self._blocks % SLEW_EVERY_BLOCKS == 0:
            step = 1 if self._error > 0 else -1
            self._error -= step
            return self._next + step
        return self._next

    def _draw(self) -> None:
        """Take over what the callback has left, at the rate of the microphone."""
        came: list[Wave] = []
        while self._given:
            at_s, pcm = self._given.popleft()
            samples = np.frombuffer(pcm, dtype="<i2")
            self._offsets_s.append(at_s - self._counted_s)
            self._counted_s += len(samples) / self._rate_hz
            if self._resampler is not None:
                whole = samples.astype(np.float32) / np.float32(32768.0)
                samples = np.frombuffer(to_pcm(self._resampler.resample_chunk(whole)), dtype="<i2")
            came.append(samples)
        if came:
            self._kept = np.concatenate([self._kept, *came])
            over = len(self._kept) - round(KEPT_S * SAMPLE_RATE_HZ)
            if over > 0:
                self._kept, self._first = self._kept[over:], self._first + over
