"""All that a store has of one record, and how it is put down as the files of a folder."""

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.errors import UsageError
from handsfree.record.carried_procedure import PROCEDURE_COPY
from handsfree.record.clips import CLIPS_FOLDER
from handsfree.record.end_mark import END_FILE
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.private_files import open_private

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


@dataclass(frozen=True, slots=True)
class FetchedRecord:
    """The files of a record.

    Attributes:
        content: Its lines.
        end_note: The note of its end; empty where there is none for these lines.
        procedure: The procedure that it carries; empty where there is none.
        clips: Hash and FLAC file of each kept sound.
    """

    content: bytes
    end_note: bytes
    procedure: bytes
    clips: tuple[tuple[str, bytes], ...]

    @property
    def beside(self) -> tuple[tuple[str, bytes], ...]:
        """Name and content of every file beside the lines."""
        sounds = tuple((f"{CLIPS_FOLDER}/{sha256}.flac", flac) for sha256, flac in self.clips)
        named = ((END_FILE, self.end_note), (PROCEDURE_COPY, self.procedure))
        return (*sounds, *((name, content) for name, content in named if content))


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


def fetch(connection: "Connection", visit: int) -> FetchedRecord:
    """Fetch a record.

    Raises:
        psycopg.Error: As the database says.
    """
    pieces = connection.execute(
        "select raw from handsfree.pieces where visit = %s order by first_line", (visit,)
    ).fetchall()
    content = b"".join(bytes(raw) for (raw,) in pieces)
    lines = content.count(b"\n")
    notes = connection.execute("select note from handsfree.end_notes where visit = %s", (visit,)).fetchall()
    end_note = next((bytes(note) for (note,) in notes if f'"lines":{lines}'.encode() in bytes(note)), b"")
    procedure = connection.execute(
        "select content from handsfree.facts join handsfree.procedures"
        " on sha256 = decode(data ->> 'carried_sha256', 'hex') where visit = %s and seq = 0",
        (visit,),
    ).fetchone()
    clips = connection.execute(
        "select encode(sha256, 'hex'), flac from handsfree.clips where visit = %s order by sha256", (visit,)
    ).fetchall()
    return FetchedRecord(
        content,
        end_note,
        bytes(procedure[0]) if procedure is not None else b"",
        tuple((str(sha256), bytes(flac)) for sha256, flac in clips),
    )


def put_down(record: FetchedRecord, folder: Path) -> None:
    """Write a record into a folder that is not there yet, readable by its owner alone.

    Raises:
        OSError: It cannot be written.
    """
    folder.mkdir(mode=0o700)
    if record.clips:
        (folder / CLIPS_FOLDER).mkdir(mode=0o700)
    for name, content in ((RECORD_FILE, record.content), *record.beside):
        with os.fdopen(open_private(folder / name, os.O_WRONLY | os.O_CREAT | os.O_EXCL), "wb") as file:
            file.write(content)
