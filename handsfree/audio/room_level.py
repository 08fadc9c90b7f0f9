"""How loud the room is: level now, noise floor, and how far speech stood out of it."""

from collections import deque

import numpy as np

from handsfree.audio.levels import SILENCE_DBFS, level_dbfs
from handsfree.model.audio import AudioBlock

HISTORY_S = 20.0
FLOOR_S = 10.0
FLOOR_PERCENTILE = 20
"""The floor is the level that is undercut in this share of the last `FLOOR_S`: speech pauses reach it, words do not.
Common practice, no source."""
FLOOR_EVERY_BLOCKS = 25
LOUD_FLOOR_DBFS = -26.0
"""A floor as loud as speech ought to be: the nominal active speech level of ITU-T P.56 and G.191 is -26 dBov."""
QUIET_FLOOR_DBFS = -55.0
"""Below this no room is too loud, whatever speech measures: the talker is soft or far."""
LEAST_OVER_DB = 6.0
"""Speech that stands out less than this is not guessed at: about 5 dB of speech to noise, where the recogniser was
right in one of two commands in a laboratory trial (n = 30 each kind of noise)."""


class RoomLevel:
    """Fed with every block of the microphone. Another thread may read the levels, and nothing else."""

    def __init__(self) -> None:
        self._levels: deque[tuple[float, float, bool]] = deque()
        self._since_floor = 0
        self.level_dbfs = SILENCE_DBFS
        """Level of the newest block, dB below full scale."""
        self.floor_dbfs = SILENCE_DBFS
        """Noise floor, dB below full scale."""

    def hear(self, block: AudioBlock, *, own: bool) -> None:
        """Take a block.

        Args:
            block: As it was captured.
            own: Whether the tool's own speech is in it, which is no noise of the room.
        """
        self.level_dbfs = level_dbfs(np.frombuffer(block.pcm, dtype="<i2"))
        self._levels.append((block.start_s, self.level_dbfs, own))
        while self._levels[0][0] < block.start_s - HISTORY_S:
            self._levels.popleft()
        self._since_floor += 1
        if self._since_floor >= FLOOR_EVERY_BLOCKS:
            self._since_floor = 0
            recent = [level for at_s, level, ours in self._levels if not ours and at_s >= block.start_s - FLOOR_S]
            if len(recent) >= FLOOR_EVERY_BLOCKS:
                self.floor_dbfs = float(np.percentile(recent, FLOOR_PERCENTILE))

    @property
    def too_loud(self) -> bool:
        """Whether the steady sound of the room is as loud as speech, so that nobody can be understood."""
        return self.floor_dbfs > LOUD_FLOOR_DBFS

    def drowned(self, from_s: float, to_s: float) -> bool:
        """Whether speech in this span of session time stood out of the noise too little to be trusted."""
        levels = [level for at_s, level, _ in self._levels if from_s <= at_s < to_s]
        if not levels or self.floor_dbfs < QUIET_FLOOR_DBFS:
            return False
        speech = 10 * float(np.log10(np.mean(10 ** (np.array(levels) / 10))))
        return speech - self.floor_dbfs < LEAST_OVER_DB
