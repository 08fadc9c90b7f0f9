"""A visit that is practised: by a scripted learner, by a person who types, by a person at a microphone."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console

from handsfree.application.opening import kept_open, open_session
from handsfree.application.screen_beside import WantedScreen, room_screen
from handsfree.application.sources import TYPED, USUAL_ENGINE
from handsfree.application.terminal_outputs import TerminalOutputs
from handsfree.clock import Clock, ManualClock, SystemClock
from handsfree.display import ConversationView
from handsfree.practice.event_injection import EventInjector
from handsfree.practice.personas import PERSONAS
from handsfree.practice.practice_plan import plan_of
from handsfree.practice.practice_runner import PracticeRunner
from handsfree.practice.scenario_loader import LoadedScenario
from handsfree.practice.scripted_learner import LearnerVisit, ScriptedLearner
from handsfree.practice.trainee_session import PlayedStage, ShownStage, cues_from, run_typed_practice
from handsfree.record.journal import Journal
from handsfree.runner import Outputs, SessionClock, is_typed_into
from handsfree.simulation.scene import PacedSilence, Scene, SceneOutputs, TypedScene

if TYPE_CHECKING:
    from handsfree.application.equipment import LiveSettings


@dataclass(frozen=True)
class SoundOptions:
    """Options about sound, as given.

    Attributes:
        engine: Name of the recogniser, or None for the usual one.
        voice: Name of the tool's voice, or None for the scenario's.
        expert: Whether prompts are short.
        clips: Whether sound is kept.
    """

    engine: str | None = None
    voice: str | None = None
    expert: bool = False
    clips: bool = False


@dataclass(frozen=True)
class Trainer:
    """What a trainer can do while a person practises.

    Attributes:
        cues: Pipe or file with the cues, or None.
        missed: Is told of a cue for which no event is left.
    """

    cues: Path | None
    missed: Callable[[str], None]

    def cueing(self, injector: EventInjector) -> Callable[[str], None]:
        """What takes a cue."""

        def cued(name: str) -> None:
            if not injector.cue(name):
                self.missed(name)

        return cued

    def attend(self, injector: EventInjector) -> None:
        """Take cues from the pipe or file, if there is one.

        Raises:
            UsageError: It is not there.
        """
        if self.cues is not None:
            cues_from(self.cues, self.cueing(injector))


def _open(
    case: LoadedScenario,
    folder: Path,
    clock: Clock,
    outputs: Outputs,
    sound: SoundOptions,
    trainee: str | None,
    learner: str | None,
    *,
    typed: bool,
    beside: bool = False,
) -> tuple[PracticeRunner, Journal]:
    runner, journal = open_session(
        case.bundle,
        folder,
        clock,
        outputs,
        practice=True,
        engine=TYPED if typed else sound.engine or USUAL_ENGINE,
        keep_clips=sound.clips,
        expert=sound.expert,
        beside=beside,
        kind=PracticeRunner,
    )
    runner.note(plan_of(case, trainee, learner).fact)
    return runner, journal


def practise_scripted(
    case: LoadedScenario,
    folder: Path,
    trainee: str | None,
    learner: str,
    wall: datetime,
    console: Console,
    sound: SoundOptions,
    *,
    typed: bool,
) -> LearnerVisit:
    """Let a scripted learner work through a scenario, by sound or typed, in counted time.

    Raises:
        HandsfreeError: A voice or weights are missing, or the visit does not reach its end.
    """
    clock = ManualClock(wall)
    view = ConversationView(console)
    if typed:
        outputs = SceneOutputs(view, clock, PacedSilence())
    else:
        # The voices come with the speech packages; typed practice runs without.
        from handsfree.voice.choose import choose_synthesizer

        outputs = SceneOutputs(view, clock, choose_synthesizer(sound.voice or case.scenario.tool_voice))
    runner, journal = _open(case, folder, clock, outputs, sound, trainee, learner, typed=typed)
    with kept_open(runner, journal):
        scene = TypedScene(runner, outputs, clock) if typed else _sound_scene(case, runner, outputs, clock, sound)
        injector = EventInjector(case.scenario, runner, scene, lambda: outputs.snapshot)
        scene.on_time = lambda: injector.poll(scene.now_s)
        return ScriptedLearner(case, PERSONAS[learner], scene, injector, wall.date()).run()


def _sound_scene(
    case: LoadedScenario, runner: PracticeRunner, outputs: SceneOutputs, clock: ManualClock, sound: SoundOptions
) -> Scene:
    from handsfree.recognition.choose import make_recognizer
    from handsfree.runner import Ears
    from handsfree.simulation.acoustic_scene import AcousticScene
    from handsfree.simulation.mixing import SimulatedRoom

    noise, seed = case.scenario.noise, case.scenario.seed
    room = SimulatedRoom(noise.kind, noise.snr_db, seed) if noise is not None else SimulatedRoom(seed=seed)
    ears = Ears(runner, make_recognizer(sound.engine))
    return AcousticScene(runner, ears, outputs, clock, room, case.scenario.voices)


def practise_typed(
    case: LoadedScenario,
    folder: Path,
    trainee: str | None,
    trainer: Trainer,
    lines: Iterable[str],
    console: Console,
    screen: WantedScreen | None = None,
    *,
    expert: bool,
) -> None:
    """Let a person practise who types; a line that begins with "!" is a trainer's cue.

    Raises:
        HandsfreeError: The record cannot be made or written, or the cues are not there.
    """
    clock = SessionClock(SystemClock())
    view = ConversationView(console)
    sound, beside = SoundOptions(expert=expert), is_typed_into(lines)
    with room_screen(screen, case.bundle) as room:
        outputs = TerminalOutputs(view, clock, room=room)
        runner, journal = _open(case, folder, clock, outputs, sound, trainee, None, typed=True, beside=beside)
        with kept_open(runner, journal):
            injector = EventInjector(case.scenario, runner, ShownStage(runner, view, clock))
            runner.on_tick = lambda: injector.poll(clock.monotonic_s())
            trainer.attend(injector)
            run_typed_practice(runner, lines, trainer.cueing(injector))


def practise_at_microphone(
    case: LoadedScenario,
    folder: Path,
    trainee: str | None,
    trainer: Trainer,
    console: Console,
    sound: SoundOptions,
    settings: "LiveSettings",
    screen: WantedScreen | None = None,
) -> None:
    """Let a person practise who speaks; the players speak from the loudspeaker.

    Raises:
        HandsfreeError: A device, a voice or weights are missing, or the record cannot be made or written.
    """
    from handsfree.application.equipment import equipment

    clock = SessionClock(SystemClock())
    with room_screen(screen, case.bundle) as room, equipment(settings, clock, console, room=room) as live:
        stage = PlayedStage(case.scenario, live.sound, clock)
        runner, journal = _open(case, folder, clock, live.outputs, sound, trainee, None, typed=False, beside=True)
        with kept_open(runner, journal):
            injector = EventInjector(case.scenario, runner, stage)
            if case.settings.noise is not None:
                stage.keep_noise(case.settings.noise)

            def pass_time() -> None:
                stage.poll()
                injector.poll(clock.monotonic_s())

            runner.on_tick = pass_time
            trainer.attend(injector)
            live.run(runner, clock)
