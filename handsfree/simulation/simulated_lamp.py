"""A lamp that beeps, in a rehearsal: switched by the hand of whoever speaks, heard by the microphone."""

import numpy as np

from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.simulation.mixing import Signal
from handsfree.simulation.script import LampSpec

RAMP_S = 0.005
_ON = "light on"
_OFF = ("light off", "stop", "hot", "pain")


class Lamp:
    """Lit from the end of "light on" until a word that ends it begins, or until its own timer ends.

    Args:
        spec: How it sounds.
    """

    def __init__(self, spec: LampSpec) -> None:
        self._spec = spec
        self._on_s: float | None = None
        self._off_s = float("inf")
        self._beeps_s: list[float] = []
        self._due_s = float("inf")
        length = round(spec.duration_s * SAMPLE_RATE_HZ)
        wave = spec.level * np.sin(2 * np.pi * spec.frequency_hz * np.arange(length) / SAMPLE_RATE_HZ)
        ramp = np.linspace(0, 1, round(RAMP_S * SAMPLE_RATE_HZ))
        wave[: len(ramp)] *= ramp
        wave[-len(ramp) :] *= ramp[::-1]
        self._wave = wave

    def said(self, text: str, begun_s: float, ended_s: float) -> None:
        """Somebody begins to speak: the hand switches the lamp with the words.

        Args:
            text: The words.
            begun_s: Session time when they begin.
            ended_s: Session time when they will end.
        """
        if _ON in text and self._on_s is None:
            self._on_s = ended_s
            self._off_s = ended_s + self._spec.on_for_s if self._spec.on_for_s is not None else float("inf")
            self._due_s = ended_s + self._spec.every_s if self._spec.every_s is not None else float("inf")
        elif self._on_s is not None and any(word in text for word in _OFF):
            self._off_s = min(self._off_s, max(begun_s + self._spec.late_off_s, self._on_s))

    def sound(self, from_s: float, samples: int) -> Signal:
        """What it adds to the room from a session time on."""
        to_s = from_s + samples / SAMPLE_RATE_HZ
        if self._on_s is not None:
            while self._due_s < min(to_s, self._off_s):
                self._beeps_s.append(self._due_s)
                self._due_s += self._spec.every_s or float("inf")
            if self._off_s < to_s:
                if self._spec.at_end:
                    self._beeps_s.append(self._off_s)
                self._on_s = None
        made = np.zeros(samples)
        for beep_s in self._beeps_s:
            first = round((beep_s - from_s) * SAMPLE_RATE_HZ)
            low, high = max(0, first), min(samples, first + len(self._wave))
            if low < high:
                made[low:high] += self._wave[low - first : high - first]
        self._beeps_s = [beep_s for beep_s in self._beeps_s if beep_s + self._spec.duration_s > to_s]
        return made
