"""`handsfree practice` and `debrief`: a procedure with things that happen, and what the attempt came to."""

import json
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

import click
from rich.console import Console

from handsfree.application.opening import open_session
from handsfree.clock import Clock, ManualClock, SystemClock
from handsfree.commands.progress import STORE, store_at, write_page
from handsfree.commands.rehearse import DEFAULT_START
from handsfree.config import Config, read_config
from handsfree.display import ConversationView
from handsfree.practice.attempts import reference
from handsfree.practice.debrief import score_lines
from handsfree.practice.event_injection import EventInjector
from handsfree.practice.personas import PERSONAS
from handsfree.practice.points import OWN_TABLE, load_points
from handsfree.practice.practice_plan import plan_of
from handsfree.practice.practice_runner import PracticeRunner
from handsfree.practice.scenario_loader import LoadedScenario, load_scenario
from handsfree.practice.scoring import Score
from handsfree.practice.scoring import score as score_record
from handsfree.practice.scripted_learner import LearnerVisit, ScriptedLearner
from handsfree.record.journal import Journal
from handsfree.report.record_page import procedure_of, readable
from handsfree.runner import Outputs, SessionClock
from handsfree.simulation.scene import PacedSilence, Scene, SceneOutputs, TypedScene

_PATH = click.Path(path_type=Path)


@click.command()
@click.argument("procedure")
@click.option("--scenario", required=True, help="Bundled identifier or file of the scenario.")
@click.option("--record", "folder", type=_PATH, required=True, help="New folder for the record.")
@click.option("--trainee", help="Reference of the learner: letters and digits, never a name.")
@click.option("--learner", type=click.Choice(sorted(PERSONAS)), help="A scripted learner instead of a person.")
@click.option("--typed", is_flag=True, help="Typed lines instead of sound; a line such as !h is a trainer's cue.")
@click.option("--cues", type=_PATH, help="Pipe or file with the trainer's cues: a key or an event in each line.")
@click.option("--points", "table", type=_PATH, default=OWN_TABLE, help="Table of points; the bundled one else.")
@click.option("--expert/--novice", default=False, help="Short prompts, or whole ones (default).")
@click.option(
    "--engine", default=None, help="Recogniser: neural (default), neural-base, neural-tuned, pocketsphinx or vosk."
)
@click.option("--voice", default=None, help="The tool's voice; by default the scenario's.")
@click.option("--clips/--no-clips", default=False, help="Keep the sound of each utterance beside the record.")
@click.option("--start", default=DEFAULT_START, show_default=True, help="Wall time of a scripted learner's start.")
@click.option("--config", "config_file", type=_PATH, help="Configuration file (TOML) for a person at a microphone.")
@STORE
@click.option("--quiet", is_flag=True, help="Only the score.")
def practice(
    procedure: str,
    scenario: str,
    folder: Path,
    trainee: str | None,
    learner: str | None,
    cues: Path | None,
    table: Path,
    engine: str | None,
    voice: str | None,
    start: str,
    config_file: Path | None,
    store_file: Path | None,
    *,
    typed: bool,
    expert: bool,
    clips: bool,
    quiet: bool,
) -> None:
    """Practise PROCEDURE with the events of a scenario, and score the attempt.

    The session and its record are real and marked practice for good. Without --typed and --learner a person speaks into
    the microphone, and the players speak from the loudspeaker.
    """
    if trainee is not None:
        reference(trainee, "learner")
    if learner is not None and cues is not None:
        raise click.UsageError("--cues is for a person who practises; a scripted learner has none")
    if typed and clips:
        raise click.UsageError("--clips keeps sound; --typed has none")
    case = load_scenario(scenario, procedure)
    points = load_points(table)
    console = Console(quiet=quiet, soft_wrap=True)
    console.print(f"{case.scenario.title}\n", highlight=False)
    for line in case.scenario.briefing:
        console.print(f"  {line}", highlight=False)
    sound = SoundOptions(engine, voice, expert, clips)
    if learner is not None:
        visit = scripted_visit(case, folder, trainee, learner, _wall(start), console, sound, typed=typed)
        console.print(
            f"\n{visit.outcome}: {visit.utterances} utterances, {visit.taken_again} said again, "
            f"{visit.duration_s / 60:.1f} min",
            highlight=False,
        )
    elif typed:
        _typed_by_person(case, folder, trainee, cues, console, sound)
    else:
        _at_microphone(case, folder, trainee, cues, console, sound, config_file)
    _, record = readable(folder)
    found = score_record(record, points)
    for line in score_lines(found):
        click.echo(line)
    if trainee is not None:
        stored = store_at(store_file).add_score(trainee, record, found)
        click.echo(f"stored as attempt {stored.seq} of {trainee}")


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


def _wall(start: str) -> datetime:
    try:
        wall = datetime.fromisoformat(start)
    except ValueError as error:
        raise click.BadParameter(f"{start} is no time such as {DEFAULT_START}", param_hint="--start") from error
    return wall if wall.tzinfo is not None else wall.replace(tzinfo=UTC)


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
) -> tuple[PracticeRunner, Journal]:
    started, journal = open_session(
        case.bundle,
        folder,
        clock,
        outputs,
        practice=True,
        engine="typed" if typed else sound.engine or "neural",
        keep_clips=sound.clips,
        expert=sound.expert,
    )
    conductor = PracticeRunner(started.session, journal, outputs, clock)
    conductor.note(plan_of(case, trainee, learner).fact)
    return conductor, journal


def scripted_visit(
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
    """Let a scripted learner work through a scenario, by sound or typed, in counted time."""
    clock = ManualClock(wall)
    view = ConversationView(console)
    if typed:
        outputs = SceneOutputs(view, clock, PacedSilence())
    else:
        from handsfree.voice.choose import choose_synthesizer

        outputs = SceneOutputs(view, clock, choose_synthesizer(sound.voice or case.scenario.tool_voice))
    conductor, journal = _open(case, folder, clock, outputs, sound, trainee, learner, typed=typed)
    with journal:
        scene = TypedScene(conductor, outputs, clock) if typed else _sound_scene(case, conductor, outputs, clock, sound)
        injector = EventInjector(case.scenario, conductor, scene, lambda: outputs.snapshot)
        scene.on_time = lambda: injector.poll(scene.now_s)
        return ScriptedLearner(case, PERSONAS[learner], scene, injector, wall.date()).run()


def _sound_scene(
    case: LoadedScenario, conductor: PracticeRunner, outputs: SceneOutputs, clock: ManualClock, sound: SoundOptions
) -> Scene:
    from handsfree.recognition.choose import make_recognizer
    from handsfree.runner import Ears
    from handsfree.simulation.acoustic_scene import AcousticScene
    from handsfree.simulation.mixing import SimulatedRoom

    noise = case.scenario.noise
    room = (
        SimulatedRoom(noise.kind, noise.snr_db, case.scenario.seed)
        if noise is not None
        else SimulatedRoom(seed=case.scenario.seed)
    )
    ears = Ears(conductor, make_recognizer(sound.engine))
    return AcousticScene(conductor, ears, outputs, clock, room, case.scenario.voices)


def _typed_by_person(
    case: LoadedScenario, folder: Path, trainee: str | None, cues: Path | None, console: Console, sound: SoundOptions
) -> None:
    from handsfree.commands.run import TerminalOutputs
    from handsfree.practice.trainee_session import ShownStage, cues_from, run_typed_practice

    clock = SessionClock(SystemClock())
    view = ConversationView(console)
    conductor, journal = _open(
        case, folder, clock, TerminalOutputs(view, clock, None, None), sound, trainee, None, typed=True
    )
    with journal:
        injector = EventInjector(case.scenario, conductor, ShownStage(conductor, view, clock))
        conductor.on_tick = lambda: injector.poll(clock.monotonic_s())
        cued = _cueing(injector)
        if cues is not None:
            cues_from(cues, cued)
        run_typed_practice(conductor, sys.stdin, cued)


def _at_microphone(
    case: LoadedScenario,
    folder: Path,
    trainee: str | None,
    cues: Path | None,
    console: Console,
    sound: SoundOptions,
    config_file: Path | None,
) -> None:
    from handsfree.application.equipment import equipment
    from handsfree.practice.trainee_session import PlayedStage, cues_from

    clock = SessionClock(SystemClock())
    config = read_config(config_file) if config_file is not None else Config()
    with equipment(config, clock, console) as live:
        stage = PlayedStage(case.scenario, live.sound, clock)
        conductor, journal = _open(case, folder, clock, live.outputs, sound, trainee, None, typed=False)
        with journal:
            injector = EventInjector(case.scenario, conductor, stage)
            conductor.on_tick = lambda: injector.poll(clock.monotonic_s())
            if cues is not None:
                cues_from(cues, _cueing(injector))
            live.run(conductor, clock)


def _cueing(injector: EventInjector) -> Callable[[str], None]:
    def cued(name: str) -> None:
        if not injector.cue(name):
            click.echo(f"no event {name} is left", err=True)

    return cued


@click.command()
@click.argument("record", type=_PATH)
@click.option("--points", "table", type=_PATH, default=OWN_TABLE, help="Table of points; the bundled one else.")
@click.option("--page", type=_PATH, help="Write a page with the course of the session as well.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def debrief(record: Path, table: Path, page: Path | None, *, as_json: bool) -> None:
    """Score a practice RECORD again: the same record and table give the same score."""
    _, practised = readable(record)
    found = score_record(practised, load_points(table))
    if page is not None:
        from handsfree.practice.pages import debrief_page

        write_page(page, debrief_page(practised, found, procedure_of(practised)))
    if as_json:
        click.echo(json.dumps(score_facts(found), indent=2, sort_keys=True))
        return
    for line in score_lines(found):
        click.echo(line)


def score_facts(found: Score) -> dict[str, object]:
    """A score as JSON-ready data."""
    return {
        "scenario": found.planned.scenario,
        "trainee": found.planned.trainee,
        "scripted": found.planned.scripted,
        "passed": found.passed,
        "points": found.got,
        "possible": found.possible,
        "percent": found.percent,
        "table": found.table,
        "faults": [asdict(fault) for fault in found.faults],
        "items": [asdict(item) for item in found.items],
        "reactions": [
            {"event": one.event.id, "at_s": one.at_s, "seconds": one.seconds, "verdict": one.verdict, "note": one.note}
            for one in found.reactions
        ],
        "phases": [asdict(phase) for phase in found.phases],
        "counts": found.counts,
    }


COMMANDS = (practice, debrief)
