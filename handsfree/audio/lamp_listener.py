"""Hears the lamp's own beep in the sound of the room.

How a runner uses it: make one `LampEar(session.lamp_tone)` beside the recogniser, give it every block of the microphone
*before* the tool's own sound is gated out (it hears a beep under speech, and a lamp beeps while the tool talks), and
hand each beep to `SessionRunner.lamp_beeped` in the thread that owns the session. `runner.offline_run.Ears` does just
that for files, pipes and rehearsals, `runner.listening_thread.LiveEars` for a microphone.
"""

from handsfree.exposure.profiles import ToneProfile
from handsfree.exposure.tone import Beep, ToneDetector
from handsfree.model.audio import AudioBlock


class LampEar:
    """One detector for one lamp; without a tone it hears nothing and costs nothing.

    Args:
        tone: The beep of the light profile, or None.
    """

    def __init__(self, tone: ToneProfile | None) -> None:
        self._detector = ToneDetector(tone) if tone is not None else None

    def feed(self, block: AudioBlock) -> tuple[Beep, ...]:
        """Take one block; its `start_s` is session time.

        Returns:
            The beeps that ended in it or shortly before, with the session times of the sound.
        """
        return self._detector.feed(block) if self._detector is not None else ()
