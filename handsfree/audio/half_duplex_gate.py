"""Half-duplex gate: the tool does not listen to itself.

Without it, a prompt that holds commands is heard as commands. Blocks become zeros, not gaps, so that time and the
speech detector run on. Where an echo canceller works before it, it stays: it opens as soon as somebody speaks, and what
is left of an echo while nobody does reaches no recogniser.
"""

from collections import deque
from collections.abc import Callable

from handsfree.model.audio import AudioBlock

TAIL_S = 0.35
"""Echo was measured up to 0.197 s after the last sample went out."""
HELD_BLOCKS = 10
"""How much is held back while the gate is shut, 0.2 s: what somebody began to say before it was noticed, and little of
our own speech before it."""
HELD_CLEANED_BLOCKS = 30
"""The same of cleaned sound, 0.6 s: our own speech is not in it, and a first word is longer than it takes to notice."""
FADING_S = 0.15
"""Sound that was cut short is still on its way to the loudspeaker for this long."""
SPANS_KEPT = 64
"""For how many silenced spans it is remembered when they were."""
EDGE_S = 0.03
"""Words that begin so close after silenced sound may have begun in it; a chunk of the speech detector is as long."""


class HalfDuplexGate:
    """Silences blocks while our own speech plays and `tail_s` after it.

    The time at which a block was captured decides, not when it is looked at: a slow recogniser opens no gap.

    Args:
        sounded: `Player.sounded`.
        tail_s: Seconds of deafness after the last sample.
        held_blocks: How many blocks are held back while it is shut.
    """

    def __init__(
        self, sounded: Callable[[float, float], bool], tail_s: float = TAIL_S, held_blocks: int = HELD_BLOCKS
    ) -> None:
        self._sounded = sounded
        self._tail_s = tail_s
        self._held_blocks = held_blocks
        self._held: deque[tuple[AudioBlock, AudioBlock]] = deque()
        self._cut_s = self._open_until_s = float("-inf")
        self._silenced_s = 0.0
        self._silenced: deque[tuple[float, float]] = deque(maxlen=SPANS_KEPT)

    @property
    def silenced_s(self) -> float:
        """How much sound was silenced so far, seconds."""
        return self._silenced_s

    def is_shut(self, block: AudioBlock) -> bool:
        """Whether the block may hold our own speech, and nobody is known to speak."""
        return block.start_s >= self._open_until_s and self.is_own(block)

    def is_own(self, block: AudioBlock) -> bool:
        """Whether the block may hold our own speech."""
        return block.start_s >= self._cut_s and self._sounded(
            max(block.start_s - self._tail_s, self._cut_s), block.end_s
        )

    def take(self, block: AudioBlock, hushed: AudioBlock | None = None) -> tuple[AudioBlock, ...]:
        """What may be listened to now: the block; or silence for the time of one before it, or nothing yet.

        Args:
            block: The sound.
            hushed: The same without all that may be our own speech; None where there is no such.
        """
        if self.is_shut(block):
            self._held.append((block, hushed or block))
            return (self._silent(self._held.popleft()[0]),) if len(self._held) > self._held_blocks else ()
        passed = (*(self._silent(held) for held, _ in self._held), block)
        self._held.clear()
        return passed

    def open(
        self, block: AudioBlock, until_s: float | None = None, since_s: float = float("-inf")
    ) -> tuple[AudioBlock, ...]:
        """Somebody speaks over our speech: what was held back, and the block.

        Args:
            block: In which they do.
            until_s: Until when it stays open, session time; None where our speech was cut short: until it begins anew.
            since_s: Since when somebody may have been speaking; what was held back of before is hushed.
        """
        if until_s is None:
            self._cut_s = block.end_s + FADING_S
        else:
            self._open_until_s = max(self._open_until_s, until_s)
        passed = (*(hushed if held.end_s <= since_s else held for held, hushed in self._held), block)
        self._held.clear()
        return passed

    def has_silenced(self, from_s: float, to_s: float) -> bool:
        """Whether any sound of that span of session time was silenced, or of the moment before it."""
        return any(start_s < to_s and end_s > from_s - EDGE_S for start_s, end_s in self._silenced)

    def _silent(self, block: AudioBlock) -> AudioBlock:
        self._silenced_s += block.end_s - block.start_s
        start_s = block.start_s
        if self._silenced and start_s <= self._silenced[-1][1] + 1e-6:
            start_s = self._silenced.pop()[0]
        self._silenced.append((start_s, block.end_s))
        return AudioBlock(bytes(len(block.pcm)), block.start_s, shut=True)
