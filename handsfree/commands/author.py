"""`handsfree check`, `schema`, `chart`, `card`: for those who write procedures."""

import json
import sys
from pathlib import Path

import click
from platformdirs import user_cache_dir

from handsfree.authoring.card import card_html, card_text
from handsfree.authoring.chart import mermaid, svg
from handsfree.authoring.checks import check as check_file
from handsfree.authoring.findings import Finding, FindingLevel
from handsfree.authoring.schema import KINDS, RECORD, schema_of
from handsfree.definition.loader import load_bundle, read_procedure
from handsfree.definition.plan import compile_procedure
from handsfree.errors import ProcedureFileError, UsageError, VoiceError


@click.command()
@click.argument("file")
@click.option("--json", "as_json", is_flag=True, help="Machine-readable output.")
@click.option("--notes/--no-notes", default=False, help="Also show notes, for example limits without a source.")
@click.option("--acoustic", is_flag=True, help="Speak every answer with synthetic voices and recognise it.")
@click.option("--voices", type=click.IntRange(1, 15), default=2, show_default=True, help="Voices for --acoustic.")
@click.option("--limit", type=click.IntRange(1), help="Only the first so many different steps, for --acoustic.")
@click.option("--engine", default="neural", show_default=True, help="Recogniser for --acoustic.")
@click.option("--jobs", type=click.IntRange(1, 16), default=2, show_default=True, help="Processes for --acoustic.")
def check(
    file: str, voices: int, limit: int | None, engine: str, jobs: int, *, as_json: bool, notes: bool, acoustic: bool
) -> None:
    """Check FILE, a procedure file or a bundled identifier: faults, odd steps, words that collide.

    With --acoustic the tool also speaks what may be said in each step, in a quiet and in a noisy room, and recognises
    it under the grammar of that step; results are kept, so that only what was changed is spoken again.

    Exit code 3 if there is an error.
    """
    found = check_file(file)
    failed = any(finding.level is FindingLevel.ERROR for finding in found)
    if acoustic and not failed:
        found = (*found, *_acoustic(file, voices, limit, engine, jobs))
    _show(found, as_json=as_json, notes=notes)
    if failed:
        sys.exit(ProcedureFileError.exit_code)


def _acoustic(file: str, voice_count: int, limit: int | None, engine: str, jobs: int) -> tuple[Finding, ...]:
    from handsfree.authoring.acoustic_check import try_out
    from handsfree.authoring.acoustic_findings import findings_of
    from handsfree.authoring.spoken_trials import choose_voices
    from handsfree.authoring.step_contexts import hearings
    from handsfree.simulation.voices import available_voices

    reading = read_procedure(file)
    if reading.procedure is None:
        return ()
    voices = choose_voices(available_voices(), voice_count)
    if not voices:
        raise VoiceError("no voice is installed to speak with (install espeak-ng, or the speech parts of this package)")
    steps = {
        hearing.graph.key: hearing
        for hearing in hearings(compile_procedure(reading.procedure), reading.device, reading.light)
    }
    chosen = list(steps.values())[:limit]
    tallies = try_out(
        chosen,
        voices,
        engine=engine,
        cache=Path(user_cache_dir("handsfree")) / "acoustic.json",
        jobs=jobs,
        progress=_Progress(),
    )
    trials = sum(len(tally.heard) for tally in tallies)
    right = sum(tally.right for tally in tallies)
    click.echo(
        f"{len(chosen)} different steps, {len(tallies)} phrases, {trials} utterances, {right} understood; "
        f"voices: {', '.join(' '.join(voice).strip() for voice in voices)}",
        err=True,
    )
    places = {step.id: number for number, step in enumerate(reading.procedure.steps)}
    return tuple(findings_of(tallies, reading.sources[0], places))


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
    counts = {level: sum(finding.level is level for finding in found) for level in FindingLevel}
    parts = [f"{count} {level.value}{'' if count == 1 else 's'}" for level, count in counts.items()]
    hidden = " (--notes shows them)" if counts[FindingLevel.NOTE] and not notes else ""
    click.echo(f"{', '.join(parts)}{hidden}", err=True)


@click.command()
@click.argument("kind", type=click.Choice([*KINDS, RECORD]), default="procedure")
def schema(kind: str) -> None:
    """Print the JSON Schema of a kind of file, for editors that complete and mark keys; or of a line of a record."""
    click.echo(json.dumps(schema_of(kind), indent=2, ensure_ascii=False))


@click.command()
@click.argument("file")
@click.option("--svg", "as_svg", is_flag=True, help="SVG instead of Mermaid text.")
@click.option("--out", type=click.Path(path_type=Path), help="Write to this file instead of standard output.")
def chart(file: str, out: Path | None, *, as_svg: bool) -> None:
    """Draw the state diagram of FILE, a procedure file or a bundled identifier, with hard stops marked."""
    plan = compile_procedure(load_bundle(file).procedure)
    _write(svg(plan) if as_svg or (out is not None and out.suffix == ".svg") else mermaid(plan), out)


@click.command()
@click.argument("file")
@click.option("--text", "as_text", is_flag=True, help="Plain text instead of a printable page.")
@click.option("--out", type=click.Path(path_type=Path), help="Write to this file instead of standard output.")
def card(file: str, out: Path | None, *, as_text: bool) -> None:
    """Print one page with the steps of FILE and the words that work in each."""
    bundle = load_bundle(file)
    _write(card_text(bundle) if as_text else card_html(bundle), out)


def _write(text: str, out: Path | None) -> None:
    if out is None:
        click.echo(text, nl=False)
        return
    try:
        out.write_text(text, encoding="utf-8")
    except OSError as error:
        raise UsageError(f"cannot write {out}: {error.strerror}; give a file in a writable folder") from error
    click.echo(f"written: {out}", err=True)
