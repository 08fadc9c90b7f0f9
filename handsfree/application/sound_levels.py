"""Level, clipping and noise of a sound check, and what to change."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from handsfree.model.audio import AudioBlock

CLIPPED = 32_700
"""Samples from here on are taken for cut off; a converter's limit is 32767."""
CLIPPED_SHARE = 0.001
ACTIVE_RANGE_DB = 30.0
"""A block counts as speech when it is no further below the loudest of its sentence; after the idea of ITU-T P.56."""
SOFT_DBFS = -42.0
LOUD_DBFS = -12.0
"""The nominal active level of speech is 26 dB below full scale (ITU-T G.191); what is farther off is worth a word."""
GOOD_RATIO_DB = 20.0
LEAST_RATIO_DB = 12.0
"""In noise of 20 dB nearly all commands are understood, in noise of 10 dB about half (laboratory trial, 30 each)."""
_SILENCE_DBFS = -100.0


@dataclass(frozen=True, slots=True)
class Measured:
    """What the sound was like.

    Attributes:
        speech_dbfs: Active level of the speech, dB below full scale; None if nothing was said.
        floor_dbfs: Level between the sentences; None if there was no pause.
        signal_to_noise_db: Their difference.
        clipped_share: Share of the samples of speech that are cut off.
    """

    speech_dbfs: float | None
    floor_dbfs: float | None
    signal_to_noise_db: float | None
    clipped_share: float


class Levels:
    """Keeps the level of every block, and which of them were speech."""

    def __init__(self) -> None:
        self._blocks: list[tuple[float, float, float, int]] = []
        self._spoken: list[tuple[float, float]] = []

    def passing(self, blocks: Iterator[AudioBlock]) -> Iterator[AudioBlock]:
        """The same blocks, measured as they pass."""
        for block in blocks:
            samples = np.frombuffer(block.pcm, dtype="<i2").astype(np.float64)
            power = float(np.mean(samples**2)) / 32768.0**2 if len(samples) else 0.0
            share = float(np.mean(np.abs(samples) >= CLIPPED)) if len(samples) else 0.0
            self._blocks.append((block.start_s, power, share, len(samples)))
            yield block

    def spoken(self, from_s: float, to_s: float) -> None:
        """Mark a span of session time as speech."""
        self._spoken.append((from_s, to_s))

    def measured(self) -> Measured:
        """The figures so far."""
        times = np.array([at_s for at_s, *_ in self._blocks])
        power = np.array([power for _, power, *_ in self._blocks])
        shares = np.array([share for *_, share, _ in self._blocks])
        speech = np.zeros(len(times), dtype=bool)
        near = np.zeros(len(times), dtype=bool)
        for from_s, to_s in self._spoken:
            inside = (times >= from_s) & (times < to_s)
            if inside.any():
                speech |= inside & (power >= power[inside].max() * 10 ** (-ACTIVE_RANGE_DB / 10))
            near |= (times >= from_s - 0.3) & (times < to_s + 0.3)
        level = _dbfs(power[speech])
        # The median, so that a cough between two sentences does not count.
        floor = _dbfs(np.array([np.median(power[~near])])) if (~near).any() else None
        return Measured(
            speech_dbfs=level,
            floor_dbfs=floor,
            signal_to_noise_db=None if level is None or floor is None else round(level - floor, 1),
            clipped_share=round(float(shares[speech].mean()), 6) if speech.any() else 0.0,
        )


def _dbfs(power: npt.NDArray[np.float64]) -> float | None:
    if not len(power):
        return None
    return round(max(_SILENCE_DBFS, 10 * float(np.log10(max(power.mean(), 1e-12)))), 1)


def advice(measured: Measured, *, understood: bool) -> tuple[str, ...]:
    """What to change, the most important first; empty if nothing is amiss."""
    if measured.speech_dbfs is None:
        return ("Nothing was heard: check which microphone is used (handsfree devices) and that it is not muted.",)
    hints = []
    if measured.clipped_share > CLIPPED_SHARE:
        hints.append("The sound is cut off: turn the microphone's level down, or move it away a little.")
    ratio = measured.signal_to_noise_db
    if ratio is not None and ratio < LEAST_RATIO_DB:
        hints.append(
            "The room is too loud for this microphone: bring it closer to the mouth, or make the room quieter."
        )
    elif ratio is not None and ratio < GOOD_RATIO_DB:
        hints.append("There is noise: a closer microphone or a quieter room will save repeats.")
    if measured.speech_dbfs < SOFT_DBFS:
        hints.append("The speech is soft: turn the microphone's level up, or bring it closer.")
    elif measured.speech_dbfs > LOUD_DBFS and not hints:
        hints.append("The speech is very loud: turn the microphone's level down a little.")
    if not understood:
        hints.append("Say digits one by one with a short gap, and commands in one breath; then check again.")
    return tuple(hints)
