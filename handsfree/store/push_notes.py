"""What a room knows of its pushes, beside its records. A cache: taken away, everything is asked of the store again."""

import contextlib
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handsfree.store.pushing import Outcome, Pushed

NOTES_FILE = "pushes.sqlite"
_FORM = 1
_SCHEMA = (
    "create table if not exists pushed (address text, name text, file text, record_id text, outcome text,"
    " lines integer, told text, at text, primary key (address, name)) without rowid",
    "create table if not exists trying (address text primary key, tries integer, next_at text, fault text)"
    " without rowid",
)


@dataclass(frozen=True, slots=True)
class PushNote:
    """What became of a record when it was pushed last.

    Attributes:
        pushed: The outcome.
        file: What the system said of its file then.
        at: RFC 3339 UTC stamp.
    """

    pushed: Pushed
    file: str
    at: str


@dataclass(frozen=True, slots=True)
class Trying:
    """A push that waits for the store.

    Attributes:
        tries: How often it was tried in a row.
        next_at: RFC 3339 UTC stamp of the next time; "" where nobody tries.
        fault: Why the last one failed.
    """

    tries: int
    next_at: str
    fault: str


class PushNotes:
    """The notes of one folder for one store. A folder that cannot be written has none; nothing depends on them."""

    def __init__(self, folder: Path, address: str) -> None:
        self._path = folder / NOTES_FILE
        self._address = address

    def all(self) -> dict[str, PushNote]:
        """What is known, by folder of the record."""
        rows = self._read(
            "select name, file, record_id, outcome, lines, told, at from pushed where address = ? order by name"
        )
        with contextlib.suppress(ValueError, TypeError):
            return {
                name: PushNote(Pushed(name, record_id, Outcome(outcome), lines, 0, told), file, at)
                for name, file, record_id, outcome, lines, told, at in rows
            }
        return {}

    def keep(self, note: PushNote) -> None:
        """Note an outcome."""
        one = note.pushed
        values = (self._address, one.name, note.file, one.record_id, one.outcome.value, one.lines, one.told, note.at)
        self._write("insert or replace into pushed values (?, ?, ?, ?, ?, ?, ?, ?)", values)

    def trying(self) -> Trying | None:
        """What is being waited for, or None."""
        rows = self._read("select tries, next_at, fault from trying where address = ?")
        return Trying(*rows[0]) if rows else None

    def keep_trying(self, trying: Trying | None) -> None:
        """Note that the store is waited for; None where it is not any more."""
        if trying is None:
            if self.trying() is not None:
                self._write("delete from trying where address = ?", (self._address,))
            return
        values = (self._address, trying.tries, trying.next_at, trying.fault)
        self._write("insert or replace into trying values (?, ?, ?, ?)", values)

    def _read(self, question: str) -> list[tuple[Any, ...]]:
        if not self._path.is_file():
            return []
        try:
            with self._open() as notes:
                return list(notes.execute(question, (self._address,)))
        except sqlite3.Error:
            return []

    def _write(self, statement: str, values: tuple[str | int, ...]) -> None:
        with contextlib.suppress(sqlite3.Error, OSError), self._open() as notes:
            notes.execute(statement, values)

    @contextlib.contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        with contextlib.closing(sqlite3.connect(self._path, timeout=30)) as notes, notes:
            notes.execute("pragma synchronous=off")  # nothing depends on them: nobody waits for the disk
            if notes.execute("pragma user_version").fetchone()[0] != _FORM:
                for statement in ("drop table if exists pushed", "drop table if exists trying", *_SCHEMA):
                    notes.execute(statement)
                notes.execute(f"pragma user_version = {_FORM}")
                self._path.chmod(0o600)
            yield notes
