"""All records of a folder sent to a store, the oldest first, once or until it is done."""

import contextlib
import logging
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.clock import Clock
from handsfree.errors import RecordError, StoreError
from handsfree.record.chained_file import LARGEST_FILE
from handsfree.record.file_lock import lock
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.record_line import parse_line
from handsfree.record.store import file_marks
from handsfree.regular_files import read_within
from handsfree.stamps import stamp
from handsfree.store.address import checked_address
from handsfree.store.connection import UnreachableError, connected, told
from handsfree.store.push_notes import PushNote, PushNotes, Trying
from handsfree.store.pushing import Fold, Outcome, Pushed, push_record
from handsfree.store.schema_steps import check_schema

if TYPE_CHECKING:
    from handsfree.store.connection import Connection

_LOG = logging.getLogger(__name__)
FIRST_PAUSE_S = 15.0
LONGEST_PAUSE_S = 900.0
GIVES_UP_AFTER_S = 86_400.0
"""Pauses between tries: each twice the one before. After a day nobody waits any more; the next visit's end begins anew.
Chosen here, no source."""
CLOCKS_DIFFER_S = 300.0
"""From when on it is said that the clocks of room and store differ. Chosen here, no source."""
_LOCK = "pushes"
_SECOND_LOOK_S = 2.0


@dataclass(frozen=True, slots=True)
class FolderPush:
    """What became of the records of a folder.

    Attributes:
        records: What became of each that was looked at.
        unchanged: How many were not looked at, because they are as they were when they were sent.
        clock_ahead_s: By how much the clock of this machine is ahead of that of the store; None where it is not.
    """

    records: tuple[Pushed, ...]
    unchanged: int
    clock_ahead_s: float | None = None

    def count(self, outcome: Outcome) -> int:
        """How many ended so."""
        return sum(one.outcome is outcome for one in self.records)


def push_folder(
    folder: Path,
    address: str,
    clock: Clock,
    *,
    telling: Callable[[Pushed], None] = lambda _: None,
    fold: Fold = lambda *_: None,
) -> FolderPush:
    """Send what a store lacks.

    Args:
        folder: Folder whose subfolders are records, or the folder of one record.
        address: Of the store.
        clock: For stamps.
        telling: Is told of each record as soon as it is done.
        fold: As for `push_record`.

    Raises:
        RecordError: The folder cannot be read.
        StoreError: The store cannot be reached, was lost or does not permit it; what was sent so far is there.
    """
    address = checked_address(address)
    single = (folder / RECORD_FILE).exists()
    root = folder.parent if single else folder
    notes = PushNotes(root, address)
    known = notes.all()
    marks = file_marks(root)
    names = [folder.name] if single else list(marks)
    if not names:
        return FolderPush((), 0)
    records: list[Pushed] = []
    with connected(address) as connection:
        check_schema(connection, address)
        # What is called sent is on the disk of the store, whatever that is set to.
        connection.execute("set synchronous_commit to on")
        forgotten = _forgotten(connection, address, [known[name].pushed for name in names if name in known])
        due = [name for name in names if name in forgotten or not _is_done(known.get(name), marks.get(name))]
        for name in sorted(due, key=lambda one: (_begun(root / one), one)):
            try:
                pushed = push_record(connection, address, root / name, clock, fold)
            except RecordError as error:
                pushed = Pushed(name, "", Outcome.UNREAD, told=str(error))
            records.append(pushed)
            telling(pushed)
            mark = marks.get(name, "")
            notes.keep(PushNote(pushed, mark, stamp(clock.wall())))
        row = connection.execute("select extract(epoch from now())::float8").fetchone()
        ahead_s = clock.wall().timestamp() - float(row[0]) if row is not None else 0.0
    return FolderPush(tuple(records), len(names) - len(due), ahead_s if abs(ahead_s) > CLOCKS_DIFFER_S else None)


def _begun(folder: Path) -> str:
    """Stamp of the first line of a record, "" where it cannot be read."""
    try:
        return parse_line(read_within(folder, RECORD_FILE, LARGEST_FILE).partition(b"\n")[0]).at
    except (OSError, RecordError):
        return ""


def _forgotten(connection: "Connection", address: str, known: list[Pushed]) -> set[str]:
    """Records that were sent and are not there, as after an earlier copy of the store was put back."""
    sent = [one for one in known if one.outcome in (Outcome.SENT, Outcome.SAME)]
    with told(address):
        rows = connection.execute(
            "select handsfree.lacking(%s, %s)", ([one.record_id for one in sent], [one.lines for one in sent])
        ).fetchall()
    lacking = {str(record_id) for (record_id,) in rows}
    return {one.name for one in sent if one.record_id in lacking}


def _is_done(note: PushNote | None, mark: str | None) -> bool:
    """Whether a record is as it was when it was sent or refused."""
    return note is not None and note.file == mark and note.pushed.outcome.is_final


def keep_pushing(folder: Path, address: str, clock: Clock, *, fold: Fold = lambda *_: None) -> None:
    """Send what a store lacks, and try again with growing pauses until it is done, or for a day.

    One process does so for a folder; a second ends at once, because the first looks again at the end. Every fault is
    noted for `store status`, and none is raised: nobody waits for this.
    """
    root = folder.parent if (folder / RECORD_FILE).exists() else folder
    notes = PushNotes(root, checked_address(address))
    with contextlib.suppress(RecordError, OSError), _alone(root, clock):
        began_s, tries = clock.monotonic_s(), 0
        while True:
            try:
                done = push_folder(root, address, clock, fold=fold)
            except (StoreError, RecordError) as error:
                tries += 1
                pause_s = min(FIRST_PAUSE_S * 2.0 ** (tries - 1), LONGEST_PAUSE_S)
                over = clock.monotonic_s() - began_s + pause_s > GIVES_UP_AFTER_S
                next_at = "" if over else stamp(clock.wall() + timedelta(seconds=pause_s))
                notes.keep_trying(Trying(tries, next_at, str(error)))
                _LOG.info("push_failed tries=%d lost=%s", tries, isinstance(error, UnreachableError))
                if over:
                    return
                clock.sleep_until(clock.monotonic_s() + pause_s)
            else:
                notes.keep_trying(None)
                if not done.records:
                    return
                tries = 0
                if not any(one.outcome.is_final for one in done.records):
                    return


@contextlib.contextmanager
def _alone(root: Path, clock: Clock) -> Iterator[None]:
    """Be the only process that waits for the store on behalf of a folder.

    Raises:
        RecordError: Another does.
    """
    try:
        handle = lock(root / _LOCK)
    except RecordError:
        # It may be about to end, after its last look.
        clock.sleep_until(clock.monotonic_s() + _SECOND_LOOK_S)
        handle = lock(root / _LOCK)
    try:
        yield
    finally:
        os.close(handle)
