"""`handsfree review`: listen to a record, amend it with reason, verify notes, attest, in a browser on this machine."""

import webbrowser
from pathlib import Path

import click

from handsfree.clock import SystemClock
from handsfree.errors import UsageError
from handsfree.options import KEY_FILE, PATH, PROCEDURE_FILE


@click.command()
@click.argument("record", type=PATH)
@PROCEDURE_FILE
@KEY_FILE
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port on loopback; any free one where left out.")
@click.option("--idle-minutes", type=click.FloatRange(min=1.5), default=5.0, show_default=True, help="Ends after this.")
@click.option(
    "--browser/--no-browser", default=True, show_default=True, help="Open the page, or only print its address."
)
def review(
    record: Path, procedure: Path | None, key_file: Path, port: int, idle_minutes: float, *, browser: bool
) -> None:
    """Review RECORD in a browser on this machine: listen, amend with reason, verify notes, attest.

    The page is served on loopback only, at an address that holds a secret. It ends when its window is closed. Each
    action adds a line to the record, as amend and attest do; nothing is changed or taken away.
    """
    from handsfree.review.server import ReviewServer
    from handsfree.review.service import Review

    clock = SystemClock()
    if record.is_file():
        record = record.parent
    reviewed = Review(record, key_file, clock, procedure)
    try:
        server = ReviewServer(reviewed, clock, port=port, idle_s=idle_minutes * 60)
    except OSError as error:
        raise UsageError(f"cannot listen on port {port}: {error.strerror}; leave out --port for a free one") from error
    with server:
        click.echo(server.address)
        click.echo("Ends when the window is closed, or with Ctrl-C.", err=True)
        if browser:
            webbrowser.open(server.address)
        try:
            server.serve()
        except KeyboardInterrupt:
            click.echo("ended", err=True)
