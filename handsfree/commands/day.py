"""`handsfree day`: visits, open items, light and devices of one day."""

import json
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

import click

from handsfree.clock import SystemClock
from handsfree.errors import UsageError

_PATH = click.Path(path_type=Path)


@click.command()
@click.argument("folder", type=_PATH)
@click.option("--date", "when", type=click.DateTime(["%Y-%m-%d"]), help="Local day; today where left out.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.option("--html", type=_PATH, help="Write a page to this file instead.")
def day(folder: Path, when: datetime | None, html: Path | None, *, as_json: bool) -> None:
    """Show one day of the records in the subfolders of FOLDER: open items first, visits, light, devices by lot."""
    from handsfree.report.day import day_lines, day_of, day_page

    if as_json and html is not None:
        raise click.UsageError("give --json or --html FILE, not both")
    found = day_of(folder, (when or SystemClock().wall()).date())
    if html is not None:
        try:
            html.touch(mode=0o600)
            html.write_text(day_page(found), encoding="utf-8")
        except OSError as error:
            raise UsageError(f"cannot write {html}: {error.strerror}; give a file in a writable folder") from error
    elif as_json:
        click.echo(json.dumps(asdict(found), indent=2))
    else:
        for line in day_lines(found):
            click.echo(line)
