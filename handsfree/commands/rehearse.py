"""`handsfree rehearse`: a scripted visit, spoken by synthesized people and heard by the real recogniser."""

from datetime import UTC, datetime
from pathlib import Path

import click
from rich.console import Console

from handsfree.application.baseline import read_baseline
from handsfree.application.opening import NO_RECALLS, open_session
from handsfree.application.recall_list import read_recalls
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.display import ConversationView
from handsfree.voice.prompt_rate import PROMPT_WPM

DEFAULT_START = "2026-11-25T09:00:00+00:00"
"""Wall time at which a rehearsal begins unless told otherwise, so that the same script gives the same record."""


@click.command()
@click.argument("script", type=click.Path(path_type=Path))
@click.option("--record", "folder", type=click.Path(path_type=Path), required=True, help="New folder for the record.")
@click.option("--noise", "snr_db", type=click.FloatRange(-10, 80), help="Speech-to-noise ratio of the room, dB.")
@click.option(
    "--engine", default=None, help="Recogniser: neural (default), neural-base, neural-tuned, pocketsphinx or vosk."
)
@click.option("--voice", default=None, help="The tool's voice: neural or system; by default the script's.")
@click.option("--clips/--no-clips", default=False, help="Keep the sound of each utterance beside the record.")
@click.option(
    "--recall-list", type=click.Path(path_type=Path), help="CSV file with the columns lot and reason, as for `run`."
)
@click.option(
    "--baseline", type=click.Path(path_type=Path), help="Record of an earlier visit that this one is compared with."
)
@click.option("--start", default=DEFAULT_START, show_default=True, help="Wall time of the start, with offset.")
@click.option("--expert/--novice", default=False, help="Short prompts and read-backs, or whole ones (default).")
@click.option("--rate", type=click.IntRange(100, 220), default=PROMPT_WPM, show_default=True, help="Words a minute.")
@click.option("--quiet", is_flag=True, help="Only the closing line.")
def rehearse(
    script: Path,
    folder: Path,
    snr_db: float | None,
    engine: str | None,
    voice: str | None,
    recall_list: Path | None,
    baseline: Path | None,
    start: str,
    rate: int,
    *,
    clips: bool,
    expert: bool,
    quiet: bool,
) -> None:
    """Rehearse SCRIPT: people speak as sound, the session answers, the record is real and marked practice.

    Runs faster than real time; all times are counted in samples.
    """
    from handsfree.recognition.choose import make_recognizer
    from handsfree.runner import Ears
    from handsfree.simulation.acoustic_scene import AcousticScene
    from handsfree.simulation.lamp import Lamp
    from handsfree.simulation.mixing import SimulatedRoom
    from handsfree.simulation.rehearsal import Rehearsal
    from handsfree.simulation.scene import SceneOutputs
    from handsfree.simulation.script import load_script
    from handsfree.voice.choose import choose_synthesizer

    try:
        wall = datetime.fromisoformat(start)
    except ValueError as error:
        raise click.BadParameter(f"{start} is no time such as {DEFAULT_START}", param_hint="--start") from error
    scenario = load_script(script)
    bundle = load_bundle(scenario.procedure)
    recalls = read_recalls(recall_list) if recall_list is not None else NO_RECALLS
    before = read_baseline(baseline, bundle) if baseline is not None else None
    recognizer = make_recognizer(engine)
    clock = ManualClock(wall if wall.tzinfo is not None else wall.replace(tzinfo=UTC))
    console = Console(quiet=quiet, soft_wrap=True)
    outputs = SceneOutputs(
        ConversationView(console), clock, choose_synthesizer(voice or scenario.tool_voice, rate_wpm=rate)
    )
    noise = scenario.noise
    room = SimulatedRoom(
        noise.kind if noise is not None else ("pink" if snr_db is not None else None),
        snr_db if snr_db is not None else (noise.snr_db if noise is not None else 30.0),
        scenario.seed,
    )
    console.print(f"{scenario.title}\n", highlight=False)
    conductor, journal = open_session(
        bundle,
        folder,
        clock,
        outputs,
        practice=True,
        engine=engine or "neural",
        keep_clips=clips,
        recalls=recalls,
        baseline=before,
        expert=expert,
    )
    with journal:
        lamp = Lamp(scenario.lamp) if scenario.lamp is not None else None
        scene = AcousticScene(conductor, Ears(conductor, recognizer), outputs, clock, room, scenario.voices, lamp)
        result = Rehearsal(scenario, scene).run()
    minutes, seconds = divmod(round(result.duration_s), 60)
    click.echo(
        f"{result.outcome}: {result.utterances} utterances through the recogniser, {result.repeats} said again, "
        f"visit {minutes} min {seconds} s, the tool spoke {result.tool_spoke_s / result.duration_s:.0%} of it"
    )
