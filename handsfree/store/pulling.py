"""A record fetched from a store: the same bytes that were sent, into a new folder or to the end of a copy."""

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.errors import RecordError, UsageError
from handsfree.record.chained_file import LARGEST_FILE
from handsfree.record.clips import CLIPS_FOLDER, clip_file
from handsfree.record.end_mark import END_FILE
from handsfree.record.file_lock import lock
from handsfree.record.line_checking import RECORD_FILE, read_lines
from handsfree.record.private_files import make_private, open_private, sync_folder
from handsfree.record.verify import Verification, verify
from handsfree.regular_files import read_within, rename_within
from handsfree.store.address import place_of
from handsfree.store.connection import connected, told
from handsfree.store.schema_steps import check_schema

if TYPE_CHECKING:
    from handsfree.store.connection import Connection


@dataclass(frozen=True, slots=True)
class StoredRecord:
    """A record as a store has it.

    Attributes:
        visit: Its number there.
        record_id: Identifier.
        name: Folder that it had in its room.
        room: Who sent its first line.
        lines: Whole lines.
        head: SHA-256 of the last.
    """

    visit: int
    record_id: str
    name: str
    room: str
    lines: int
    head: str


def pull_record(address: str, wanted: str, folder: Path) -> tuple[StoredRecord, Verification]:
    """Fetch a record.

    Args:
        address: Of the store.
        wanted: Identifier of the record, or the name of its folder where only one record has it.
        folder: A new folder, or one with an earlier copy of the same record: that gets the lines it lacks.

    Returns:
        What the store has, and what `verify` says of the copy.

    Raises:
        StoreError: The store cannot be used.
        UsageError: There is no such record that this role may read, or several have the name.
        RecordError: The folder holds something else or cannot be written, or what came does not verify as what the
            store says that it has; the folder is as before.
    """
    with connected(address) as connection:
        check_schema(connection, address)
        with told(address):
            stored = find_stored(connection, wanted)
            content = b"".join(bytes(raw) for raw in _raw(connection, stored.visit))
            notes = [bytes(note) for (note,) in _rows(connection, "end_notes", "note", stored.visit)]
            clips = [
                (bytes(sha256).hex(), bytes(flac))
                for sha256, flac in _rows(connection, "clips", "sha256, flac", stored.visit)
            ]
    reading = read_lines(content)
    if (len(reading.lines), reading.head) != (stored.lines, stored.head) or reading.torn:
        raise RecordError(f"what came from {place_of(address)} is not what it says that it has; nothing was written")
    _write(folder, content, [note for note in notes if f'"lines":{stored.lines}'.encode() in note], clips)
    return stored, verify(folder)


def find_stored(connection: "Connection", wanted: str) -> StoredRecord:
    """The record that an identifier or a name means.

    Raises:
        UsageError: There is none that this role may read, or there are several.
    """
    rows = connection.execute(
        "select visit, record_id, name, room, lines, encode(head, 'hex') from handsfree.visits"
        " where record_id = %(wanted)s or name = %(wanted)s order by record_id = %(wanted)s desc, record_id limit 3",
        {"wanted": wanted},
    ).fetchall()
    found = [StoredRecord(*row) for row in rows]
    if not found:
        raise UsageError(
            f"the store has no record {wanted} that you may read; give an identifier of `handsfree records URL`"
        )
    if len(found) > 1 and found[0].record_id != wanted:
        ids = ", ".join(f"{one.record_id} ({one.room})" for one in found)
        raise UsageError(f"several records are called {wanted}; give one of these identifiers: {ids}")
    return found[0]


def _raw(connection: "Connection", visit: int) -> Iterator[bytes]:
    rows = connection.execute("select raw from handsfree.pieces where visit = %s order by first_line", (visit,))
    return (raw for (raw,) in rows)


def _rows(connection: "Connection", table: str, columns: str, visit: int) -> list[tuple[bytes, ...]]:
    return connection.execute(
        f"select {columns} from handsfree.{table} where visit = %s order by {columns}",  # noqa: S608 - constants
        (visit,),
    ).fetchall()


def _write(folder: Path, content: bytes, notes: list[bytes], clips: list[tuple[str, bytes]]) -> None:
    try:
        make_private(folder)
        handle = lock(folder / RECORD_FILE)
        try:
            _write_locked(folder, content, notes, clips)
        finally:
            os.close(handle)
    except OSError as error:
        raise RecordError(f"cannot write {folder}: {error.strerror}; give a new folder") from error


def _write_locked(folder: Path, content: bytes, notes: list[bytes], clips: list[tuple[str, bytes]]) -> None:
    try:
        there = read_within(folder, RECORD_FILE, LARGEST_FILE)
    except FileNotFoundError:
        there = b""
    if not content.startswith(there):
        raise RecordError(
            f"{folder} holds another record, or goes on otherwise than the store; it stays as it is, give a new folder"
        )
    for sha256, flac in clips:
        clip_file(folder, sha256).parent.mkdir(mode=0o700, exist_ok=True)
        _put(folder, f"{CLIPS_FOLDER}/{sha256}.flac", flac)
    if there != content:
        handle = open_private(folder / RECORD_FILE, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        with os.fdopen(handle, "ab") as file:
            file.write(content[len(there) :])
            file.flush()
            os.fsync(file.fileno())
    for note in notes:
        _put(folder, END_FILE, note)
    sync_folder(folder)


def _put(folder: Path, name: str, content: bytes) -> None:
    """Write a file of a folder whole or not at all."""
    part = f"{name}.part"
    with contextlib.suppress(FileNotFoundError):
        (folder / part).unlink()
    handle = open_private(folder / part, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    rename_within(folder, part, name)
