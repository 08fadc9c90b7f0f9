"""One record sent to a store: what it lacks, in order, or why it is refused.

Rules where copies differ, in the order in which they are asked:

- A record that is being written is left for later; of one that was cut off, an unfinished last batch is not sent,
  because going on with the visit may write it anew. So a visit that goes on after a push goes on from what was sent.
- A record that cannot be read, or is of a newer form, is left where it is.
- A record that this program finds broken is not sent; it is kept aside there, whole, with the first fault.
- What the store has and the room has alike is not sent again, whoever sent it first.
- A record belongs to the room that sent its first line. From elsewhere only what follows the end of a visit is taken
  (amendments, attestations), from reviewers. A copy in another room that goes on is kept aside.
- Where two went on from the same line, the one that came first stands; the other is kept aside with its reason.
- Where the store is ahead of the room, nothing is sent: `store pull` brings the copy up to date.
"""

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.clock import Clock
from handsfree.errors import RecordError
from handsfree.record.chained_file import LARGEST_FILE
from handsfree.record.clips import clip_fault, read_clip
from handsfree.record.contents import Record
from handsfree.record.end_mark import read_end_note
from handsfree.record.file_lock import is_written
from handsfree.record.forms.form_reader import NewerFormError
from handsfree.record.header import RecordHeader
from handsfree.record.line_checking import RECORD_FILE, LinesRead
from handsfree.record.own_lines import EVENT
from handsfree.record.store import summary_from
from handsfree.record.verify import RecordState, Verification, verify_with_lines
from handsfree.regular_files import read_within
from handsfree.store.connection import RefusedLinesError, told
from handsfree.store.stored_records import keep_folded, keep_summary

if TYPE_CHECKING:
    from handsfree.store.connection import Connection

PIECE_BYTES = 1_000_000
"""About how much is sent at once, so that a push which is cut off goes on near there. Chosen here, no source."""
Fold = Callable[[str, Verification], str | None]
"""Given the name of a record and what was verified of it: what lists of a day hold of it, as JSON, or None."""
_MOST_TURNS = 8
"""How often another push may come first before this one is left for the next time."""


class Outcome(StrEnum):
    """How the push of a record ended."""

    SENT = "sent"
    SAME = "same"
    BEHIND = "behind"
    UNDER_WAY = "under way"
    UNREAD = "not read"
    REFUSED = "refused"

    @property
    def is_final(self) -> bool:
        """Whether the same record would end so again: it need not be looked at until its file changes."""
        return self not in (Outcome.UNDER_WAY, Outcome.UNREAD)


@dataclass(frozen=True, slots=True)
class Pushed:
    """What became of one record.

    Attributes:
        name: Its folder.
        record_id: Identifier; "" where its first line cannot be read.
        outcome: How the push ended.
        lines: Lines that the store has of it, as far as is known.
        sent: Lines that were sent now.
        told: What a person should know, one sentence; "" for nothing.
    """

    name: str
    record_id: str
    outcome: Outcome
    lines: int = 0
    sent: int = 0
    told: str = ""


@dataclass(frozen=True, slots=True)
class _Standing:
    """What a store has of a record."""

    visit: int
    room: str
    lines: int
    head: str
    sealed: bool


@dataclass(frozen=True, slots=True)
class _Who:
    """As whom a store takes this program."""

    name: str
    reviews: bool


class _OvertakenError(Exception):
    """Another push of the same record came first; ask again where it stands."""


def push_record(connection: "Connection", address: str, folder: Path, clock: Clock, fold: Fold) -> Pushed:
    """Send what a store lacks of a record.

    Args:
        connection: To the store, outside a transaction; its schema was checked.
        address: Of the store, for errors.
        folder: Folder of the record.
        clock: For the stamp of the room.
        fold: What lists of a day hold of it, as JSON, for the cache of the store; None for nothing.

    Raises:
        RecordError: The record cannot be read.
        StoreError: The store is lost or permits nothing. What was committed before stays, and a new push goes on there.
    """
    name = folder.name
    if folder.is_symlink():
        raise RecordError(f"{folder} is a link, and none is followed here")
    if is_written(folder / RECORD_FILE):
        return Pushed(name, "", Outcome.UNDER_WAY)
    try:
        found, reading = verify_with_lines(folder)
    except NewerFormError as error:
        return Pushed(name, "", Outcome.UNREAD, told=f"{error}; update this program")
    fault = _fault(found, folder)
    if fault or found.record is None:
        return _kept_aside(connection, address, folder, reading, fault)
    for _ in range(_MOST_TURNS):
        try:
            pushed = _push(connection, address, folder, reading, found.record, clock)
            if pushed.lines == len(reading.lines):
                _learn(connection, address, pushed, found, fold)
            return pushed  # noqa: TRY300
        except _OvertakenError:
            continue
        except RefusedLinesError as refused:
            if not refused.overtaken:
                return _kept_aside(connection, address, folder, reading, refused.reason)
    return Pushed(name, found.record.header.record_id, Outcome.UNDER_WAY, told="another push of it is under way")


def _learn(
    connection: "Connection",
    address: str,
    pushed: Pushed,
    found: Verification,
    fold: Fold,
) -> None:
    """Give the store what lists say of a record that it has now as it is here; it would have to read it for that."""
    item, text = summary_from(pushed.name, found), fold(pushed.name, found)
    with told(address):
        known = _standing_of(connection, pushed.record_id)
        if known is not None and known.head == item.head and known.room == _who(connection).name:
            keep_summary(connection, known.visit, item)
            if text is not None:
                keep_folded(connection, known.visit, text, item.head)


def _fault(found: Verification, folder: Path) -> str:
    """What is wrong with the lines; "" for nothing. Sound that is missing beside them is no fault of a line."""
    if found.record is None:
        return str(found.faults[0]) if found.faults else "it cannot be read"
    beside = {clip_fault(folder, sha256) for _, sha256 in found.record.clips}
    wrong = [one for one in found.faults if one.what not in beside]
    return str(wrong[0]) if found.state is RecordState.BROKEN and wrong else ""


def settled_lines(reading: LinesRead) -> int:
    """How many lines stay as they are whatever comes: all, but an unfinished batch at the end."""
    if not reading.due:
        return len(reading.lines)
    return max((line.seq for line in reading.good if line.kind == EVENT), default=len(reading.lines))


def _push(
    connection: "Connection", address: str, folder: Path, reading: LinesRead, record: Record, clock: Clock
) -> Pushed:
    name, record_id = folder.name, record.header.record_id
    lines = reading.good[: settled_lines(reading)]
    with told(address):
        known = _standing_of(connection, record_id)
        who = _who(connection)
        if known is not None:
            compared = _compared(connection, known, [line.hash for line in lines], who)
            if compared is not None:
                outcome, reason = compared
                if outcome is Outcome.REFUSED:
                    raise RefusedLinesError(reason, overtaken=False)
                if outcome is Outcome.SAME and known.room == who.name:
                    _send_beside(connection, known.visit, folder, record)
                return Pushed(name, record_id, outcome, known.lines, 0, reason)
        done = known.lines if known is not None else 0
        sent = 0
        for first, raw in _pieces(reading, done, len(lines)):
            with connection.transaction():
                visit = known.visit if known is not None else _begun(connection, record_id, name)
                if visit is None:
                    raise _OvertakenError
                connection.execute(
                    "insert into handsfree.pieces (visit, first_line, raw, room_clock) values (%s, %s, %s, %s)",
                    (visit, first, raw, clock.wall()),
                )
                known = known or _Standing(visit, who.name, 0, "", sealed=False)
            sent += raw.count(b"\n")
        if known is not None and known.room == who.name:
            _send_beside(connection, known.visit, folder, record)
        elif known is not None:
            _send_note(connection, known.visit, folder)
    return Pushed(name, record_id, Outcome.SENT, len(lines), sent)


def _who(connection: "Connection") -> _Who:
    row = connection.execute(
        "select current_user::text, pg_has_role(current_user, 'handsfree_reviewer', 'member')"
    ).fetchone()
    return _Who(*row) if row is not None else _Who("", reviews=False)


def _standing_of(connection: "Connection", record_id: str) -> _Standing | None:
    row = connection.execute("select * from handsfree.standing(%s)", (record_id,)).fetchone()
    return _Standing(*row) if row is not None else None


def _compared(connection: "Connection", known: _Standing, hashes: list[str], who: _Who) -> tuple[Outcome, str] | None:
    """What follows from what the store has already; None where the rest is to be sent."""
    both = min(known.lines, len(hashes))
    row = connection.execute("select handsfree.hash_of_line(%s, %s)", (known.visit, both - 1)).fetchone()
    theirs = known.head if both == known.lines else str(row[0]) if row is not None else ""
    if both == 0 or theirs != hashes[both - 1]:
        return Outcome.REFUSED, (
            f"goes on otherwise than in the store, which has {known.lines} lines of it from {known.room}:"
            " what came first stands; pull that into another folder and correct it there"
        )
    if known.lines == len(hashes):
        return Outcome.SAME, "" if known.room == who.name else f"is there already, from {known.room}"
    if known.lines > len(hashes):
        more = known.lines - len(hashes)
        return Outcome.BEHIND, f"the store has {more} more lines of it; pull it to have them here"
    if known.room != who.name and not who.reviews:
        more = len(hashes) - known.lines
        return (
            Outcome.REFUSED,
            f"belongs to {known.room} and has {more} more lines here; it goes on there, or by a reviewer",
        )
    return None


def _begun(connection: "Connection", record_id: str, name: str) -> int | None:
    """Enter a record under this room; None where another push has just done so."""
    row = connection.execute(
        "insert into handsfree.visits (record_id, name) values (%s, %s)"
        " on conflict (record_id) do nothing returning visit",
        (record_id, name),
    ).fetchone()
    return int(row[0]) if row is not None else None


def _pieces(reading: LinesRead, done: int, end: int) -> Iterator[tuple[int, bytes]]:
    """Lines that are to be sent: number of the first and the bytes, cut before events."""
    piece: list[bytes] = []
    first, size = done, 0
    for line in reading.good[done:end]:
        if size >= PIECE_BYTES and line.kind == EVENT:
            yield first, b"".join(piece)
            first, piece, size = line.seq, [], 0
        piece.append(line.raw + b"\n")
        size += len(piece[-1])
    if piece:
        yield first, b"".join(piece)


def _send_beside(connection: "Connection", visit: int, folder: Path, record: Record) -> None:
    """Send the note of the end, the procedure that it carries, and the sound that the site keeps."""
    _send_note(connection, visit, folder)
    if record.carried:
        connection.execute(
            "insert into handsfree.procedures (sha256, content) values (%s, %s) on conflict do nothing",
            (bytes.fromhex(record.header.carried_sha256), record.carried),
        )
    named = {sha256 for _, sha256 in record.clips} - record.deleted_clips
    rows = connection.execute("select encode(sha256, 'hex') from handsfree.clips where visit = %s", (visit,)).fetchall()
    for sha256 in sorted(named - {str(known) for (known,) in rows}):
        if clip_fault(folder, sha256) is None:
            flac = read_clip(folder, sha256)
            connection.execute(
                "insert into handsfree.clips (visit, sha256, flac) values (%s, %s, %s) on conflict do nothing",
                (visit, bytes.fromhex(sha256), flac),
            )


def _send_note(connection: "Connection", visit: int, folder: Path) -> None:
    note = read_end_note(folder)
    if note is not None:
        connection.execute(
            "insert into handsfree.end_notes (visit, note) values (%s, %s) on conflict do nothing", (visit, note)
        )


def _kept_aside(connection: "Connection", address: str, folder: Path, reading: LinesRead, reason: str) -> Pushed:
    """Keep a refused record in the store, whole and once, beside those that stand."""
    stated = reading.stated[0] if reading.stated else None
    record_id = stated.record_id if isinstance(stated, RecordHeader) else ""
    try:
        content = read_within(folder, RECORD_FILE, LARGEST_FILE)
    except OSError as error:
        raise RecordError(f"cannot read {folder / RECORD_FILE}: {error.strerror}") from error
    with told(address):
        connection.execute(
            "insert into handsfree.kept_aside (record_id, name, reason, raw) values (%s, %s, %s, %s)"
            " on conflict do nothing",
            (record_id, folder.name, reason, content),
        )
    digest = hashlib.sha256(content).hexdigest()[:12]
    return Pushed(folder.name, record_id, Outcome.REFUSED, told=f"{reason} (kept aside there as {digest})")
