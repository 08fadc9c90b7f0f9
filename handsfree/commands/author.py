"""`handsfree check`, `schema`, `chart`, `card`: for those who write procedures."""

import json
import os
import re
import sys
from dataclasses import replace
from pathlib import Path

import click

from handsfree.application.approvals import approval_of_bundle
from handsfree.application.output_files import write_output
from handsfree.application.places import trial_cache
from handsfree.authoring.card import card_html, card_text
from handsfree.authoring.chart import mermaid, svg
from handsfree.authoring.checks import check as check_file
from handsfree.authoring.findings import Finding, FindingLevel, counted
from handsfree.authoring.first_draft import Draft, draft_text, reading_of
from handsfree.authoring.schema import KINDS, RECORD, schema_of
from handsfree.clock import SystemClock
from handsfree.config import Config
from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError, UsageError
from handsfree.options import CONFIG, JSON, PATH
from handsfree.terminal_questions import ask, ask_whether


@click.command()
@click.argument("file")
@JSON
@click.option("--notes/--no-notes", default=False, help="Also show notes, for example limits without a source.")
@click.option("--acoustic", is_flag=True, help="Speak every answer with synthetic voices and recognise it.")
@click.option(
    "--voices",
    type=click.IntRange(1, 14),
    default=2,
    show_default=True,
    help="Voices for --acoustic, beyond the tool's own.",
)
@click.option(
    "--minutes",
    type=click.FloatRange(0.1, 600),
    default=30,
    show_default=True,
    help="Time for --acoustic; what is left goes on with the next check.",
)
@click.option("--limit", type=click.IntRange(1), help="Only the first so many different steps, for --acoustic.")
@click.option("--engine", default="neural", show_default=True, help="Recogniser for --acoustic.")
@click.option("--jobs", type=click.IntRange(1, 16), default=2, show_default=True, help="Processes for --acoustic.")
@CONFIG
def check(
    file: str,
    voices: int,
    minutes: float,
    limit: int | None,
    engine: str,
    jobs: int,
    config: Config,
    *,
    as_json: bool,
    notes: bool,
    acoustic: bool,
) -> None:
    """Check FILE, a procedure file or a bundled identifier: faults, odd steps, words that collide.

    With --acoustic the tool also speaks what may be said in each step, each answer at 25, 15 and 10 dB of speech over
    noise, and recognises it under the grammar of that step; results are kept, so that only what was changed is spoken
    again. An answer that fails in the quiet room, and that the file does not explain, is an error.

    Exit code 3 if there is an error.
    """
    found = check_file(file, config.approval.keys)
    failed = any(finding.level is FindingLevel.ERROR for finding in found)
    if acoustic and not failed:
        # Engines and voices come with the speech packages; reading a file does without.
        from handsfree.authoring.acoustic_report import check_aloud

        clock = SystemClock()
        end_s = clock.monotonic_s() + minutes * 60
        told = check_aloud(
            file,
            voices,
            limit,
            engine=engine,
            jobs=jobs,
            cache=trial_cache(),
            progress=_Progress(),
            out_of_time=lambda: clock.monotonic_s() > end_s,
        )
        click.echo(told.summary, err=True)
        found = (*found, *told.findings)
        failed = any(finding.level is FindingLevel.ERROR for finding in found)
    _show(found, as_json=as_json, notes=notes)
    if failed:
        sys.exit(ProcedureFileError.exit_code)


class _Progress:
    """Says how far the trials are: on one line of a terminal, else in a line for each tenth."""

    def __init__(self) -> None:
        self._said = (0, 0)

    def __call__(self, done: int, total: int) -> None:
        """Say it.

        Args:
            done: Utterances tried.
            total: Utterances to try.
        """
        if sys.stderr.isatty():
            click.echo(f"\r{done} of {total} utterances", nl=done == total, err=True)
        elif (done * 10 // total, total) != self._said:
            self._said = (done * 10 // total, total)
            click.echo(f"{done} of {total} utterances", err=True)


def _show(found: tuple[Finding, ...], *, as_json: bool, notes: bool) -> None:
    if as_json:
        click.echo(json.dumps([finding.as_json for finding in found], indent=2, ensure_ascii=False))
        return
    for finding in found:
        if notes or finding.level is not FindingLevel.NOTE:
            click.echo(finding.as_line)
    click.echo(counted(found, with_notes=notes), err=True)


@click.command()
@click.argument("kind", type=click.Choice([*KINDS, RECORD]), default="procedure")
def schema(kind: str) -> None:
    """Print the JSON Schema of a kind of file, for editors that complete and mark keys; or of a line of a record."""
    click.echo(json.dumps(schema_of(kind), indent=2, ensure_ascii=False))


@click.command()
@click.argument("file")
@click.option("--svg", "as_svg", is_flag=True, help="SVG instead of Mermaid text.")
@click.option("--out", type=PATH, help="Write to this file instead of standard output.")
def chart(file: str, out: Path | None, *, as_svg: bool) -> None:
    """Draw the state diagram of FILE, a procedure file or a bundled identifier, with every rule beside its step."""
    bundle = load_bundle(file)
    draw = svg if as_svg or (out is not None and out.suffix == ".svg") else mermaid
    _write(draw(bundle.plan, bundle.device), out)


@click.command()
@click.argument("file")
@click.option("--text", "as_text", is_flag=True, help="Plain text instead of a printable page.")
@click.option("--narrated", is_flag=True, help="The words that count where the visit is narrated.")
@click.option("--out", type=PATH, help="Write to this file instead of standard output.")
@CONFIG
def card(file: str, out: Path | None, config: Config, *, as_text: bool, narrated: bool) -> None:
    """Print the steps of FILE with the words that work in each and the rules that hold, to be read at arm's length."""
    bundle = load_bundle(file)
    stands = approval_of_bundle(bundle, config.approval.keys)
    _write((card_text if as_text else card_html)(bundle, stands, narrated=narrated), out)


def _write(text: str, out: Path | None) -> None:
    if out is None:
        click.echo(text, nl=False)
        return
    write_output(out, text, private=False)
    click.echo(f"written: {out}", err=True)


@click.command()
@click.argument("name")
@click.option("--title", help="What people call it; made from NAME where left out.")
@click.option("--patient/--no-patient", default=None, help="Whether it is done on a patient; it is if left out.")
@click.option("--sides/--no-sides", default=None, help="Whether it is about the left or the right.")
@click.option(
    "--reading", "readings", multiple=True, metavar="TEXT", help='A number that is measured: "wound length cm 0 30".'
)
@click.option("--light/--no-light", default=None, help="Whether something is hardened with light.")
@click.option("--folder", type=PATH, default=Path(), help="Folder of the new file; this one else.")
def new(
    name: str,
    title: str | None,
    readings: tuple[str, ...],
    folder: Path,
    *,
    patient: bool | None,
    sides: bool | None,
    light: bool | None,
) -> None:
    """Begin a procedure: write NAME.yaml from a few answers, a draft that checks without an error.

    On a terminal what is left out is asked, and Ctrl-C or Ctrl-D writes nothing (exit code 130); elsewhere it is not
    part of the draft, but for the patient.
    """
    if patient is False and (sides or light):
        raise UsageError("--sides and --light are about a patient; leave out --no-patient")
    if not re.fullmatch(r"[a-z][a-z0-9-]{0,59}", name):
        raise UsageError(f"{name!r} is no name for a procedure (small letters, digits, hyphens; a letter first)")
    target = folder / f"{name}.yaml"
    if os.path.lexists(target):
        raise UsageError(f"{target} is there already; give another name, or write on in it")
    asks = sys.stdin.isatty()
    usual = name.replace("-", " ").capitalize()
    title = title or (ask("What do people call it", usual=usual) if asks else usual)
    if patient is None:
        patient = sides or light or not asks or ask_whether("Is it done on a patient")
    if sides is None:
        sides = asks and patient and ask_whether("Is it about the left or the right side of somebody")
    draft = Draft(name, title, sides, tuple(map(reading_of, readings)), light or False, patient)

    def wrong(text: str) -> str | None:
        try:
            draft_text(draft.with_reading(text) if text else draft)
        except UsageError as error:
            return str(error)
        return None

    while asks and not readings and (text := ask("A number that is measured (empty: no more)", wrong=wrong)):
        draft = draft.with_reading(text)
    if light is None and asks and patient:
        draft = replace(draft, light=ask_whether("Is something hardened with light"))
    write_output(target, draft_text(draft), private=False)
    click.echo(f"written: {target}; now: handsfree check {target}", err=True)
