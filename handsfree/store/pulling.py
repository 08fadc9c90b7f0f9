"""A record fetched from a store: the same bytes that were sent, into a new folder or to the end of a copy."""

import contextlib
import os
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.record.chained_file import LARGEST_FILE
from handsfree.record.clips import CLIPS_FOLDER, remove_clips
from handsfree.record.contents import Record
from handsfree.record.end_mark import END_FILE
from handsfree.record.file_lock import lock
from handsfree.record.line_checking import RECORD_FILE, read_lines
from handsfree.record.private_files import make_private, open_private, sync_folder
from handsfree.record.verify import Verification, verify
from handsfree.regular_files import read_within, rename_within
from handsfree.store.address import place_of
from handsfree.store.connection import connected, told
from handsfree.store.fetching import FetchedRecord, StoredRecord, fetch, find_stored
from handsfree.store.schema_steps import check_schema


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
            fetched = fetch(connection, stored.visit)
    reading = read_lines(fetched.content)
    if (len(reading.lines), reading.head) != (stored.lines, stored.head) or reading.torn:
        raise RecordError(f"what came from {place_of(address)} is not what it says that it has; nothing was written")
    _write(folder, fetched)
    found = verify(folder)
    if found.record is not None:
        _drop_deleted(folder, found.record)
    return stored, found


def _drop_deleted(folder: Path, record: Record) -> None:
    """Take away sound of an earlier copy that lines which came now say is deleted."""
    try:
        remove_clips(folder, record.deleted_clips)
    except OSError as error:
        raise RecordError(
            f"cannot delete sound in {folder / CLIPS_FOLDER}: {error.strerror}; delete it by hand"
        ) from error


def _write(folder: Path, fetched: FetchedRecord) -> None:
    try:
        make_private(folder)
        handle = lock(folder / RECORD_FILE)
        try:
            _write_locked(folder, fetched)
        finally:
            os.close(handle)
    except OSError as error:
        raise RecordError(f"cannot write {folder}: {error.strerror}; give a new folder") from error


def _write_locked(folder: Path, fetched: FetchedRecord) -> None:
    try:
        there = read_within(folder, RECORD_FILE, LARGEST_FILE)
    except FileNotFoundError:
        there = b""
    if not fetched.content.startswith(there):
        raise RecordError(
            f"{folder} holds another record, or goes on otherwise than the store; it stays as it is, give a new folder"
        )
    if fetched.clips:
        (folder / CLIPS_FOLDER).mkdir(mode=0o700, exist_ok=True)
    for name, content in fetched.beside:
        if name != END_FILE:
            _put(folder, name, content)
    if there != fetched.content:
        handle = open_private(folder / RECORD_FILE, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        with os.fdopen(handle, "ab") as file:
            file.write(fetched.content[len(there) :])
            file.flush()
            os.fsync(file.fileno())
    if fetched.end_note:
        _put(folder, END_FILE, fetched.end_note)
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
