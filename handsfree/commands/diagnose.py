"""`handsfree diagnose`: one file that a user can send when something does not work."""

import json
from pathlib import Path

import click

from handsfree.application.output_files import write_output
from handsfree.application.places import usual_config
from handsfree.clock import SystemClock
from handsfree.diagnostics.diagnosis import DiagnosisOptions
from handsfree.diagnostics.diagnosis import diagnose as look
from handsfree.options import MICROPHONE, PATH


@click.command()
@click.option("--output", type=PATH, help="File to write; standard output where left out.")
@click.option(
    "--listen", "listen_s", type=click.FloatRange(1, 60), metavar="SECONDS", help="Measure the room at the microphone."
)
@MICROPHONE
@click.option("--config", "config_file", type=PATH, help="Configuration file (TOML); the usual one of this user else.")
def diagnose(output: Path | None, listen_s: float | None, microphone: str | None, config_file: Path | None) -> None:
    """Describe this installation in one JSON file that you can send to whoever helps you.

    It holds versions, sound devices, settings, the state of the recognisers' weights, how long a small self-test took
    and, with --listen, how loud the room is. It holds nothing of a patient or a visit, no path, no sound; of the
    configuration it leaves out folders, files and the attention phrase. Devices are named as the system names them:
    look at the file before you send it. Nothing is sent by this program.

    Exit code 0 once everything was looked at, also where faults were found: they are in the file. 2 where the file
    cannot be written or an option is wrong.
    """
    if microphone is not None and listen_s is None:
        raise click.UsageError("--microphone is for --listen SECONDS")
    asked = DiagnosisOptions(
        config_file=config_file, usual_config=usual_config(), listen_s=listen_s, microphone=microphone
    )
    if output is not None:
        write_output(output, "")  # a file that cannot be written is said before the work, not after it
    text = json.dumps(look(asked, SystemClock()), indent=2, ensure_ascii=False) + "\n"
    if output is None:
        click.echo(text, nl=False)
        return
    write_output(output, text)
    click.echo(f"{output}: look at it before you send it; it names the sound devices of this machine", err=True)
