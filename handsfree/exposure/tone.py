"""Hears the lamp's own beep in a stream of sound, also while somebody speaks, and compares it with the spoken times.

The band around the beep's pitch is shifted to zero and thinned out to 500 values a second. Over a little less than the
beep's length each candidate pitch is correlated (what a Goertzel filter does): a beep is one steady sinusoid that
carries most of that band's power, and stops after the stated time. A voice at other pitches does not hide it, and a
voice whose overtone lies in the band wanders too much to be one. Standard library only.

Beeps at voice pitches or shorter than 0.2 s are taken for speech and the other way round far too often; a
`ToneProfile` refuses them.
"""

from array import array
from cmath import exp as cexp
from dataclasses import dataclass
from math import cos, pi
from operator import mul

from handsfree.exposure.profiles import ToneProfile
from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock

GAP_S = 0.01
"""From here on the time between two blocks is a hole in the sound, not a correction of its clock."""
_FILTER = 128
_HOP = 32
_RATE_HZ = SAMPLE_RATE_HZ / _HOP
_LOOK_EVERY = 8
_SHARE = 0.5
"""Part of the band's power that one steady pitch must carry. Set on made-up sound, see the tone bench."""
_EDGE = 0.5
"""A beep lasts while its amplitude is above this part of that in its middle."""
_SMOOTH = 10
"""Values (20 ms) averaged for the amplitude; also the shortest silence that ends a beep."""


@dataclass(frozen=True, slots=True)
class Beep:
    """One beep of the lamp.

    Attributes:
        from_s: Session time at which it began, s.
        to_s: Session time at which it ended, s.
    """

    from_s: float
    to_s: float


class ToneDetector:
    """Takes blocks as they come and gives beeps about one beep's length after they end.

    Args:
        profile: Pitch, duration and tolerances of the beep.
    """

    def __init__(self, profile: ToneProfile) -> None:
        self._profile = profile
        self._turn = -2j * pi * profile.frequency_hz / SAMPLE_RATE_HZ
        hann = [(0.5 - 0.5 * cos(2 * pi * (n + 0.5) / _FILTER)) for n in range(_FILTER)]
        self._filter = [w * cexp(self._turn * n) for n, w in enumerate(hann)]
        self._core = max(_SMOOTH, int((profile.duration_s - profile.tolerance_s) * _RATE_HZ))
        self._reach = int((profile.duration_s + profile.tolerance_s) * _RATE_HZ) + 3 * _SMOOTH
        # Half the width of the correlation's peak, so that no pitch falls between two candidates.
        step_hz = _RATE_HZ / self._core / 2
        count = int(profile.tolerance_hz / step_hz) + 1
        self._pitches_hz = [k * step_hz for k in range(-count, count + 1)]
        self._tables = [[cexp(-2j * pi * hz / _RATE_HZ * n) for n in range(self._core)] for hz in self._pitches_hz]
        self._samples: array[int] = array("h")
        self._end_s: float | None = None
        self._begin(0.0)

    def feed(self, block: AudioBlock) -> tuple[Beep, ...]:
        """Beeps that were found with this block. A gap between blocks starts afresh; a sound card's drift does not."""
        step_s = block.start_s - self._end_s if self._end_s is not None else GAP_S
        if abs(step_s) >= GAP_S:
            self._begin(block.start_s)
        else:
            self._start_s += step_s
        self._end_s = block.end_s
        self._samples.frombytes(block.pcm[: 2 * block.sample_count])
        start = 0
        while len(self._samples) - start >= _FILTER:
            heard = self._samples[start : start + _FILTER]
            value = sum(map(mul, heard, self._filter), 0j)
            self._band.append(value * cexp(self._turn * (self._taken * _HOP)))
            self._taken += 1
            start += _HOP
        del self._samples[:start]
        beeps: list[Beep] = []
        while self._next + self._core + self._reach <= self._dropped + len(self._band):
            beep = self._look(self._next - self._dropped)
            if beep is not None:
                beeps.append(beep)
            self._next += _LOOK_EVERY
        spare = self._next - self._reach - _LOOK_EVERY - self._dropped
        if spare > 0:
            del self._band[:spare]
            self._dropped += spare
        return tuple(beeps)

    def _begin(self, start_s: float) -> None:
        self._samples = array("h")
        self._band: list[complex] = []
        self._start_s = start_s
        self._taken = self._dropped = self._next = 0
        self._ignored_to = 0
        self._last_share = 0.0
        self._last_pitch = 0

    def _look(self, at: int) -> Beep | None:
        core = self._band[at : at + self._core]
        power = sum(z.real * z.real + z.imag * z.imag for z in core)
        sums = [abs(sum(map(mul, core, table), 0j)) for table in self._tables]
        best = max(range(len(sums)), key=sums.__getitem__)
        share = sums[best] ** 2 / (power * self._core) if power > 0 else 0.0
        last_share, last_pitch = self._last_share, self._last_pitch
        self._last_share, self._last_pitch = share, best
        # The look before was the best place: the share has just begun to fall.
        if last_share <= _SHARE or share > last_share or self._dropped + at - _LOOK_EVERY < self._ignored_to:
            return None
        return self._measure(at - _LOOK_EVERY, last_pitch)

    def _measure(self, at: int, pitch: int) -> Beep | None:
        turn = -2j * pi * self._pitches_hz[pitch] / _RATE_HZ
        first = max(0, at - self._reach)
        still = [z * cexp(turn * n) for n, z in enumerate(self._band[first : at + self._core + self._reach])]
        reference = abs(sum(still[at - first : at - first + self._core])) / self._core
        loud = [abs(sum(still[n : n + _SMOOTH])) / _SMOOTH > _EDGE * reference for n in range(len(still) - _SMOOTH + 1)]
        middle = at - first + self._core // 2
        begin = _edge(loud, middle, -1)
        end = _edge(loud, middle, 1)
        self._ignored_to = self._dropped + first + end
        duration_s = (end - begin) / _RATE_HZ
        if abs(duration_s - self._profile.duration_s) > self._profile.tolerance_s:
            return None
        # A value stands for the middle of its averaging stretch and of the filter.
        offset_s = self._start_s + (_SMOOTH / 2) / _RATE_HZ + (_FILTER - _HOP) / 2 / SAMPLE_RATE_HZ
        from_s = offset_s + (self._dropped + first + begin) / _RATE_HZ
        return Beep(from_s, from_s + duration_s)


def _edge(loud: list[bool], start: int, step: int) -> int:
    """Last loud place from `start` in direction `step` before a silence of `_SMOOTH` values or the end."""
    last, at = start, start
    while 0 <= at < len(loud) and abs(at - last) < _SMOOTH:
        if loud[at]:
            last = at
        at += step
    return last
