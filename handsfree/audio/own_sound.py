"""What of the last seconds was the tool's own voice: looked at again once a recogniser has found words in it.

Before words are known a canceller can only go by single moments. A whole utterance tells more: of somebody's words most
stretches are unlike anything that was played, and next to nothing of them is taken out.
"""

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from handsfree.audio.levels import level_dbfs
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ

KEPT_S = 12.0
"""Longer than an utterance may be."""
STRETCH_BLOCKS = 16
"""320 ms are held against what was played: as long as a word."""
LOUD_DBFS = -50.0
"""Softer stretches tell nothing."""
SHARE = 0.75
"""Of the loud stretches of an utterance, so many are like what was played if it was the tool's own. Somebody who speaks
beside it fills more than a quarter of what is heard. Chosen on the simulated sound card, no source."""
TAKEN_OUT_DB = 15.0
"""What is left is so much softer than what was heard: nobody spoke, for nobody's words are taken out, and whoever is so
much softer than the tool is not understood. Chosen on the simulated sound card, no source."""

Wave = npt.NDArray[np.int16]
Likeness = Callable[[Wave, Wave], float]


@dataclass(frozen=True, slots=True)
class _Block:
    start_s: float
    near: Wave
    words: Wave
    far: Wave


class OwnSound:
    """The last `KEPT_S` of a microphone, beside what was played and what the canceller left.

    Args:
        likeness: How much of a sound is a copy of what was played; see `echo_canceller.likeness`.
        alike: From which it is one.
        longest_delay_s: How much later it may be heard than played.
    """

    def __init__(self, likeness: Likeness, alike: float, longest_delay_s: float) -> None:
        self._likeness = likeness
        self._alike = alike
        self._delay_blocks = round(longest_delay_s * SAMPLE_RATE_HZ / BLOCK_SAMPLES)
        self._blocks: deque[_Block] = deque(maxlen=round(KEPT_S * SAMPLE_RATE_HZ / BLOCK_SAMPLES))

    def keep(self, start_s: float, near: Wave, words: Wave, far: Wave) -> None:
        """Take the next block: as captured, as left, as played at that time."""
        self._blocks.append(_Block(start_s, near, words, far))

    def forget(self) -> None:
        """What follows was captured by another device."""
        self._blocks.clear()

    def fills(self, from_s: float, to_s: float) -> bool:
        """Whether the words of that span of session time were the tool's own, as far as they are still kept."""
        blocks = list(self._blocks)
        inside = [at for at, block in enumerate(blocks) if from_s <= block.start_s < to_s]
        if not inside:
            return False
        first, last = inside[0], inside[-1] + 1
        if not any(block.far.any() for block in blocks[max(0, first - self._delay_blocks) : last]):
            return False
        near = np.concatenate([block.near for block in blocks[first:last]])
        words = np.concatenate([block.words for block in blocks[first:last]])
        if level_dbfs(near) - level_dbfs(words) >= TAKEN_OUT_DB:
            return True
        alike = [self._is_alike(blocks, at) for at in range(first, last, STRETCH_BLOCKS // 2)]
        told = [one for one in alike if one is not None]
        return bool(told) and sum(told) >= SHARE * len(told)

    def _is_alike(self, blocks: list[_Block], first: int) -> bool | None:
        """Whether a stretch is what was played; None where it is too soft, or too near to the end, to tell."""
        stretch = blocks[first : first + STRETCH_BLOCKS]
        if len(stretch) < STRETCH_BLOCKS:
            return None
        words = np.concatenate([block.words for block in stretch])
        if level_dbfs(words) < LOUD_DBFS:
            return None
        begin = max(0, first - self._delay_blocks)
        far = np.concatenate([block.far for block in blocks[begin : first + STRETCH_BLOCKS]])
        return bool(far.any()) and self._likeness(words, far) >= self._alike
