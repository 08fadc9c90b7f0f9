"""Double talk: something sounds while the tool speaks. Told by level alone, so that no word of its own can be taken.

What the microphone gets of the loudspeaker is never louder than what was played plus the coupling between the two,
which is learned from the tool's own speech. What is clearly louder than that is somebody else. So it is for what an
echo canceller leaves of the tool's voice, which is so soft that nearly everybody is louder.
"""

from collections import deque

import numpy as np

ECHO_S = 1.0
"""How long after it was handed over our own sound may be heard: much longer than the gate's tail, because on a busy
machine the sound server falls behind, and a prompt must not be cut short by its own end."""
COUPLING_BLOCKS = 500
"""The coupling is learned from the last 10 s of own speech."""
LEARN_BLOCKS = 100
"""Nothing is told before 2 s of own speech were heard."""
COUPLING_PERCENTILE = 95
OVER_ECHO_DB = 6.0
OVER_FLOOR_DB = 12.0
LEAST_DBFS = -50.0
WINDOW_BLOCKS = 6
"""120 ms: shorter than the shortest stop word."""
NEEDED_BLOCKS = 3
"""The four figures above were set in the rig with the loudspeaker 10 dB softer than the person; see the bench."""


class DoubleTalk:
    """Fed with each block that holds the tool's own speech."""

    def __init__(self) -> None:
        self._differences: deque[float] = deque(maxlen=COUPLING_BLOCKS)
        self._over: deque[bool] = deque(maxlen=WINDOW_BLOCKS)

    @property
    def coupling_db(self) -> float | None:
        """Level at the microphone over the level played, dB; None until it is known."""
        if len(self._differences) < LEARN_BLOCKS:
            return None
        return float(np.percentile(self._differences, COUPLING_PERCENTILE))

    def hear(self, level_dbfs: float, played_dbfs: float, floor_dbfs: float, *, learns: bool = True) -> bool:
        """Take one block.

        Args:
            level_dbfs: Level at the microphone, dB below full scale.
            played_dbfs: Highest level played in the time from which its echo can come.
            floor_dbfs: Noise floor of the room.
            learns: Whether it may be the tool's own voice alone; False where somebody is known to speak.

        Returns:
            Whether somebody else speaks.
        """
        coupling_db = self.coupling_db
        over = (
            coupling_db is not None
            and level_dbfs > played_dbfs + coupling_db + OVER_ECHO_DB
            and level_dbfs > max(LEAST_DBFS, floor_dbfs + OVER_FLOOR_DB)
        )
        self._over.append(over)
        if played_dbfs > LEAST_DBFS and learns:
            # By level alone somebody else's voice goes in as well, because it cannot be told from a louder echo; after
            # that, for as long as it is remembered, only somebody still louder cuts in.
            self._differences.append(level_dbfs - played_dbfs)
        return sum(self._over) >= NEEDED_BLOCKS

    def forget(self) -> None:
        """The tool has stopped speaking: what was counted towards somebody else does not last."""
        self._over.clear()
