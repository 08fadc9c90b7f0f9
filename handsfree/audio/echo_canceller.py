"""Takes the tool's own voice out of the microphone, by what the loudspeaker was really given.

The work is done by AEC3 of the WebRTC audio processing module (pywebrtc-audio, Apache-2.0). It finds the delay between
reference and echo by itself, up to half a second, and follows it; `PlayedSound` holds the two clocks together.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from handsfree.audio.levels import level_dbfs
from handsfree.audio.linear_echo import LinearEcho
from handsfree.audio.own_sound import OwnSound
from handsfree.errors import AudioDeviceError
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock

INSTALL = "pip install 'handsfree[speech]'"
ALIKE_BLOCKS = 16
"""320 ms of cleaned sound are held against the reference: as long as a word."""
LONGEST_DELAY_S = 0.5
CHANGED_DB, CHANGED_DBFS = 6.0, -50.0
"""A rest that is louder than this, and not so much softer than what was heard, is looked at."""
LEARNT_BLOCKS = 150
"""It is given 3 s of own sound to learn a room first."""
ALIKE = 18.0
"""Highest peak of the whitened cross-correlation, over its root mean square, from which sound is an echo of what was
played. Of stretches of 320 ms in three simulated rooms (decay .12 to .6 s, two with a loudspeaker that distorts) echoes
had 19 to 100 (5th to 95th percentile, n = 1085), another voice 5 to 11 (n = 1010)."""
MAY_BE_ALIKE = 12.0
"""From which it may be one: the begin of an echo fills a part of the stretch, and no other voice reaches it (above)."""

Reference = Callable[[float, int], npt.NDArray[np.int16]]
"""`Player.played`: session time of a block of the microphone and its samples, to what was played."""


@dataclass(frozen=True, slots=True)
class Cleaned:
    """A block without the tool's own voice.

    Attributes:
        words: For a recogniser: only what was predicted is taken out (`LinearEcho`), and nothing in quiet.
        somebody: For whoever asks whether somebody speaks: all that may be a rest of the echo is suppressed.
    """

    words: AudioBlock
    somebody: AudioBlock


class EchoCanceller:
    """One microphone, one loudspeaker. Every block goes through it, in order, also where nothing is played.

    Args:
        played: Gives the reference.

    Attributes:
        changes: How often a device was opened anew, so that nothing is known of the echo any more. A room that may have
            changed does not count: it is learnt anew while somebody may be speaking, whose word must not be lost.

    Raises:
        AudioDeviceError: The module is not installed here.
    """

    def __init__(self, played: Reference) -> None:
        try:
            from pywebrtc_audio import EchoCanceller as Processor
        except ImportError as error:
            raise AudioDeviceError(f"the echo canceller is missing: {INSTALL}") from error
        self._processor: Any = Processor(SAMPLE_RATE_HZ, 1)
        self._played = played
        self._linear = LinearEcho()
        self._own = OwnSound(likeness, ALIKE, LONGEST_DELAY_S)
        self.changes = 0
        kept = ALIKE_BLOCKS * 320
        self._cleaned: npt.NDArray[np.int16] = np.zeros(kept, dtype=np.int16)
        self._near, self._words, self._blocks = self._cleaned, self._cleaned, 0
        self._reference: npt.NDArray[np.int16] = np.zeros(kept + round(LONGEST_DELAY_S * SAMPLE_RATE_HZ), np.int16)

    def clean(self, block: AudioBlock) -> Cleaned:
        """The block without the echo of what was played, with the same times."""
        near = np.frombuffer(block.pcm, dtype="<i2")
        far = self._played(block.start_s, len(near))
        cleaned: npt.NDArray[np.int16] = self._processor.process(near.copy(), far)
        self._cleaned = np.concatenate([self._cleaned, cleaned])[-len(self._cleaned) :]
        self._reference = np.concatenate([self._reference, far])[-len(self._reference) :]
        words = self._linear.take_out(near, far) if len(near) == BLOCK_SAMPLES else cleaned
        self._own.keep(block.start_s, near, words, far)
        self._mind_change(near, words)
        return Cleaned(_block(words, block), _block(cleaned, block))

    def _mind_change(self, near: npt.NDArray[np.int16], words: npt.NDArray[np.int16]) -> None:
        """Let the filter learn anew where its rest is the echo itself: the room or the delay has changed."""
        self._near = np.concatenate([self._near, near])[-len(self._near) :]
        self._words = np.concatenate([self._words, words])[-len(self._words) :]
        self._blocks += bool(self._reference[-len(near) :].any())
        if self._blocks < LEARNT_BLOCKS or self._blocks % ALIKE_BLOCKS:
            return
        heard_dbfs, left_dbfs = level_dbfs(self._near), level_dbfs(self._words)
        is_left = left_dbfs > CHANGED_DBFS and left_dbfs > heard_dbfs - CHANGED_DB
        if is_left and likeness(self._words, self._reference) >= ALIKE:
            self._linear.learn_anew()
            self._blocks = 0

    def was_echo(self, from_s: float, to_s: float) -> bool:
        """Whether the words that were recognised in that span of session time were the tool's own."""
        return self._own.fills(from_s, to_s)

    def forget(self) -> None:
        """A device was opened anew: the way from loudspeaker to microphone may be another one."""
        self._processor.reset()
        self._linear.learn_anew()
        self._own.forget()
        self.changes += 1

    @property
    def is_echo(self) -> bool:
        """Whether the last sound that was let through is what was played, not yet cancelled.

        So it is while the canceller learns the room, or the delay has changed: level alone would take it for somebody.
        """
        return likeness(self._cleaned, self._reference) >= ALIKE

    @property
    def rest_may_be_echo(self) -> bool:
        """Whether what a recogniser gets, of which only what was predicted is taken out, may be what was played."""
        return likeness(self._words, self._reference) >= MAY_BE_ALIKE


def _block(samples: npt.NDArray[np.int16], block: AudioBlock) -> AudioBlock:
    return AudioBlock(samples.astype("<i2").tobytes(), block.start_s, block.shut)


def likeness(heard: npt.NDArray[np.int16], played: npt.NDArray[np.int16]) -> float:
    """How much of what was heard is a delayed copy of what was played.

    Generalised cross-correlation with phase transform (Knapp and Carter 1976): every pitch counts the same, so that a
    copy through a loudspeaker and a room still has one sharp peak, and the voice of somebody else has none.

    Args:
        heard: Samples; shorter than `played`.
        played: Samples that end at the same time, and reach back as far as the delay may be.

    Returns:
        The highest peak over the root mean square of the correlation.
    """
    return _correlation(heard, played)[0]


def delay_s(heard: npt.NDArray[np.int16], played: npt.NDArray[np.int16]) -> float | None:
    """How much later it was heard than played, seconds; None where it was not. Arguments as for `likeness`."""
    height, lag = _correlation(heard, played)
    return lag / SAMPLE_RATE_HZ if height >= ALIKE else None


def _correlation(heard: npt.NDArray[np.int16], played: npt.NDArray[np.int16]) -> tuple[float, int]:
    size = 1 << int(np.ceil(np.log2(len(heard) + len(played))))
    one, other = np.fft.rfft(heard.astype(np.float64), size), np.fft.rfft(played.astype(np.float64), size)
    cross = one * np.conj(other)
    # Above 4 kHz small loudspeakers and noise have the word.
    cross[len(cross) // 2 :] = 0
    weight = np.abs(cross)
    if not weight.any():
        return 0.0, 0
    found = np.fft.irfft(cross / np.maximum(weight, 1e-9 * weight.max()), size)
    # Both end at the same time: a delay of d puts the copy d later than len(heard) before the end of what was played.
    before = len(played) - len(heard)
    lags = np.roll(found, before)[: before + 1]
    best = int(np.argmax(lags))
    return float(lags[best] / np.sqrt(np.mean(found**2))), best
