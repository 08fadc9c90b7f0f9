"""Half-duplex gate: the tool does not listen to itself.

Without it, a prompt that holds commands is heard as commands. Blocks become zeros, not gaps, so that time and the
speech detector run on.
"""

from collections.abc import Callable, Iterable, Iterator

from handsfree.model.audio import AudioBlock

TAIL_S = 0.35
"""Echo was measured up to 0.197 s after the last sample went out."""


class HalfDuplexGate:
    """Blocks as they come, silenced while our own sound plays and `tail_s` after it. See `Source`.

    The time at which a block was captured decides, not when it is looked at: a slow recogniser opens no gap.

    Args:
        blocks: From the microphone.
        sounded: `Player.sounded`.
        tail_s: Seconds of deafness after the last sample.
    """

    def __init__(
        self, blocks: Iterable[AudioBlock], sounded: Callable[[float, float], bool], tail_s: float = TAIL_S
    ) -> None:
        self._blocks = blocks
        self._sounded = sounded
        self._tail_s = tail_s
        self._silenced_s = 0.0

    @property
    def silenced_s(self) -> float:
        """How much sound was silenced so far, seconds."""
        return self._silenced_s

    def __iter__(self) -> Iterator[AudioBlock]:
        """See `Source`."""
        return map(self.take, self._blocks)

    def take(self, block: AudioBlock) -> AudioBlock:
        """The block, or the same time of silence."""
        if not self._sounded(block.start_s - self._tail_s, block.end_s):
            return block
        self._silenced_s += block.end_s - block.start_s
        return AudioBlock(bytes(len(block.pcm)), block.start_s)
