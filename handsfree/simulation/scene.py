"""The surroundings of a scripted visit: people who speak, time that passes, a tool that answers.

`TypedScene` types what people say and counts the time that it would take; `AcousticScene` speaks it as sound.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from handsfree.clock import ManualClock
from handsfree.display import ConversationView
from handsfree.model.audio import Speech
from handsfree.model.commands import ControlCommand, Wanted
from handsfree.model.effects import Earcon, Priority
from handsfree.model.hypotheses import Hypothesis, heard_text
from handsfree.runner import SessionRunner
from handsfree.session.snapshot import Snapshot
from handsfree.simulation.script import NoiseSpec, VoiceSpec
from handsfree.understanding.interpreter import interpret, typed
from handsfree.voice.port import Synthesizer

GATE_TAIL_S = 0.35
"""The microphone counts as deaf for this long after the tool's last sample."""
ANSWER_WAIT_S = 2.5
"""How long a person waits for a reaction after speaking."""
WORDS_A_SECOND = 2.5
"""Pace of typed people: 150 words a minute, conversational speech; common practice, no source."""
STEP_S = 0.2


class PacedSilence:
    """A voice without sound that takes as long as words take. See `Synthesizer`."""

    name = "silence"

    def render(self, text: str) -> Speech:
        """Silence as long as the text."""
        return Speech(bytes(2 * round(seconds_of(text) * 1000)), 1000)


def is_stop_word(text: str) -> bool:
    """Whether words act whoever says them. Other talk leaves no trace in typed practice: nobody addressed the tool."""
    nothing_else = Wanted()
    heard = typed(text, nothing_else, 0.0)
    return heard is not None and isinstance(interpret(heard, nothing_else), ControlCommand)


def seconds_of(text: str) -> float:
    """How long it takes to say a text, seconds."""
    return max(1, len(text.split())) / WORDS_A_SECOND


@dataclass
class SceneOutputs:
    """The tool's loudspeaker and screen in a scripted visit.

    Attributes:
        view: Where the conversation is shown.
        clock: The counted clock.
        synthesizer: The tool's voice.
        busy_until_s: Session time at which the tool's own sound ends.
        spoken_s: How long the tool has spoken, seconds.
        said_since_turn: What the tool has said since a person last spoke.
        reactions: What became of the utterances since the last look.
        snapshot: Where the session stood after the last event.
    """

    view: ConversationView
    clock: ManualClock
    synthesizer: Synthesizer
    busy_until_s: float = 0.0
    spoken_s: float = 0.0
    said_since_turn: str = ""
    reactions: list[str] = field(default_factory=list)
    snapshot: Snapshot | None = None

    def say(self, text: str, priority: Priority, heard_out: int = 0) -> None:  # noqa: ARG002 - nobody talks over it
        """See `runner.Outputs.say`."""
        now = self.clock.monotonic_s()
        duration_s = self.synthesizer.render(text).duration_s
        start_s = now if priority is Priority.STOP else max(now, self.busy_until_s)
        self.busy_until_s = start_s + duration_s
        self.spoken_s += duration_s
        self.said_since_turn += f" {text}"
        self.view.tool(now, text, priority)

    def earcon(self, earcon: Earcon) -> None:
        """See `runner.Outputs.earcon`."""
        self.view.sound(self.clock.monotonic_s(), earcon)

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """See `runner.Outputs.heard`."""
        self.reactions.append(outcome)
        self.view.heard(self.clock.monotonic_s(), heard_text(hypothesis, outcome), outcome, probability)

    def show(self, snapshot: Snapshot) -> None:
        """See `runner.Outputs.show`; the conversation already says it, so it is only kept."""
        self.snapshot = snapshot


class SceneStage(Protocol):
    """Where events of a practice are played, scripted or live."""

    @property
    def quiet(self) -> bool:
        """Whether neither the tool nor a player is speaking."""

    def overhear(self, who: str, text: str) -> float:
        """Let a player speak, without waiting for it. Returns its length in seconds."""

    def make_noise(self, noise: NoiseSpec, seconds: float) -> None:
        """Let there be noise from now on."""


class Scene:
    """What scripted people do; one kind passes sound on, the other typed lines.

    Args:
        runner: The session, already started.
        outputs: The same object that the runner speaks through.
        clock: The counted clock that all of them share.

    Attributes:
        runner: See above.
        outputs: See above.
        on_time: Called whenever time has passed.
        objects: Whether what is being said back is not what people said; told by whoever plays them.
        utterances: How many times somebody addressed the tool.
    """

    def __init__(self, runner: SessionRunner, outputs: SceneOutputs, clock: ManualClock) -> None:
        self.runner = runner
        self.outputs = outputs
        self.on_time: Callable[[], None] = lambda: None
        self.objects: Callable[[], bool] = lambda: False
        self.utterances = 0
        self._clock = clock
        self._players_until_s = 0.0

    @property
    def now_s(self) -> float:
        """Session time."""
        return self._clock.monotonic_s()

    @property
    def closed(self) -> bool:
        """Whether the session has ended."""
        return self.runner.closed

    @property
    def tool_is_quiet(self) -> bool:
        """Whether the tool is done speaking and hears again."""
        return self.now_s >= self.outputs.busy_until_s + GATE_TAIL_S

    @property
    def quiet(self) -> bool:
        """See `SceneStage.quiet`."""
        return self.tool_is_quiet and self.now_s >= self._players_until_s

    def speak(self, who: str, text: str, note: str = "") -> bool:
        """Say one thing once, when the tool is quiet; whether it was taken, with or without doubt."""
        if self.utterances:
            self.listen_until_quiet()
        self.outputs.reactions.clear()
        self.outputs.said_since_turn = ""
        self.utterances += 1
        self.outputs.view.person(self.now_s, who, text, note)
        self._utter(who, text)
        deadline_s = self.now_s + ANSWER_WAIT_S
        while not self.outputs.reactions and self.now_s < deadline_s and not self.closed:
            self._pass_on()
        return bool({"accepted", "doubted"} & set(self.outputs.reactions))

    def listen_for(self, words: str, longest_s: float) -> bool:
        """Wait until the tool has said these words and is quiet; False if it did not in that time."""
        deadline_s = self.now_s + longest_s
        while words.lower() not in self.outputs.said_since_turn.lower():
            if self.now_s > deadline_s or self.closed:
                return False
            self._pass_on()
        self.listen_until_quiet()
        return True

    def listen_until_quiet(self) -> None:
        """Wait until the tool hears again."""
        while not self.tool_is_quiet and not self.closed:
            self._pass_on(deaf=True)

    def listen_until_all_quiet(self) -> None:
        """Wait until neither the tool nor a player speaks."""
        while not self.quiet and not self.closed:
            self._pass_on(deaf=not self.tool_is_quiet)

    def listen_s(self, seconds: float) -> None:
        """Let time pass."""
        end_s = self.now_s + seconds
        while self.now_s < end_s and not self.closed:
            self._pass_on()

    def overhear(self, who: str, text: str) -> float:
        """See `SceneStage.overhear`."""
        raise NotImplementedError

    def make_noise(self, noise: NoiseSpec, seconds: float) -> None:
        """See `SceneStage.make_noise`."""
        raise NotImplementedError

    def _utter(self, who: str, text: str) -> None:
        """Speak to the tool."""
        raise NotImplementedError

    def _pass_on(self, *, deaf: bool = False) -> None:
        """Let a short time pass; the microphone is deaf while the tool speaks."""
        raise NotImplementedError


class TypedScene(Scene):
    """People whose words are typed; their time is counted at a usual pace."""

    def __init__(self, runner: SessionRunner, outputs: SceneOutputs, clock: ManualClock) -> None:
        super().__init__(runner, outputs, clock)
        self._overheard: list[tuple[float, str]] = []

    def _utter(self, who: str, text: str) -> None:  # noqa: ARG002 - typed people have no voice
        end_s = self.now_s + seconds_of(text)
        # Typed words carry one time; it is that at which a person begins to speak.
        self.runner.type(text)
        while self.now_s < end_s and not self.closed:
            self._pass_on()

    def _pass_on(self, *, deaf: bool = False) -> None:
        deadline_s = self.runner.session.next_deadline_s
        step_s = self.now_s + STEP_S
        self._clock.sleep_until(step_s if deadline_s is None else min(step_s, max(deadline_s, self.now_s + 0.001)))
        self.runner.tick()
        for due_s, text in [item for item in self._overheard if item[0] <= self.now_s]:
            self._overheard.remove((due_s, text))
            if not deaf and is_stop_word(text):
                self.runner.type(text)
        self.on_time()

    def overhear(self, who: str, text: str) -> float:
        """See `SceneStage.overhear`."""
        duration_s = seconds_of(text)
        self._players_until_s = self.now_s + duration_s
        self._overheard.append((self._players_until_s, text))
        self.outputs.view.person(self.now_s, who, text)
        return duration_s

    def make_noise(self, noise: NoiseSpec, seconds: float) -> None:
        """See `SceneStage.make_noise`; typed words are not disturbed."""
        self.outputs.view.notice(self.now_s, f"{noise.kind} noise for {seconds:g} s")


Voices = Mapping[str, VoiceSpec]
