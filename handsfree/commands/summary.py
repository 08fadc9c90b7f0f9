"""`handsfree summary`: a record in a minute."""

from pathlib import Path

import click

from handsfree.application.replaying import verify_and_replay
from handsfree.errors import RecordError
from handsfree.options import PATH, PROCEDURE_FILE
from handsfree.report.procedure_at_hand import phrases_of, procedure_of
from handsfree.report.summary import summary_lines
from handsfree.report.told_faults import told_faults, why_nothing_is_shown


@click.command()
@click.argument("record", type=PATH)
@PROCEDURE_FILE
def summary(record: Path, procedure: Path | None) -> None:
    """Print a readable summary of RECORD: what needs attention first, readings, light, teaching.

    The record is replayed, and what does not follow from what was heard is named at the top.
    """
    found, _ = verify_and_replay(record, procedure=procedure)
    if found.record is None:
        raise RecordError(f"{record} cannot be summarised: {why_nothing_is_shown(found)}")
    phrases = phrases_of(found.record, procedure_of(found.record, procedure))
    faults = told_faults(found.faults)
    click.echo("\n".join(summary_lines(found.record, found.state.value, phrases, faults)))
