"""A rehearsed visit: scripted people speak as sound, the real recogniser listens, the record is real."""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rich.console import Console

from handsfree.application.baseline import read_baseline
from handsfree.application.opening import NO_RECALLS, kept_open, open_session
from handsfree.application.recall_list import read_recalls
from handsfree.application.sources import USUAL_ENGINE
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle, named_beside
from handsfree.display import ConversationView
from handsfree.model.working import Working
from handsfree.recognition.choose import make_recognizer
from handsfree.runner import Ears, SessionRunner
from handsfree.simulation.acoustic_scene import AcousticScene
from handsfree.simulation.mixing import SimulatedRoom
from handsfree.simulation.rehearsal import Rehearsal, RehearsalResult
from handsfree.simulation.scene import PacedSilence, SceneOutputs, TypedScene
from handsfree.simulation.script import Script, load_script
from handsfree.simulation.simulated_lamp import Lamp
from handsfree.voice.choose import choose_synthesizer
from handsfree.voice.port import Synthesizer
from handsfree.voice.prompt_rate import PROMPT_WPM

QUIET_DB = 30.0
"""Speech-to-noise ratio of a room without noise of its own."""


@dataclass(frozen=True, kw_only=True)
class RehearsalOptions:
    """What is asked for.

    Attributes:
        script: File of the script.
        folder: New folder for the record.
        wall: Wall time of the start.
        snr_db: Speech-to-noise ratio of the room, dB; None for that of the script.
        engine: Name of the recogniser, or None for the usual one.
        voice: Name of the tool's voice, or None for the script's.
        rate_wpm: Words a minute of the tool's voice.
        clips: Whether sound is kept.
        expert: Whether prompts are short; None for as long as somebody narrates.
        working: Who leads when it begins; None for the script's own.
        typed: Whether the words are typed instead of spoken; then time is counted by their number.
        going_on: Whether findings that are heard well stand unless somebody objects.
        recall_list: File of lots that stop the session, or None.
        baseline: Record of an earlier visit, or None.
    """

    script: Path
    folder: Path
    wall: datetime
    snr_db: float | None = None
    engine: str | None = None
    voice: str | None = None
    rate_wpm: int = PROMPT_WPM
    clips: bool = False
    expert: bool | None = None
    working: Working | None = None
    going_on: bool = True
    typed: bool = False
    recall_list: Path | None = None
    baseline: Path | None = None


def rehearse_visit(asked: RehearsalOptions, console: Console) -> RehearsalResult:
    """Play a script to its end.

    Args:
        asked: What is asked for.
        console: Where the conversation is shown.

    Raises:
        HandsfreeError: A file, a voice or weights are missing or have faults, or the script does not reach its end.
    """
    scenario = load_script(asked.script)
    bundle = load_bundle(named_beside(asked.script, scenario.procedure))
    recalls = read_recalls(asked.recall_list) if asked.recall_list is not None else NO_RECALLS
    baseline = read_baseline(asked.baseline, bundle) if asked.baseline is not None else None
    recognizer = make_recognizer(asked.engine) if not asked.typed else None
    clock = ManualClock(asked.wall)
    voice: Synthesizer = PacedSilence()
    if recognizer is not None:
        voice = choose_synthesizer(asked.voice or scenario.tool_voice, rate_wpm=asked.rate_wpm)
    outputs = SceneOutputs(ConversationView(console), clock, voice)
    console.print(f"{scenario.title}\n", highlight=False)
    runner, journal = open_session(
        bundle,
        asked.folder,
        clock,
        outputs,
        practice=True,
        engine=(asked.engine or USUAL_ENGINE) if recognizer is not None else "typed",
        keep_clips=asked.clips,
        recalls=recalls,
        baseline=baseline,
        expert=asked.expert,
        working=asked.working or Working(scenario.working),
        going_on=asked.going_on,
        kind=SessionRunner,
    )
    with kept_open(runner, journal):
        if recognizer is None:
            return Rehearsal(scenario, TypedScene(runner, outputs, clock)).run()
        lamp = Lamp(scenario.lamp) if scenario.lamp is not None else None
        room = room_of(scenario, asked.snr_db)
        ears = Ears(runner, recognizer)
        scene = AcousticScene(runner, ears, outputs, clock, room, scenario.voices, lamp)
        return Rehearsal(scenario, scene).run()


def room_of(scenario: Script, snr_db: float | None) -> SimulatedRoom:
    """The room of a script, in which another speech-to-noise ratio may be asked for.

    Args:
        scenario: The script.
        snr_db: Speech-to-noise ratio, dB, or None for the script's own; pink noise where the script has none.
    """
    noise = scenario.noise
    kind = noise.kind if noise is not None else ("pink" if snr_db is not None else None)
    ratio_db = snr_db if snr_db is not None else (noise.snr_db if noise is not None else QUIET_DB)
    return SimulatedRoom(kind, ratio_db, scenario.seed)
