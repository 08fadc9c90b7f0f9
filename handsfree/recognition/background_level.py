"""How loud the room is behind whoever speaks near the microphone: what tells that voice from the talk of others."""

from collections import deque
from math import log10

SMOOTHED = 5
"""Chunks over which the level is looked at: single ones jump with every syllable."""
KNOWN_FROM = 16
"""Chunks of sound, half a second, from which the level of the room is known."""
QUICKLY, SLOWLY = 0.03, 0.0003
"""Share of the difference in dB by which the level of the room follows each chunk: in a second where that is the room,
in half a minute and more where it is a near voice, or many who have come in."""


class BackgroundLevel:
    """How loud the room is where nobody speaks near the microphone, talk of others included.

    Args:
        near_db: How far over the room a voice is near.
        far_db: How far over it its own talk may be.
    """

    def __init__(self, near_db: float, far_db: float) -> None:
        self._near_db = near_db
        self._far_db = far_db
        self._last: deque[float] = deque(maxlen=SMOOTHED)
        self._heard = 0
        self._level_db = 0.0

    @property
    def is_known(self) -> bool:
        """Whether enough was heard to say."""
        return self._heard >= KNOWN_FROM

    @property
    def is_near(self) -> bool:
        """Whether it is much louder now than the room."""
        return self.is_known and self._now_db >= self._level_db + self._near_db

    @property
    def is_far(self) -> bool:
        """Whether it is no louder now than the room."""
        return self.is_known and self._now_db <= self._level_db + self._far_db

    @property
    def _now_db(self) -> float:
        return 10 * log10(sum(self._last) / len(self._last))

    def hear(self, level: float, *, is_speech: bool) -> None:
        """Take the next chunk.

        Args:
            level: Root mean square of its samples, in steps of the 16-bit scale.
            is_speech: Whether it may be speech, of whomever.
        """
        self._last.append(max(level, 1.0) ** 2)
        self._heard += 1
        if not self.is_known:
            # Whoever speaks first is not the room: it is the softest of what was heard.
            self._level_db = self._now_db if self._heard <= SMOOTHED else min(self._level_db, self._now_db)
            return
        share = SLOWLY if self.is_near and is_speech else QUICKLY
        self._level_db += share * (self._now_db - self._level_db)
