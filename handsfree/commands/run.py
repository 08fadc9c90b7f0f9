"""`handsfree run`: a procedure by voice, live or from a file or a pipe, or by typed lines."""

from dataclasses import replace
from pathlib import Path

import click
from rich.console import Console

from handsfree.application.run_visit import VisitOptions, hold_visit
from handsfree.application.sources import AtMicrophone, FromSound, Source, TypedLines
from handsfree.config import Config
from handsfree.model.working import Working
from handsfree.options import (
    BASELINE,
    BASELINE_MEANT,
    BROWSER,
    CONFIG,
    ENGINE,
    GOING_ON,
    LOUDSPEAKER,
    MICROPHONE,
    PATH,
    RECALL_LIST,
    SCREEN,
    VOICES,
    WORDING,
    WORKING,
    screen_of,
    typed_by_user,
)
from handsfree.store.push_later import push_later


@click.command()
@click.argument("procedure")
@click.option("--record", "folder", type=PATH, help="Folder of the record; a new one in the configured folder else.")
@click.option("--wav", type=PATH, help="Listen to this sound file (WAV or FLAC, any rate) instead of a microphone.")
@click.option("--stdin-pcm", is_flag=True, help="Listen to raw 16-bit little-endian mono samples on standard input.")
@click.option("--rate", type=int, default=16_000, show_default=True, help="Samples a second of --stdin-pcm.")
@click.option("--typed", is_flag=True, help="Take typed lines instead of sound; needs no speech packages.")
@MICROPHONE
@LOUDSPEAKER
@click.option("--resume", is_flag=True, help="Go on with the interrupted record in --record.")
@click.option("--practice", is_flag=True, help="The record can only ever be practice.")
@WORDING
@WORKING
@GOING_ON
@click.option(
    "--patient",
    "patient_reference",
    help="Reference of the patient, a code of the site, never a name; a live visit asks where it is left out.",
)
@ENGINE
@click.option("--room", help="Where the visit is, as the site calls it; as configured where left out.")
@click.option("--voice", type=VOICES, help="The tool's voice; neural where left out and at hand.")
@click.option("--prompts", type=PATH, help="Without a loudspeaker: keep each prompt as a WAV file in this folder.")
@SCREEN
@BROWSER
@click.option("--clips/--no-clips", default=None, help="Keep the sound of each utterance beside the record.")
@RECALL_LIST
@BASELINE
@BASELINE_MEANT
@CONFIG
def run(
    procedure: str,
    folder: Path | None,
    wav: Path | None,
    rate: int,
    microphone: str | None,
    loudspeaker: str | None,
    patient_reference: str | None,
    engine: str | None,
    room: str | None,
    voice: str | None,
    prompts: Path | None,
    recall_list: Path | None,
    baseline: Path | None,
    working: str | None,
    config: Config,
    *,
    stdin_pcm: bool,
    typed: bool,
    resume: bool,
    practice: bool,
    expert: bool | None,
    going_on: bool | None,
    clips: bool | None,
    screen: bool,
    browser: bool,
    baseline_meant: bool,
) -> None:
    """Run PROCEDURE, a bundled identifier or a file, and write its record.

    Listens to the microphone and speaks through the loudspeaker, unless --wav, --stdin-pcm or --typed is given; then
    prompts are shown, and kept with --prompts. A key cuts a prompt short; [keys] in the configuration sets those of a
    pedal to affirm, again and stop.
    """
    live = not (wav is not None or stdin_pcm or typed)
    if [wav is not None, stdin_pcm, typed].count(True) > 1:
        raise click.UsageError("give one of --wav FILE, --stdin-pcm, --typed, or none for the microphone")
    if typed and clips and typed_by_user("clips"):
        raise click.UsageError("--clips keeps sound; --typed has none")
    if not live and (typed_by_user("microphone") or typed_by_user("loudspeaker")):
        raise click.UsageError("--microphone and --loudspeaker are for the live session; leave out the other source")
    if live and prompts is not None:
        raise click.UsageError("--prompts keeps prompts where no loudspeaker plays them; leave it out")
    if screen and wav is not None:
        raise click.UsageError("--screen is for a visit that people watch; a sound file is heard faster than that")
    wanted = screen_of(config, browser=browser) if screen else None
    source: Source
    if live:
        # The sound library comes with the speech packages; typed sessions run without.
        from handsfree.application.equipment import LiveSettings

        chosen = replace(
            LiveSettings.of(config), microphone=microphone, loudspeaker=loudspeaker, engine=engine, voice=voice
        )
        source = AtMicrophone(chosen, Console(), wanted)
    elif typed:
        source = TypedLines(Console(soft_wrap=True), prompts, voice, screen=wanted)
    else:
        source = FromSound(wav, rate, engine, Console(soft_wrap=True), prompts, voice, wanted)
    # A record that goes on keeps what it was begun with: only what stands on the command line is held against that.
    asked = VisitOptions(
        procedure=procedure,
        folder=folder,
        place=config.records.place,
        resume=resume,
        practice=practice,
        expert=expert if not resume or typed_by_user("expert") else None,
        working=Working(working) if working and (not resume or typed_by_user("working")) else None,
        going_on=going_on is not False if not resume or typed_by_user("going_on") else None,
        patient_reference=patient_reference,
        reference_pattern=config.records.reference_pattern,
        recall_list=recall_list if not resume or typed_by_user("recall_list") else None,
        baseline=baseline,
        baseline_meant=baseline_meant,
        clips=clips if not resume or typed_by_user("clips") else None,
        retention=config.records.retention,
        room=room if room is not None else config.records.room or "",
        site_keys=config.approval.keys,
    )
    end = hold_visit(asked, source)
    if end.outcome is None:
        click.echo(f"not closed: go on with --resume --record {end.folder}", err=True)
    elif live:
        click.echo(f"{end.outcome}: {end.folder}", err=True)
    if end.outcome is not None and config.records.store is not None:
        push_later(end.folder.absolute().parent, config.records.store)
