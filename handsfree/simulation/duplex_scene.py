"""A scripted visit through the live pipeline in counted time: mixer, echo, gate, canceller, recogniser, session.

Unlike `AcousticScene` the microphone hears the loudspeaker, and people may speak while the tool does.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.clock import ManualClock
from handsfree.display import ConversationView
from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.model.effects import Earcon, Priority
from handsfree.model.hypotheses import Hypothesis
from handsfree.runner import SessionRunner
from handsfree.runner.live_outputs import LiveOutputs
from handsfree.runner.live_session import Inbox, Live
from handsfree.session.heard_out import ASKS_ALONE
from handsfree.session.modes import Mode
from handsfree.session.snapshot import Snapshot
from handsfree.simulation.acoustic_scene import SPEECH_LEVEL
from handsfree.simulation.echo_room import BLOCK_S, EchoRoom
from handsfree.simulation.mixing import active_level, signal_of
from handsfree.simulation.scene import GATE_TAIL_S, Scene, Voices
from handsfree.simulation.simulated_lamp import Lamp
from handsfree.simulation.voices import render
from handsfree.voice.port import Synthesizer


class HeardOutputs:
    """The outputs of a live session, and what the scripted people remember of them. Stands in for `SceneOutputs`.

    Args:
        room: Plays.
        synthesizer: The tool's voice.
        view: Where the conversation is shown.
        clock: The counted clock.
    """

    def __init__(self, room: EchoRoom, synthesizer: Synthesizer, view: ConversationView, clock: ManualClock) -> None:
        self.view = view
        self.live = LiveOutputs(room, synthesizer, view, clock)
        self.said_since_turn = ""
        self.reactions: list[str] = []
        self.snapshot: Snapshot | None = None
        self._room = room

    @property
    def spoken_s(self) -> float:
        """How long the tool has spoken, seconds."""
        return self._room.spoken_s

    def say(self, text: str, priority: Priority, heard_out: int = 0) -> None:
        """See `runner.Outputs.say`."""
        self.said_since_turn += f" {text}"
        self.live.say(text, priority, heard_out)

    def earcon(self, earcon: Earcon) -> None:
        """See `runner.Outputs.earcon`."""
        self.live.earcon(earcon)

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """See `runner.Outputs.heard`."""
        self.reactions.append(outcome)
        self.live.heard(hypothesis, outcome, probability)

    def show(self, snapshot: Snapshot) -> None:
        """See `runner.Outputs.show`."""
        self.snapshot = snapshot
        self.live.show(snapshot)


@dataclass(frozen=True, slots=True)
class SaidSpan:
    """When somebody spoke, session time."""

    from_s: float
    to_s: float
    text: str


@dataclass(frozen=True, slots=True)
class Patience:
    """How long people wait before they speak.

    Attributes:
        tail_s: After the last sound of a prompt.
        share: Of a prompt after which they speak into it; 1 waits for its end.
        reads_back: Whether they speak into read-backs and holds too, which must be heard out, whatever these say. Else
            only to take back what was heard wrong.
    """

    tail_s: float = GATE_TAIL_S
    share: float = 1.0
    reads_back: bool = True

    def share_of(self, mode: Mode, reactions: Sequence[str], *, objects: bool) -> float:
        """Of a prompt after which they speak into it.

        Args:
            mode: What the session is doing.
            reactions: What became of what they said last.
            objects: Whether what is said back is not what they said.
        """
        # Whoever was told that nothing was taken hears the tool out before saying it again.
        hears_out = mode not in ASKS_ALONE and not self.reads_back and not objects
        return 1.0 if "not taken" in reactions or hears_out else self.share


class DuplexScene(Scene):
    """People and the tool in one room.

    Args:
        runner: The session, already started with `outputs`.
        live: Runs it.
        inbox: Of `live`.
        outputs: As given to the runner.
        clock: The counted clock.
        room: Where all of them are heard.
        voices: Who speaks how.
        patience: How long people wait.
        lamp: A lamp that beeps, or None for a silent one.
        level: Active level of people at the microphone, of full scale.
    """

    def __init__(
        self,
        runner: SessionRunner,
        live: Live,
        inbox: Inbox,
        outputs: HeardOutputs,
        clock: ManualClock,
        room: EchoRoom,
        voices: Voices,
        patience: Patience | None = None,
        lamp: Lamp | None = None,
        level: float = SPEECH_LEVEL,
    ) -> None:
        super().__init__(runner, outputs, clock)  # type: ignore[arg-type]
        self.spoken: list[SaidSpan] = []
        self._live = live
        self._inbox = inbox
        self._room = room
        self._voices = voices
        self._patience = patience or Patience()
        self._lamp = lamp
        self._level = level
        live.ears.load()
        live.ears.attend(runner.wanted, runner.asked)

    @property
    def tool_is_quiet(self) -> bool:
        """Whether people may speak now, as they see it."""
        if not self._room.speaking:
            return self.now_s >= self._room.silent_s + self._patience.tail_s
        mode = Mode(self.runner.session.snapshot.mode)
        share = self._patience.share_of(mode, self.outputs.reactions, objects=self.objects())
        return share < 1.0 and self._room.share_played >= share

    def _utter(self, who: str, text: str) -> None:
        signal = signal_of(render(self._voices[who], text))
        signal *= self._level / max(active_level(signal), 1e-9)
        length_s = len(signal) / SAMPLE_RATE_HZ
        if self._lamp is not None:
            self._lamp.said(text, self.now_s, self.now_s + length_s)
        self.spoken.append(SaidSpan(self.now_s, self.now_s + length_s, text))
        self._room.speak(signal)
        end_s = self.now_s + length_s
        while self.now_s < end_s and not self.closed:
            self._pass_on()

    def _pass_on(self, *, deaf: bool = False) -> None:  # noqa: ARG002 - the real gate decides that
        if self._lamp is not None:
            self._room.speak(self._lamp.sound(self.now_s, round(BLOCK_S * SAMPLE_RATE_HZ)))
        self._live.ears.hear(self._room.next_block())
        self._live.turn(0.0)
        while not self._inbox.empty() and not self.closed:
            self._live.turn(0.0)
        self.on_time()

    def overhear(self, who: str, text: str) -> float:
        """See `SceneStage.overhear`."""
        signal = signal_of(render(self._voices[who], text))
        self._room.speak(signal * self._level / max(active_level(signal), 1e-9))
        self._players_until_s = self.now_s + len(signal) / SAMPLE_RATE_HZ
        return len(signal) / SAMPLE_RATE_HZ
