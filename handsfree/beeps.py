"""Hears the lamp's own beep in the sound that the recogniser hears, and tells it as an event."""

from handsfree.exposure.profiles import ToneProfile
from handsfree.exposure.tone import ToneDetector
from handsfree.model.audio import AudioBlock
from handsfree.model.events import ToneHeard


class LampEar:
    """One detector for one lamp; without a tone it hears nothing and costs nothing.

    Args:
        tone: The beep of the light profile, or None.
    """

    def __init__(self, tone: ToneProfile | None) -> None:
        self._detector = ToneDetector(tone) if tone is not None else None

    def feed(self, block: AudioBlock, at_s: float, wall: str) -> tuple[ToneHeard, ...]:
        """Take one block.

        Args:
            block: Sound; its `start_s` is session time.
            at_s: Session time now.
            wall: RFC 3339 stamp now.

        Returns:
            The beeps that ended in it or shortly before, with the session times of the sound.
        """
        if self._detector is None:
            return ()
        return tuple(
            ToneHeard(at_s=at_s, wall=wall, from_s=beep.from_s, to_s=beep.to_s) for beep in self._detector.feed(block)
        )
