"""Practice by a person: typed, or at a microphone, with players who are shown or heard, and a trainer's cues."""

import threading
from collections.abc import Callable, Iterable
from pathlib import Path

from handsfree.audio.port import Player
from handsfree.clock import Clock
from handsfree.display import ConversationView
from handsfree.errors import UsageError
from handsfree.model.audio import Speech
from handsfree.practice.practice_runner import PracticeRunner
from handsfree.practice.scenario import Scenario
from handsfree.runner import LineInbox
from handsfree.simulation.scene import is_stop_word, seconds_of
from handsfree.simulation.script import NoiseSpec

LOOK_S = 0.2
"""How often a typed practice looks what is due."""
ROOM_S = 20.0
"""Length of the noise of the room that is rendered once and played again."""
CUE_MARK = "!"
"""A typed line that begins with it is the trainer's: the key or identifier of an event."""


class ShownStage:
    """Players whose words are shown; a stop word of theirs acts as if it had been heard. See `scene.SceneStage`.

    Args:
        runner: The session.
        view: Where words are shown.
        clock: Session time.
    """

    def __init__(self, runner: PracticeRunner, view: ConversationView, clock: Clock) -> None:
        self._runner = runner
        self._view = view
        self._clock = clock
        self._until_s = 0.0

    @property
    def quiet(self) -> bool:
        """See `SceneStage.quiet`."""
        return self._clock.monotonic_s() >= self._until_s

    def overhear(self, who: str, text: str) -> float:
        """See `SceneStage.overhear`."""
        now = self._clock.monotonic_s()
        self._until_s = now + seconds_of(text)
        self._view.person(now, who, text)
        if is_stop_word(text):
            self._runner.type(text)
        return seconds_of(text)

    def make_noise(self, noise: NoiseSpec, seconds: float) -> None:
        """See `SceneStage.make_noise`."""
        self._view.notice(self._clock.monotonic_s(), f"{noise.kind} noise for {seconds:g} s")


class PlayedStage:
    """Players who speak from the loudspeaker; the microphone hears them with the room. See `scene.SceneStage`.

    Args:
        scenario: Its words are rendered before the session begins, so that nothing waits for a voice.
        player: The loudspeaker. What players say does not make the tool deaf, as its own words do.
        clock: Session time.

    Raises:
        VoiceError: A voice is missing.
    """

    def __init__(self, scenario: Scenario, player: Player, clock: Clock) -> None:
        from handsfree.simulation.voices import render

        self._player = player
        self._clock = clock
        self._until_s = 0.0
        self._room: Speech | None = None
        self._room_until_s = 0.0
        self._said: dict[tuple[str, str], Speech] = {
            (event.who, event.say): render(scenario.voices[event.who], event.say)
            for event in scenario.events
            if event.who is not None and event.say is not None
        }

    @property
    def quiet(self) -> bool:
        """See `SceneStage.quiet`."""
        return not self._player.speaking and self._clock.monotonic_s() >= self._until_s

    def overhear(self, who: str, text: str) -> float:
        """See `SceneStage.overhear`."""
        speech = self._said[who, text]
        self._until_s = self._clock.monotonic_s() + speech.duration_s
        self._player.mix(speech)
        return speech.duration_s

    def keep_noise(self, noise: NoiseSpec) -> None:
        """Let there be noise in the room from now on; `poll` keeps it up."""
        self._room = self._rendered(noise, ROOM_S)

    def poll(self) -> None:
        """Keep the noise of the room up; call it often."""
        now_s = self._clock.monotonic_s()
        if self._room is not None and now_s >= self._room_until_s:
            self._player.mix(self._room)
            self._room_until_s = now_s + self._room.duration_s

    def make_noise(self, noise: NoiseSpec, seconds: float) -> None:
        """See `SceneStage.make_noise`."""
        self._player.mix(self._rendered(noise, seconds))

    def _rendered(self, noise: NoiseSpec, seconds: float) -> Speech:
        import numpy as np

        from handsfree.model.audio import SAMPLE_RATE_HZ
        from handsfree.simulation.acoustic_scene import NOISE_SEED, SPEECH_LEVEL
        from handsfree.simulation.mixing import SimulatedRoom

        room = SimulatedRoom(noise.kind, noise.snr_db, NOISE_SEED, SPEECH_LEVEL)
        samples = room.add_to(np.zeros(round(seconds * SAMPLE_RATE_HZ), dtype=np.int16))
        return Speech(samples.astype("<i2").tobytes(), SAMPLE_RATE_HZ)


def run_typed_practice(runner: PracticeRunner, lines: Iterable[str], cue: Callable[[str], None]) -> None:
    """Run a practice on typed lines, with time going on between them. Returns when it closes or the lines end.

    Args:
        runner: The session, started.
        lines: The learner's lines; those that begin with "!" are the trainer's cues.
        cue: Takes a cue.

    Raises:
        RecordError: The record cannot be written.
    """
    for line in LineInbox(runner, lines, LOOK_S):
        if line.text.startswith(CUE_MARK):
            cue(line.text.removeprefix(CUE_MARK).strip())
        else:
            runner.type(line.text, line.at_s)
    runner.finish()


def cues_from(path: Path, cued: Callable[[str], None]) -> threading.Thread:
    """Take the trainer's cues from a pipe (made with mkfifo) or a file, in a thread of its own: one a line.

    Returns:
        The thread; for a pipe it goes on as long as the program.

    Raises:
        UsageError: It is not there.
    """
    if not path.exists():
        raise UsageError(f"{path}: there is no such file or pipe for cues (make one with: mkfifo {path})")
    thread = threading.Thread(target=_read_cues, args=(path, cued), name="cues", daemon=True)
    thread.start()
    return thread


def _read_cues(path: Path, cued: Callable[[str], None]) -> None:
    # Whoever writes one line and closes the pipe may open it again.
    while True:
        with path.open(encoding="utf-8") as lines:
            for line in lines:
                if line.strip():
                    cued(line.strip())
        if not path.is_fifo():
            return
