"""Half-duplex gate: the tool does not listen to itself.

Without it, a prompt that holds commands is heard as commands. Blocks become zeros, not gaps, so that time and the
speech detector run on.
"""

from collections import deque
from collections.abc import Callable

from handsfree.model.audio import AudioBlock

TAIL_S = 0.35
"""Echo was measured up to 0.197 s after the last sample went out."""
HELD_BLOCKS = 10
"""How much is held back while the gate is shut, 0.2 s: what somebody began to say before it was noticed, and little of
our own speech before it."""
FADING_S = 0.15
"""Sound that was cut short is still on its way to the loudspeaker for this long."""


class HalfDuplexGate:
    """Silences blocks while our own speech plays and `tail_s` after it.

    The time at which a block was captured decides, not when it is looked at: a slow recogniser opens no gap.

    Args:
        sounded: `Player.sounded`.
        tail_s: Seconds of deafness after the last sample.
    """

    def __init__(self, sounded: Callable[[float, float], bool], tail_s: float = TAIL_S) -> None:
        self._sounded = sounded
        self._tail_s = tail_s
        self._held: deque[AudioBlock] = deque()
        self._cut_s = float("-inf")
        self._silenced_s = 0.0

    @property
    def silenced_s(self) -> float:
        """How much sound was silenced so far, seconds."""
        return self._silenced_s

    def is_shut(self, block: AudioBlock) -> bool:
        """Whether the block may hold our own speech."""
        return block.start_s >= self._cut_s and self._sounded(
            max(block.start_s - self._tail_s, self._cut_s), block.end_s
        )

    def take(self, block: AudioBlock) -> tuple[AudioBlock, ...]:
        """What may be listened to now: the block; or silence for the time of one before it, or nothing yet."""
        if self.is_shut(block):
            self._held.append(block)
            return (self._silent(self._held.popleft()),) if len(self._held) > HELD_BLOCKS else ()
        passed = (*(self._silent(held) for held in self._held), block)
        self._held.clear()
        return passed

    def open(self, block: AudioBlock) -> tuple[AudioBlock, ...]:
        """Somebody speaks over our speech, which was cut short: what was held back, and the block, as they are.

        The gate stays open until our own speech begins anew.
        """
        self._cut_s = block.end_s + FADING_S
        passed = (*self._held, block)
        self._held.clear()
        return passed

    def _silent(self, block: AudioBlock) -> AudioBlock:
        self._silenced_s += block.end_s - block.start_s
        return AudioBlock(bytes(len(block.pcm)), block.start_s, shut=True)
