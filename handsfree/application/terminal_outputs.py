"""What a person sees of a session that has no loudspeaker, and its prompts as sound files."""

from pathlib import Path

from handsfree.clock import Clock
from handsfree.display import ConversationView
from handsfree.model.effects import Earcon, Priority
from handsfree.model.hypotheses import Hypothesis, heard_text
from handsfree.runner import BothViews, View
from handsfree.session.snapshot import Snapshot


class PromptKeeper:
    """Renders prompts to numbered WAV files where no loudspeaker plays them.

    Args:
        folder: Made where it is not there.
        voice: Name of the tool's voice, or None for the best there is.

    Raises:
        VoiceError: The voice is missing.
    """

    def __init__(self, folder: Path, voice: str | None) -> None:
        # The voices come with the speech packages; typed sessions run without.
        from handsfree.voice.choose import choose_synthesizer

        self._synthesizer = choose_synthesizer(voice)
        self._folder = folder
        self._count = 0
        folder.mkdir(parents=True, exist_ok=True)

    def keep(self, text: str) -> None:
        """Write one prompt."""
        from handsfree.audio.wav import write_wav

        self._count += 1
        write_wav(self._folder / f"prompt-{self._count:04d}.wav", self._synthesizer.render(text))


class TerminalOutputs:
    """Shows the conversation in a terminal. See `runner.Outputs`.

    Args:
        view: Where lines go.
        clock: Gives the time in front of each line.
        keeper: Keeps each prompt as sound, or None.
        room: A screen for the room, or None.
    """

    def __init__(
        self, view: ConversationView, clock: Clock, keeper: PromptKeeper | None = None, room: View | None = None
    ) -> None:
        self._view = BothViews(view, room) if room is not None else view
        self._clock = clock
        self._keeper = keeper
        self._room = room

    def say(self, text: str, priority: Priority) -> None:
        """See `runner.Outputs.say`."""
        self._view.tool(self._clock.monotonic_s(), text, priority)
        if self._keeper is not None:
            self._keeper.keep(text)

    def earcon(self, earcon: Earcon) -> None:
        """See `runner.Outputs.earcon`."""
        self._view.sound(self._clock.monotonic_s(), earcon)

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """See `runner.Outputs.heard`."""
        self._view.heard(self._clock.monotonic_s(), heard_text(hypothesis, outcome), outcome, probability)

    def show(self, snapshot: Snapshot) -> None:
        """See `runner.Outputs.show`; the conversation already says it, the room does not hear that."""
        if self._room is not None:
            self._room.show(self._clock.monotonic_s(), snapshot)
