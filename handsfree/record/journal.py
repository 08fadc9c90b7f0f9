"""The journal: an append-only file that one process writes and that survives being cut off anywhere.

One batch (an event and its facts) is one write and one fsync. Nothing is spoken before the batch is on the disk, so a
crash loses at most what was being said. Files are 0600, folders 0700.
"""

import contextlib
import fcntl
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from handsfree.clock import Clock, SystemClock
from handsfree.errors import RecordError
from handsfree.model.effects import Append, Json
from handsfree.model.events import SessionEvent
from handsfree.record.codec import FIRST_PREV, Line, decode_event, encode, fact_sum, with_sum
from handsfree.record.lines import (
    AMENDED,
    ATTESTED,
    CLIP_DELETED,
    CLOSING_FACT,
    EVENT,
    HEADER,
    INTERRUPTED,
    OWN_KINDS,
    RECORD_FILE,
    SEALED,
    Reading,
    read_lines,
)

FORM = 1
_LATER_KINDS = frozenset({AMENDED, CLIP_DELETED, ATTESTED})


@dataclass(slots=True)
class _Tail:
    """Where the file ends."""

    seq: int
    prev: str
    size: int


@dataclass(frozen=True, slots=True)
class Interrupted:
    """What a reopened record needs before it can go on.

    Attributes:
        header: Data of the header line.
        events: Every event of the record, to be handed to a new session in this order.
        last_facts: The facts on file of the last event.
        due: How many facts of the last event are missing.
        torn_bytes: Length of the torn last line, now in a side file.
        last_at_s: Session time of the last event, 0 where there is none.
        gap_s: Wall-clock seconds since the last line, at least 0.
    """

    header: Mapping[str, Json]
    events: tuple[SessionEvent, ...]
    last_facts: tuple[Append, ...]
    due: int
    torn_bytes: int
    last_at_s: float
    gap_s: float


@dataclass(slots=True)
class Journal:
    """An open record. Make one with `create` or `reopen`; it is locked until `close`.

    Attributes:
        folder: Folder of the record.
    """

    folder: Path
    _handle: int
    _clock: Clock
    _tail: _Tail
    _sealed: bool = False
    _failed: str | None = None
    _pending: Interrupted | None = field(default=None)

    @classmethod
    def create(cls, folder: Path, header: Mapping[str, Json], *, clock: Clock | None = None) -> "Journal":
        """Begin a record in a folder that has none.

        Args:
            folder: Made with mode 0700 where it is not there.
            header: Facts about the record: record_id, procedure, versions, practice, started (RFC 3339, the stamp of
                the first line where given). Names nobody.
            clock: For the stamps of lines without an event.

        Raises:
            RecordError: The folder holds a record already or cannot be written.
        """
        clock = clock or SystemClock()
        path = folder / RECORD_FILE
        try:
            _make_private(folder)
            handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND | os.O_CLOEXEC, 0o600)
        except FileExistsError as error:
            raise RecordError(f"{folder} already holds a record; give an empty folder, or resume it") from error
        except OSError as error:
            raise RecordError(f"cannot make a record in {folder}: {error.strerror}; give a writable folder") from error
        _lock(handle, path)
        journal = cls(folder, handle, clock, _Tail(0, FIRST_PREV, 0))
        started = header.get("started")
        at = started if isinstance(started, str) else stamp(clock)
        try:
            journal._write([journal._own(HEADER, {"form": FORM, **header}, at, 0, FIRST_PREV)])
            sync_folder(folder)
        except RecordError:
            journal.close()
            raise
        return journal

    @classmethod
    def reopen(cls, folder: Path, *, clock: Clock | None = None) -> tuple["Journal", Interrupted]:
        """Open a record that ended without being closed. Call `resume` before `append`.

        A torn last line moves to a side file `torn-N.bin`; nothing else changes yet.

        Raises:
            RecordError: There is no record, another process writes it, it is closed, or it is broken.
        """
        clock = clock or SystemClock()
        handle, reading = _open_checked(folder)
        try:
            if any(line.kind == SEALED for line in reading.good):
                raise RecordError(f"{folder} is closed; a closed record cannot be resumed, only amended")  # noqa: TRY301
            _repair(folder, handle, reading)
            interrupted = _interrupted(reading, clock)
        except RecordError:
            os.close(handle)
            raise
        return cls(folder, handle, clock, _tail_of(reading), _pending=interrupted), interrupted

    @classmethod
    def reopen_closed(cls, folder: Path, *, clock: Clock | None = None) -> "Journal":
        """Open a closed record for `append_later`. A later line that was cut off is set aside, and the seal renewed.

        Raises:
            RecordError: There is no record, another process writes it, it is not closed, or it is broken.
        """
        handle, reading = _open_checked(folder)
        good = reading.good
        if not any(line.kind == SEALED for line in good):
            os.close(handle)
            raise RecordError(f"{folder} is not closed; resume it and end the session first")
        journal = cls(folder, handle, clock or SystemClock(), _tail_of(reading), _sealed=True)
        try:
            _repair(folder, handle, reading)
            if good[-1].kind not in (SEALED, ATTESTED):
                journal._write([journal._seal(good[-1])])
        except RecordError:
            journal.close()
            raise
        return journal

    def resume(self, facts_of_last_event: Sequence[Append]) -> None:
        """Complete the last batch after replay and note the interruption.

        Args:
            facts_of_last_event: What the new session answered to the last event.

        Raises:
            RecordError: The replay does not give the facts on file, so the record and this program disagree.
        """
        pending = self._pending
        if pending is None:
            raise RecordError("the record was not interrupted")
        on_file = len(pending.last_facts)
        if pending.events and list(pending.last_facts) != list(facts_of_last_event[:on_file]):
            raise RecordError("replay gives other facts than the record holds; use the version that wrote it")
        completed = list(facts_of_last_event[on_file:]) if pending.due else []
        if len(completed) != pending.due:
            raise RecordError(f"replay gives {len(completed)} of the {pending.due} missing facts of the last event")
        lines: list[Line] = []
        if completed:
            at = pending.events[-1].wall
            lines = self._chained([(fact.kind, dict(fact.data)) for fact in completed], at)
            lines += self._seal_if_due(completed, lines[-1])
        if not any(line.kind == SEALED for line in lines):
            data: dict[str, Json] = {
                "gap_s": pending.gap_s,
                "torn_bytes": pending.torn_bytes,
                "facts_completed": len(completed),
            }
            seq, prev = self._after(lines)
            lines.append(self._own(INTERRUPTED, data, stamp(self._clock), seq, prev))
        self._write(lines)
        self._pending = None

    def append(
        self, event: SessionEvent | None, facts: Sequence[Append], *, clip_sha256: str | None = None
    ) -> list[int]:
        """Write one event with its facts: one write, one fsync.

        A fact "session_closed" seals the record: the count of lines and the head hash are written with it.

        Args:
            event: What happened, or None for facts without one.
            facts: What followed from it.
            clip_sha256: Hash of the sound file kept for it.

        Returns:
            Sequence numbers of the lines: the event, then each fact.

        Raises:
            RecordError: The batch could not be written or an earlier one was not. Nothing may be said to be recorded;
                the file is as before, or ends in a torn line that `reopen` sets aside.
        """
        if self._pending is not None:
            raise RecordError("the record was interrupted; complete its last event first (resume)")
        if self._sealed:
            raise RecordError("the record is closed; it can only be amended")
        reserved = next((fact.kind for fact in facts if fact.kind in OWN_KINDS), None)
        if reserved is not None:
            raise RecordError(f"a session may not write the kind {reserved!r}")
        at = event.wall if event is not None else stamp(self._clock)
        lead: dict[str, Json] = {
            "event": encode(event),
            "facts": len(facts),
            "facts_sha256": [fact_sum(fact) for fact in facts],
        }
        if clip_sha256 is not None:
            lead["clip_sha256"] = clip_sha256
        first = self._own(EVENT, lead, at, self._tail.seq, self._tail.prev)
        lines = [first, *self._chained([(fact.kind, dict(fact.data)) for fact in facts], at, first)]
        self._write(lines + self._seal_if_due(facts, lines[-1]))
        return [line.seq for line in lines]

    def append_later(self, kind: str, data: Mapping[str, Json]) -> int:
        """Add an amendment, the deletion of a clip, or an attestation to a closed record, and seal it again.

        An attestation is its own seal: its data must carry the count and the head.

        Returns:
            Sequence number of the line.

        Raises:
            RecordError: As `append`; or the record is not closed or the kind is another.
        """
        if not self._sealed or kind not in _LATER_KINDS:
            raise RecordError(f"{kind!r} can only be added to a closed record")
        line = self._own(kind, data, stamp(self._clock), self._tail.seq, self._tail.prev)
        self._write([line] if kind == ATTESTED else [line, self._seal(line)])
        return line.seq

    @property
    def next_line(self) -> tuple[int, str]:
        """Sequence number and `prev` of the line to come."""
        return self._tail.seq, self._tail.prev

    def now(self) -> str:
        """The stamp that a line without an event would get."""
        return stamp(self._clock)

    def close(self) -> None:
        """Release the file. The record stays as it is; a record without "session_closed" counts as interrupted."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1

    def __enter__(self) -> "Journal":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _own(self, kind: str, data: Mapping[str, Json], at: str, seq: int, prev: str) -> Line:
        return with_sum(Line(seq, prev, at, kind, data))

    def _after(self, lines: Sequence[Line]) -> tuple[int, str]:
        return (lines[-1].seq + 1, lines[-1].hash) if lines else (self._tail.seq, self._tail.prev)

    def _chained(self, facts: Sequence[tuple[str, dict[str, Json]]], at: str, first: Line | None = None) -> list[Line]:
        seq, prev = self._after([first] if first is not None else [])
        lines: list[Line] = []
        for kind, data in facts:
            lines.append(Line(seq, prev, at, kind, data))
            seq, prev = seq + 1, lines[-1].hash
        return lines

    def _seal(self, last: Line) -> Line:
        data: dict[str, Json] = {"lines": last.seq + 2, "head": last.hash}
        return self._own(SEALED, data, last.at, last.seq + 1, last.hash)

    def _seal_if_due(self, facts: Sequence[Append], last: Line) -> list[Line]:
        return [self._seal(last)] if any(fact.kind == CLOSING_FACT for fact in facts) else []

    def _write(self, lines: Sequence[Line]) -> None:
        if self._failed is not None:
            raise RecordError(f"the record takes nothing more: {self._failed}")
        if self._handle < 0:
            raise RecordError("the record is not open")
        content = b"".join(line.raw + b"\n" for line in lines)
        try:
            written = 0
            while written < len(content):
                written += os.write(self._handle, content[written:])
            os.fsync(self._handle)
        except OSError as error:
            self._failed = f"writing failed ({error.strerror})"
            with contextlib.suppress(OSError):
                os.ftruncate(self._handle, self._tail.size)
            raise RecordError(
                f"cannot write {self.folder / RECORD_FILE}: {error.strerror}; nothing more is recorded"
            ) from error
        self._tail = _Tail(lines[-1].seq + 1, lines[-1].hash, self._tail.size + len(content))
        self._sealed = self._sealed or any(line.kind == SEALED for line in lines)


def stamp(clock: Clock) -> str:
    """RFC 3339 in UTC with milliseconds and Z."""
    return clock.wall().astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def sync_folder(folder: Path) -> None:
    """Make new names in a folder survive a power loss.

    Raises:
        RecordError: The folder cannot be synchronised.
    """
    try:
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        raise RecordError(f"cannot write {folder}: {error.strerror}") from error


def _make_private(folder: Path) -> None:
    if folder.is_dir():
        if not any(folder.iterdir()):
            folder.chmod(0o700)
        return
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.mkdir(mode=0o700)
    sync_folder(folder.parent)


def _lock(handle: int, path: Path) -> None:
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        os.close(handle)
        raise RecordError(f"{path} is being written by another process; wait until it has ended") from error


def _open_checked(folder: Path) -> tuple[int, Reading]:
    path = folder / RECORD_FILE
    try:
        handle = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CLOEXEC)
    except FileNotFoundError as error:
        raise RecordError(f"{folder} holds no record ({RECORD_FILE})") from error
    except OSError as error:
        raise RecordError(f"cannot open {path} for writing: {error.strerror}") from error
    _lock(handle, path)
    reading = read_lines(path.read_bytes())
    if reading.faults:
        os.close(handle)
        raise RecordError(f"{path} is broken: {reading.faults[0]}")
    return handle, reading


def _tail_of(reading: Reading) -> _Tail:
    return _Tail(len(reading.lines), reading.head, reading.whole)


def _repair(folder: Path, handle: int, reading: Reading) -> None:
    """Move a torn end to a side file."""
    if not reading.torn:
        return
    try:
        _set_aside(folder, reading.torn)
        os.ftruncate(handle, reading.whole)
        os.fsync(handle)
    except OSError as error:
        raise RecordError(f"cannot repair the end of {folder / RECORD_FILE}: {error.strerror}") from error


def _set_aside(folder: Path, torn: bytes) -> None:
    number = 1 + sum(1 for _ in folder.glob("torn-*.bin"))
    handle = os.open(folder / f"torn-{number}.bin", os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    try:
        os.write(handle, torn)
        os.fsync(handle)
    finally:
        os.close(handle)
    sync_folder(folder)


def _interrupted(reading: Reading, clock: Clock) -> Interrupted:
    lines = reading.good
    events: list[SessionEvent] = []
    last_facts: list[Append] = []
    for line in lines:
        if line.kind == EVENT:
            if line.data["event"] is None:
                continue
            events.append(decode_event(line.data["event"]))
            last_facts = []
        elif line.kind not in OWN_KINDS:
            last_facts.append(Append(line.kind, line.data))
    gap_s = (clock.wall() - datetime.fromisoformat(lines[-1].at)).total_seconds()
    return Interrupted(
        header=lines[0].data,
        events=tuple(events),
        last_facts=tuple(last_facts),
        due=reading.due,
        torn_bytes=len(reading.torn),
        last_at_s=events[-1].at_s if events else 0.0,
        gap_s=max(0.0, round(gap_s, 3)),
    )
