"""What the rest of the program asks of sound devices."""

from typing import Protocol

from handsfree.model.audio import Speech
from handsfree.model.effects import Priority


class Player(Protocol):
    """Where sound goes. No call waits for sound."""

    def play(self, speech: Speech, priority: Priority) -> None:
        """Queue speech; a higher priority than what is playing or waiting drops that at once."""

    def mix(self, sound: Speech) -> None:
        """Play a short sound now, over whatever speaks."""

    def stop(self) -> None:
        """Silence everything at once."""

    def cut(self, below: Priority) -> bool:
        """Silence speech at once, unless what is playing has this priority or a higher one; whether it was cut."""

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
