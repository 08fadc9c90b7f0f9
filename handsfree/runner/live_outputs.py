"""What a person hears and sees in a live session."""

from handsfree.audio.earcons import render_earcon
from handsfree.audio.port import Player
from handsfree.clock import Clock
from handsfree.errors import VoiceError
from handsfree.model.effects import Earcon, Priority
from handsfree.model.hypotheses import Hypothesis, heard_text
from handsfree.runner.view import View
from handsfree.session.snapshot import Snapshot
from handsfree.voice.port import Synthesizer


class LiveOutputs:
    """Speaks, sounds and shows. See `runner.Outputs`.

    Args:
        player: Where sound goes.
        synthesizer: The tool's voice.
        view: The screen.
        clock: Session time.
    """

    def __init__(self, player: Player, synthesizer: Synthesizer, view: View, clock: Clock) -> None:
        self._player = player
        self._synthesizer = synthesizer
        self._view = view
        self._clock = clock
        self._unanswered = False
        self._has_spoken = False

    def say(self, text: str, priority: Priority) -> None:
        """See `runner.Outputs.say`. What cannot be spoken is shown, with a sound that asks for attention.

        Raises:
            VoiceError: The very first words cannot be spoken: nobody should begin with a tool that is mute.
        """
        if priority is Priority.STOP:
            # Silence first: rendering takes a moment in which the old prompt would go on.
            self._player.stop()
        self._acknowledge()
        self._view.tool(self._clock.monotonic_s(), text, priority)
        try:
            speech = self._synthesizer.render(text)
        except VoiceError as error:
            if not self._has_spoken:
                raise
            self._view.notice(self._clock.monotonic_s(), f"not spoken, read the screen: {error}")
            self._player.mix(render_earcon(Earcon.ATTENTION))
            return
        self._player.play(speech, priority)
        self._has_spoken = True

    def _acknowledge(self) -> None:
        """One sound that tells at once that something was heard, where the session itself asks for none."""
        if self._unanswered:
            self._unanswered = False
            self._player.mix(render_earcon(Earcon.HEARD))

    def earcon(self, earcon: Earcon) -> None:
        """See `runner.Outputs.earcon`."""
        self._unanswered = False
        self._view.sound(self._clock.monotonic_s(), earcon)
        self._player.mix(render_earcon(earcon))

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """See `runner.Outputs.heard`."""
        self._unanswered = outcome in {"accepted", "doubted"}
        self._view.heard(self._clock.monotonic_s(), heard_text(hypothesis, outcome), outcome, probability)

    def show(self, snapshot: Snapshot) -> None:
        """See `runner.Outputs.show`."""
        self._view.show(self._clock.monotonic_s(), snapshot)
