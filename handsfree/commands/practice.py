"""`handsfree practice` and `debrief`: a procedure with things that happen, and what the attempt came to."""

import json
import sys
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path

import click
from rich.console import Console

from handsfree.application.output_files import write_output
from handsfree.clock import SystemClock
from handsfree.config import Config
from handsfree.errors import AudioDeviceError, VoiceError
from handsfree.options import (
    ATTEMPTS,
    BROWSER,
    CONFIG,
    ENGINE,
    JSON,
    PATH,
    SCREEN,
    START,
    VOICES,
    screen_of,
    typed_by_user,
)
from handsfree.practice.attempts import AttemptStore, reference
from handsfree.practice.debrief import score_lines
from handsfree.practice.personas import PERSONAS
from handsfree.practice.points_form import OWN_TABLE, load_points
from handsfree.practice.practised_visit import (
    SoundOptions,
    Trainer,
    practise_at_microphone,
    practise_scripted,
    practise_typed,
)
from handsfree.practice.scenario import PatientManner
from handsfree.practice.scenario_loader import load_scenario
from handsfree.practice.scenario_settings import ACCENTS, PracticeSettings, noise_of
from handsfree.practice.score_data import score_data
from handsfree.practice.scoring import score
from handsfree.practice.spoken_debrief import spoken_debrief
from handsfree.report.procedure_at_hand import procedure_of
from handsfree.report.record_page import readable


@click.command()
@click.argument("procedure")
@click.option("--scenario", required=True, help="Bundled identifier or file of the scenario.")
@click.option("--record", "folder", type=PATH, required=True, help="New folder for the record.")
@click.option("--trainee", help="Reference of the learner: letters and digits, never a name.")
@click.option("--learner", type=click.Choice(sorted(PERSONAS)), help="A scripted learner instead of a person.")
@click.option("--typed", is_flag=True, help="Typed lines instead of sound; a line such as !h is a trainer's cue.")
@click.option("--cues", type=PATH, help="Pipe or file with the trainer's cues: a key or an event in each line.")
@click.option("--points", "table", type=PATH, default=OWN_TABLE, help="Table of points; the bundled one else.")
@click.option("--patient", type=click.Choice([one.value for one in PatientManner]), help="How the patient is.")
@click.option("--accent", type=click.Choice(sorted(ACCENTS)), help="Accent of everybody but the learner.")
@click.option("--noise", help="Noise in the room and dB of speech over it: babble:15.")
@click.option("--expert/--novice", default=False, help="Short prompts, or whole ones (default).")
@ENGINE
@click.option("--voice", type=VOICES, help="The tool's voice; by default the scenario's.")
@SCREEN
@BROWSER
@click.option("--clips/--no-clips", default=False, help="Keep the sound of each utterance beside the record.")
@START
@CONFIG
@ATTEMPTS
@click.option("--quiet", is_flag=True, help="Only the score.")
def practice(
    procedure: str,
    scenario: str,
    folder: Path,
    trainee: str | None,
    learner: str | None,
    cues: Path | None,
    table: Path,
    patient: str | None,
    accent: str | None,
    noise: str | None,
    engine: str | None,
    voice: str | None,
    start: datetime,
    config: Config,
    store_file: Path,
    *,
    typed: bool,
    expert: bool,
    clips: bool,
    screen: bool,
    browser: bool,
    quiet: bool,
) -> None:
    """Practise PROCEDURE with the events of a scenario, and score the attempt.

    The session and its record are real and marked practice for good. Without --typed and --learner a person speaks into
    the microphone, and the players speak from the loudspeaker. The configuration is for a person: a scripted learner,
    whose wall time --start sets, plays the same everywhere.
    """
    if trainee is not None:
        reference(trainee, "learner")
    if learner is not None and cues is not None:
        raise click.UsageError("--cues is for a person who practises; a scripted learner has none")
    if typed and clips:
        raise click.UsageError("--clips keeps sound; --typed has none")
    if learner is not None and screen:
        raise click.UsageError(
            "--screen is for a person who practises; a scripted learner plays faster than anybody looks"
        )
    wanted = screen_of(config, browser=browser) if screen else None
    settings_beside = PracticeSettings(
        PatientManner(patient) if patient is not None else None,
        accent,
        noise_of(noise) if noise is not None else None,
    )
    case = load_scenario(scenario, procedure, settings_beside)
    points = load_points(table)
    console = Console(quiet=quiet, soft_wrap=True)
    console.print(f"{case.scenario.title}\n", highlight=False)
    for line in case.scenario.briefing:
        console.print(f"  {line}", highlight=False)
    trainer = Trainer(cues, lambda name: click.echo(f"no event {name} is left", err=True))
    if learner is not None:
        sound = SoundOptions(
            engine if typed_by_user("engine") else None,
            voice if typed_by_user("voice") else None,
            expert=expert and typed_by_user("expert"),
            clips=clips,
        )
        visit = practise_scripted(case, folder, trainee, learner, start, console, sound, typed=typed)
        console.print(
            f"\n{visit.outcome}: {visit.utterances} utterances, {visit.taken_again} said again, "
            f"{visit.duration_s / 60:.1f} min",
            highlight=False,
        )
    elif typed:
        practise_typed(case, folder, trainee, trainer, sys.stdin, console, wanted, expert=expert)
    else:
        # The sound library comes with the speech packages; typed practice runs without.
        from handsfree.application.equipment import LiveSettings

        sound = SoundOptions(engine, voice, expert, clips)
        settings = replace(LiveSettings.of(config), engine=engine, voice=voice)
        practise_at_microphone(case, folder, trainee, trainer, console, sound, settings, wanted)
    _, record = readable(folder)
    found = score(record, points)
    click.echo("\n".join(score_lines(found)))
    told = spoken_debrief(found, points)
    click.echo("\n" + "\n".join(told))
    if trainee is not None:
        stored = AttemptStore(store_file, SystemClock()).add_score(trainee, record, found)
        click.echo(f"stored as attempt {stored.seq} of {trainee}")
    # Last: whoever has heard enough loses nothing.
    if learner is None and not typed:
        _say(told, config, voice)


@click.command()
@click.argument("record", type=PATH)
@click.option("--points", "table", type=PATH, default=OWN_TABLE, help="Table of points; the bundled one else.")
@click.option("--page", type=PATH, help="Write a page with the course of the session, and its sound where kept.")
@click.option("--aloud", is_flag=True, help="Say the two things to work on, too.")
@CONFIG
@JSON
def debrief(record: Path, table: Path, page: Path | None, config: Config, *, aloud: bool, as_json: bool) -> None:
    """Score a practice RECORD again: the same record and table give the same score."""
    _, practised = readable(record)
    points = load_points(table)
    found = score(practised, points)
    if page is not None:
        from handsfree.practice.pages import debrief_page

        write_output(page, debrief_page(practised, found, points, procedure_of(practised), record))
    if as_json:
        click.echo(json.dumps(score_data(found), indent=2, sort_keys=True))
        return
    click.echo("\n".join(score_lines(found)))
    told = spoken_debrief(found, points)
    click.echo("\n" + "\n".join(told))
    if aloud:
        _say(told, config, None)


def _say(sentences: tuple[str, ...], config: Config, voice: str | None) -> None:
    """Say what there is to work on, after the session and its sound are closed. What cannot be said stands above."""
    # The sound library comes with the speech packages; typed practice runs without.
    from handsfree.application.equipment import LiveSettings
    from handsfree.practice.debrief_aloud import debrief_aloud

    settings = LiveSettings.of(config)
    click.echo("(Ctrl-C ends what is said)", err=True)
    try:
        whole = debrief_aloud(
            sentences, replace(settings, voice=voice or settings.voice), SystemClock(), partial(click.echo, err=True)
        )
    except KeyboardInterrupt:
        # Whoever has heard enough ends the talk, not the program.
        whole = False
        click.echo(err=True)
    except (AudioDeviceError, VoiceError) as error:
        click.echo(f"not spoken: {error}", err=True)
        return
    if not whole:
        click.echo("not said to its end; it stands above", err=True)
