"""What the rest of the program asks of a voice."""

from typing import Protocol

from handsfree.model.audio import Speech


class Synthesizer(Protocol):
    """Text to sound; plays nothing."""

    @property
    def name(self) -> str:
        """Short name with version, for the record."""

    def render(self, text: str) -> Speech:
        """Render a prompt; the same text gives the same sound.

        Raises:
            VoiceError: The engine failed.
        """
