"""`handsfree day`: visits, open items, light and devices of one day."""

import json
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

import click

from handsfree.application.output_files import write_output
from handsfree.clock import SystemClock
from handsfree.options import JSON, PATH


@click.command()
@click.argument("folder", type=PATH)
@click.option("--date", "when", type=click.DateTime(["%Y-%m-%d"]), help="Local day; today where left out.")
@JSON
@click.option("--html", type=PATH, help="Write a page to this file instead.")
def day(folder: Path, when: datetime | None, html: Path | None, *, as_json: bool) -> None:
    """Show one day of the records in the subfolders of FOLDER: open items first, visits, light, devices by lot."""
    from handsfree.report.day import day_lines, day_of, day_page

    if as_json and html is not None:
        raise click.UsageError("give --json or --html FILE, not both")
    found = day_of(folder, (when or SystemClock().wall()).date())
    if html is not None:
        write_output(html, day_page(found))
    elif as_json:
        click.echo(json.dumps(asdict(found), indent=2))
    else:
        click.echo("\n".join(day_lines(found)))
