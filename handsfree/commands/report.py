"""`handsfree report`: a record as one self-contained page."""

from pathlib import Path

import click

from handsfree.application.output_files import write_output
from handsfree.options import PATH, PROCEDURE_FILE


@click.command()
@click.argument("record", type=PATH)
@click.option("--output", type=PATH, required=True, help="HTML file to write; open it in any browser.")
@PROCEDURE_FILE
@click.option("--sound/--no-sound", default=True, show_default=True, help="Put kept utterances into the page.")
def report(record: Path, output: Path, procedure: Path | None, *, sound: bool) -> None:
    """Write RECORD as one HTML page: what is open first, the course as a picture, readings with their words, light.

    The record is replayed, and what does not follow from what was heard is shown first. The page fetches nothing and
    sends nothing. It prints on A4 and Letter.
    """
    from handsfree.application.replaying import contradictions
    from handsfree.report.record_page import make_report

    page, sounds = make_report(record, procedure=procedure, sound=sound, contradicted=contradictions(procedure))
    write_output(output, page)
    left = f", {sounds.left_out} left out for size" if sounds.left_out else ""
    click.echo(
        f"{output}: {len(page.encode()) / 1e6:.2f} MB, {len(sounds.clips)} utterances with sound{left}", err=True
    )
