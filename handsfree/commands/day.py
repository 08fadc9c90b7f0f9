"""`handsfree day`: visits, open items, light and devices of one day."""

import json
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

import click

from handsfree.application.output_files import write_output
from handsfree.application.record_places import records_at
from handsfree.clock import SystemClock
from handsfree.options import JSON, PATH, PLACE


@click.command()
@click.argument("place", metavar="FOLDER|URL", type=PLACE)
@click.option("--date", "when", type=click.DateTime(["%Y-%m-%d"]), help="Local day; today where left out.")
@JSON
@click.option("--html", type=PATH, help="Write a page to this file instead.")
def day(place: Path | str, when: datetime | None, html: Path | None, *, as_json: bool) -> None:
    """Show one day of the records in FOLDER's subfolders, or in a store: open items, visits, light, devices by lot."""
    from handsfree.report.day import day_from, day_lines, day_page

    if as_json and html is not None:
        raise click.UsageError("give --json or --html FILE, not both")
    with records_at(place) as source:
        found = day_from(source, (when or SystemClock().wall()).date())
    if html is not None:
        write_output(html, day_page(found))
    elif as_json:
        click.echo(json.dumps(asdict(found), indent=2))
    else:
        click.echo("\n".join(day_lines(found)))
