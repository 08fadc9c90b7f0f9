"""What the rest of the program asks of sound devices."""

from typing import Protocol

import numpy as np
import numpy.typing as npt

from handsfree.model.audio import Heard, Speech
from handsfree.model.effects import Priority


class Player(Protocol):
    """Where sound goes. No call waits for sound."""

    def play(self, speech: Speech, priority: Priority, *, heard_out: bool = False) -> None:
        """Queue speech; a higher priority than what is playing or waiting drops that at once.

        Args:
            speech: The sound.
            priority: Who gives way.
            heard_out: Whether nobody's voice may break it off, and a prompt waits for its end: only what is urgent
                (`Priority.ATTENTION`) drops it.
        """

    def mix(self, sound: Speech) -> None:
        """Play a short sound now, over whatever speaks."""

    def stop(self) -> None:
        """Silence everything at once."""

    def cut(self, below: Priority) -> bool:
        """Silence speech at once, unless what is playing has this priority or a higher one; whether it was cut."""

    def break_off(self) -> bool:
        """Silence speech because somebody talks over it; whether that may be.

        It may be for the last prompt alone, while nothing else waits behind it, unless it must be heard out or is
        urgent: what was not said yet would be answered unheard.
        """

    def pause(self, *, paused: bool) -> None:
        """Let speech that may be broken off wait from now on, for a second or so at most, or go on where it was."""

    def heard_at(self, at_s: float) -> Heard:
        """How much of what was to be said had been heard at that session time, of the last half minute."""

    def played(self, start_s: float, count: int) -> npt.NDArray[np.int16]:
        """What the loudspeaker was given, as a reference for an echo canceller; for one thread, block by block.

        Args:
            start_s: Session time of a block of the microphone.
            count: Its samples at `SAMPLE_RATE_HZ`.
        """

    def hold_back(self, *, held: bool) -> None:
        """Begin no speech below attention from now on, or begin it again; it is held for a few seconds at most."""

    @property
    def busy(self) -> bool:
        """Whether anything is playing or waiting."""

    @property
    def speaking(self) -> bool:
        """Whether speech is playing or waiting."""

    def sounded(self, from_s: float, to_s: float) -> bool:
        """Whether any of our own speech went out in this span of session time.

        Short sounds do not count: they hold no words, and the tick that sounds every second while the light is on
        would leave the tool deaf half of the time.
        """

    def played_dbfs(self, from_s: float, to_s: float) -> float:
        """Highest level, dB below full scale, of our own sound of the last seconds in this span of session time."""
