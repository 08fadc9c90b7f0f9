"""`handsfree summary`: a record on one screen, or all of it in a minute."""

from pathlib import Path

import click

from handsfree.application.replaying import verify_and_replay
from handsfree.errors import RecordError
from handsfree.options import PATH, PROCEDURE_FILE
from handsfree.record.verify import RecordState
from handsfree.report.first_screen import first_screen
from handsfree.report.procedure_at_hand import phrases_of, procedure_of
from handsfree.report.summary import summary_lines
from handsfree.report.told_faults import told_faults, why_nothing_is_shown


@click.command()
@click.argument("record", type=PATH)
@PROCEDURE_FILE
@click.option("--all", "every", is_flag=True, help="Readings, light, teaching and notes too, with numbers of entries.")
def summary(record: Path, procedure: Path | None, *, every: bool) -> None:
    """Print RECORD on one screen: how it stands, then in ten lines what was stopped, overridden, red, off target.

    The most dangerous comes first; what does not fit is counted. The record is replayed, and what does not follow from
    what was heard is named at the top.
    """
    found, _ = verify_and_replay(record, procedure=procedure)
    if found.record is None:
        raise RecordError(f"{record} cannot be summarised: {why_nothing_is_shown(found)}")
    phrases = phrases_of(found.record, procedure_of(found.record, procedure))
    faults = told_faults(found.faults)
    broken = faults if found.state is RecordState.BROKEN else ()
    if every:
        click.echo("\n".join(summary_lines(found.record, found.state.value, phrases, faults)))
        return
    click.echo("\n".join(first_screen(found.record, phrases, broken)))
    click.echo(f"Head {found.head_hash}. It gives no verdict. All of it: --all, or `handsfree report`.")
