"""`handsfree rehearse`: a scripted visit, spoken by synthesized people and heard by the real recogniser."""

from datetime import datetime
from pathlib import Path

import click
from rich.console import Console

from handsfree.model.working import Working
from handsfree.options import BASELINE, ENGINE, GOING_ON, PATH, RECALL_LIST, START, VOICES, WORDING, WORKING
from handsfree.voice.prompt_rate import PROMPT_WPM


@click.command()
@click.argument("script", type=PATH)
@click.option("--record", "folder", type=PATH, required=True, help="New folder for the record.")
@click.option("--noise", "snr_db", type=click.FloatRange(-10, 80), help="Speech-to-noise ratio of the room, dB.")
@ENGINE
@click.option("--voice", type=VOICES, help="The tool's voice; by default the script's.")
@click.option("--clips/--no-clips", default=True, show_default=True, help="Keep the sound of each utterance.")
@RECALL_LIST
@BASELINE
@START
@WORDING
@WORKING
@GOING_ON
@click.option("--rate", type=click.IntRange(100, 220), default=PROMPT_WPM, show_default=True, help="Words a minute.")
@click.option("--typed", is_flag=True, help="Type the words instead of speaking them; needs no speech packages.")
@click.option("--quiet", is_flag=True, help="Only the closing line.")
def rehearse(
    script: Path,
    folder: Path,
    snr_db: float | None,
    engine: str | None,
    voice: str | None,
    recall_list: Path | None,
    baseline: Path | None,
    start: datetime,
    rate: int,
    working: str | None,
    *,
    clips: bool,
    expert: bool | None,
    going_on: bool | None,
    typed: bool,
    quiet: bool,
) -> None:
    """Rehearse SCRIPT: people speak as sound, the session answers, the record is real and marked practice.

    Runs faster than real time; all times are counted in samples.
    """
    from handsfree.application.rehearsed_visit import RehearsalOptions, rehearse_visit

    asked = RehearsalOptions(
        script=script,
        folder=folder,
        wall=start,
        snr_db=snr_db,
        engine=engine,
        voice=voice,
        rate_wpm=rate,
        clips=clips,
        expert=expert,
        working=Working(working) if working else None,
        typed=typed,
        going_on=going_on is not False,
        recall_list=recall_list,
        baseline=baseline,
    )
    result = rehearse_visit(asked, Console(quiet=quiet, soft_wrap=True))
    minutes, seconds = divmod(round(result.duration_s), 60)
    click.echo(
        f"{result.outcome}: {result.utterances} utterances {'typed' if typed else 'through the recogniser'}, "
        f"{result.repeats} said again, "
        f"visit {minutes} min {seconds} s, the tool spoke {result.tool_spoke_s / result.duration_s:.0%} of it"
    )
