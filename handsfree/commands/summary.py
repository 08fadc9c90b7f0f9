"""`handsfree summary`: a record in a minute."""

from pathlib import Path

import click

from handsfree.errors import RecordError
from handsfree.options import PATH
from handsfree.record.verify import verify
from handsfree.report.summary import summary_lines


@click.command()
@click.argument("record", type=PATH)
def summary(record: Path) -> None:
    """Print a readable summary of RECORD: what needs attention first, readings, light, teaching."""
    found = verify(record)
    if found.record is None:
        raise RecordError(f"{record} cannot be summarised: {'; '.join(map(str, found.faults))}")
    click.echo("\n".join(summary_lines(found.record, found.state.value)))
