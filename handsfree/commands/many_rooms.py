"""`handsfree store`: the records of many rooms in one PostgreSQL database."""

import json
from dataclasses import asdict
from pathlib import Path

import click

from handsfree.clock import SystemClock
from handsfree.config import Config
from handsfree.errors import StoreError, UsageError
from handsfree.options import ATTEMPTS, CONFIG, JSON, PATH
from handsfree.record.display_text import duration_text, one_line
from handsfree.store.address import checked_address, place_of
from handsfree.store.folder_push import FolderPush, keep_pushing, push_folder
from handsfree.store.pulling import pull_record
from handsfree.store.push_notes import PushNotes
from handsfree.store.pushing import Outcome, Pushed
from handsfree.store.schema_steps import make_schema
from handsfree.store.store_state import StoreState, store_state

_ADDRESS = "postgresql:// address without a password; that of the configuration where left out."


@click.group()
def store() -> None:
    """Records of many rooms in one PostgreSQL database (needs handsfree[store]).

    Every room goes on without it: records are complete on its own disk first. Who may what is granted in PostgreSQL:
    handsfree_room appends its own records, handsfree_reviewer reads all and appends what follows the end of a visit,
    handsfree_trainer reads practice alone. Passwords and certificates are libpq's own (password file, service file).
    """


@store.command("init")
@click.argument("url")
def init(url: str) -> None:
    """Make the schema in the database at URL, or bring an older one up to date. For a role that may make roles."""
    steps = make_schema(checked_address(url))
    click.echo(f"{place_of(url)}: {', '.join(steps) + ' applied' if steps else 'up to date'}")


@store.command("push")
@click.argument("folder", type=PATH, required=False)
@click.option("--to", "url", help=_ADDRESS)
@click.option("--keep-trying", is_flag=True, help="Try again with growing pauses until it is done, and say nothing.")
@CONFIG
def push(folder: Path | None, url: str | None, config: Config, *, keep_trying: bool) -> None:
    """Send what the store lacks of the records in FOLDER, or of one record; the configured folder where left out.

    May be cut off anywhere and called again, from any number of rooms at once. A record that is broken, or that goes on
    otherwise than in the store, is refused and kept aside there with the reason; then it exits with 10.
    """
    from handsfree.report.day import folded_visit

    place, address = _place(folder, config), _address(url, config)
    if keep_trying:
        keep_pushing(place, address, SystemClock(), fold=folded_visit)
        return
    done = push_folder(place, address, SystemClock(), telling=_tell, fold=folded_visit)
    click.echo(_sum_line(done))
    if done.clock_ahead_s is not None:
        click.echo(_clock_line("this machine", done.clock_ahead_s), err=True)
    left = done.count(Outcome.REFUSED) + done.count(Outcome.UNREAD)
    if left:
        raise StoreError(f"{left} refused or not read; each is told above, and is here as it was")


def _tell(one: Pushed) -> None:
    """A line for what a person should know."""
    if one.told:
        click.echo(one_line(f"{one.name}: {one.outcome}: {one.told}"), err=True)


def _sum_line(done: FolderPush) -> str:
    counts = [f"{done.count(outcome)} {outcome}" for outcome in Outcome if done.count(outcome)]
    counts += [f"{done.unchanged} sent before"] if done.unchanged else []
    lines = sum(one.sent for one in done.records)
    return f"{', '.join(counts) or 'no records'}: {lines} lines"


def _clock_line(whose: str, ahead_s: float) -> str:
    which = "ahead of" if ahead_s > 0 else "behind"
    return (
        f"the clock of {whose} is {duration_text(abs(ahead_s))} {which} that of the store: the times in its records"
        " are too; set it before the next visit"
    )


@store.command("push-attempts")
@click.option("--to", "url", help=_ADDRESS)
@click.option("--name", default="attempts", show_default=True, help="What this file is called in the store.")
@ATTEMPTS
@CONFIG
def push_attempts(url: str | None, name: str, store_file: Path, config: Config) -> None:
    """Send what the store lacks of the attempts of learners, for `progress --attempts URL`."""
    from handsfree.practice.attempts import AttemptStore
    from handsfree.store.attempt_books import push_attempts as send

    lines = list(AttemptStore(store_file, SystemClock()).lines())
    sent = send(_address(url, config), name, lines)
    click.echo(f"{sent} of {len(lines)} lines sent")


@store.command("pull")
@click.argument("record")
@click.option("--from", "url", help=_ADDRESS)
@click.option(
    "--output", type=PATH, required=True, help="A new folder, or a copy of the record, which gets what it lacks."
)
@CONFIG
def pull(record: str, url: str | None, output: Path, config: Config) -> None:
    """Fetch RECORD, an identifier or the name of its folder, as it was sent, byte for byte, and verify it."""
    stored, found = pull_record(_address(url, config), record, output)
    click.echo(
        one_line(f"{output}: {found.state.value}, {found.lines} lines from {stored.room}, head {found.head_hash}")
    )


@store.command("status")
@click.argument("folder", type=PATH, required=False)
@click.option("--to", "url", help=_ADDRESS)
@CONFIG
@JSON
def status(folder: Path | None, url: str | None, config: Config, *, as_json: bool) -> None:
    """What was sent of FOLDER, what waits and why; then what the store says of itself, where it can be reached."""
    place = folder or config.records.place
    address = _address(url, config)
    notes = PushNotes(place, address) if place is not None else None
    known, waits = (notes.all(), notes.trying()) if notes is not None else ({}, None)
    state: StoreState | None = None
    fault = ""
    try:
        state = store_state(address)
    except StoreError as error:
        fault = str(error)
    if as_json:
        told = {
            "records": {name: asdict(note.pushed) | {"at": note.at} for name, note in known.items()},
            "waiting": asdict(waits) if waits is not None else None,
            "store": asdict(state) if state is not None else None,
            "fault": fault,
        }
        click.echo(json.dumps(told, indent=2))
        return
    if place is not None:
        counts = [(outcome, sum(note.pushed.outcome is outcome for note in known.values())) for outcome in Outcome]
        counted = ", ".join(f"{count} {outcome}" for outcome, count in counts if count)
        click.echo(one_line(f"{place}: {counted or 'nothing sent yet'}"))
        for name, note in known.items():
            if note.pushed.told:
                click.echo(one_line(f"  {name}: {note.pushed.outcome}, {note.at}: {note.pushed.told}"))
    if waits is not None:
        again = f"next try {waits.next_at}" if waits.next_at else "nobody tries any more: push again"
        click.echo(one_line(f"  waiting after {waits.tries} tries, {again}: {waits.fault}"))
    if state is None:
        click.echo(one_line(fault))
        return
    for line in _state_lines(address, state):
        click.echo(one_line(line))


def _state_lines(address: str, state: StoreState) -> list[str]:
    lines = [f"{place_of(address)} as {state.user}: schema {state.schema}, {state.lines} lines, {state.bytes} bytes"]
    for room in state.rooms:
        lines.append(f"  {room.room}: {room.visits} records, last {room.last}")
        if room.clock_ahead_s:
            lines.append(f"    {_clock_line(room.room, room.clock_ahead_s)}")
    lines += [f"  KEPT ASIDE {one.received} {one.room} {one.name}: {one.reason}" for one in state.kept_aside]
    return lines


def _address(url: str | None, config: Config) -> str:
    given = url or config.records.store
    if given is None:
        raise UsageError("which store? give its address, or store under [records] in the configuration")
    return checked_address(given)


def _place(folder: Path | None, config: Config) -> Path:
    place = folder or config.records.place
    if place is None:
        raise UsageError("give FOLDER, or folder under [records] in the configuration")
    return place
