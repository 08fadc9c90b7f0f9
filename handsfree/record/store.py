"""One folder of records: list and filter. The files are the truth; the SQLite index is a cache that may be deleted.

A folder may come from elsewhere, and an index with it. So a row counts for a file only where that is the one that was
listed here: its number and the time at which it last changed here are given by this system, and no copy brings them.
"""

import contextlib
import json
import os
import sqlite3
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.model.patient_reference import bare_code
from handsfree.record.file_lock import is_written
from handsfree.record.forms.form_reader import NewerFormError
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.record_line import FIRST_PREV
from handsfree.record.verify import RecordState, Verification, verify
from handsfree.regular_files import is_regular

INDEX_FILE = "index.sqlite"
_FORM = 4
_SCHEMA = "create table if not exists seen (name text primary key, file text, summary text) without rowid"
_UNREADABLE_FILE = "-"


@dataclass(frozen=True, slots=True)
class Summary:
    """One record in a list.

    Attributes:
        name: Folder of the record inside the store.
        state: As `verify` found it when the file last changed; sound beside it is not checked again by listing.
        started: RFC 3339 UTC stamp of the first line, "" where it cannot be read.
        procedure: Identifier of the procedure.
        operator: Operator code as read back, "" where there is none.
        patient: Patient reference, as given or said; "" where there is none.
        practice: Whether it is practice.
        lines: Whole lines.
        head: SHA-256 of the last line.
        open_items: How many items were left open.
    """

    name: str
    state: str
    started: str
    procedure: str
    operator: str
    patient: str
    practice: bool
    lines: int
    head: str
    open_items: int


@dataclass(frozen=True, slots=True)
class Filter:
    """Which records to list; None lets all through.

    Attributes:
        since: First day, ISO 8601, UTC.
        until: Last day, ISO 8601, UTC.
        state: RecordState.
        procedure: Identifier of the procedure.
        operator: Operator code.
        patient: Patient reference; signs between letters and digits do not count.
    """

    since: str | None = None
    until: str | None = None
    state: str | None = None
    procedure: str | None = None
    operator: str | None = None
    patient: str | None = None

    def takes(self, item: Summary) -> bool:
        """Whether a record passes."""
        day = item.started[:10]
        return (
            (self.since is None or day >= self.since)
            and (self.until is None or day <= self.until)
            and (self.state is None or item.state == self.state)
            and (self.procedure is None or item.procedure == self.procedure)
            and (self.operator is None or item.operator.upper() == self.operator.upper())
            and (self.patient is None or bare_code(item.patient) == bare_code(self.patient))
        )


def list_records(root: Path, wanted: Filter | None = None) -> list[Summary]:
    """The records of a store, the oldest first.

    Args:
        root: Folder whose subfolders are records.
        wanted: Which of them.

    Raises:
        RecordError: The folder cannot be read.
    """
    wanted = wanted or Filter()
    found = file_marks(root)
    known = _recall(root)
    summaries: dict[str, Summary] = {}
    fresh: dict[str, tuple[str, Summary]] = {}
    for name, file in found.items():
        cached = known.get(name)
        if cached is not None and cached[0] == file:
            summaries[name] = cached[1]
        else:
            summaries[name] = _summary(root, name)
            fresh[name] = (file, summaries[name])
    _keep(root, fresh, set(known) - set(found))
    current = (_live(root, item) for item in summaries.values())
    return sorted(filter(wanted.takes, current), key=lambda item: (item.started, item.name))


def file_marks(root: Path) -> dict[str, str]:
    """What this system says of the file of each record: another mark means that it may hold something else.

    Raises:
        RecordError: The folder cannot be read.
    """
    try:
        return dict(_files(root))
    except OSError as error:
        raise RecordError(f"cannot read {root}: {error.strerror}; give a folder of records") from error


def _files(root: Path) -> Iterator[tuple[str, str]]:
    """Folders that may be records, and what this system says of the file of each."""
    with os.scandir(root) as folders:
        for folder in folders:
            try:
                found = os.lstat(f"{folder.path}/{RECORD_FILE}")
            except (FileNotFoundError, NotADirectoryError):
                continue
            except OSError:
                # A folder that may not be entered is listed as broken as well: it may hold a record.
                with contextlib.suppress(OSError):
                    if folder.is_dir():
                        yield folder.name, _UNREADABLE_FILE
            else:
                if folder.is_symlink():
                    yield folder.name, _UNREADABLE_FILE
                    continue
                yield folder.name, f"{found.st_size} {found.st_mtime_ns} {found.st_ctime_ns} {found.st_ino}"


def _live(root: Path, item: Summary) -> Summary:
    """Whether a process writes a record is no property of its file, so it is asked for each time."""
    if item.state not in (RecordState.OPEN, RecordState.INTERRUPTED):
        return item
    try:
        state = RecordState.OPEN if is_written(root / item.name / RECORD_FILE) else RecordState.INTERRUPTED
    except RecordError:
        return _unreadable(item.name)
    return Summary(**(asdict(item) | {"state": state.value}))


def checked(root: Path, name: str) -> Verification:
    """Verify a record of a store.

    Raises:
        RecordError: It cannot be read, or its folder is a link: what it leads to is no record of this store.
    """
    if (root / name).is_symlink():
        raise RecordError(f"{root / name} is a link, and none is followed here")
    return verify(root / name)


def _summary(root: Path, name: str) -> Summary:
    try:
        found = checked(root, name)
    except NewerFormError:
        return _unreadable(name, RecordState.NEWER)
    except RecordError:
        return _unreadable(name)
    record = found.record
    if record is None:
        return Summary(name, found.state.value, "", "", "", "", False, found.lines, found.head_hash, 0)
    return Summary(
        name=name,
        state=found.state.value,
        started=record.started.wall if record.started is not None else record.header.started,
        procedure=record.header.procedure,
        operator=record.operator,
        patient=record.patient_reference,
        practice=record.practice,
        lines=found.lines,
        head=found.head_hash,
        open_items=len(record.open_items),
    )


def _unreadable(name: str, state: RecordState = RecordState.BROKEN) -> Summary:
    return Summary(name, state.value, "", "", "", "", False, 0, FIRST_PREV, 0)


def _recall(root: Path) -> dict[str, tuple[str, Summary]]:
    """What the index knows; nothing where it is missing, foreign or damaged, or holds what no listing writes."""
    path = root / INDEX_FILE
    if not is_regular(path) or not _is_own(path):
        return {}
    try:
        with contextlib.closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as index:
            if index.execute("pragma user_version").fetchone()[0] != _FORM:
                return {}
            rows = index.execute("select name, file, summary from seen").fetchall()
        known = {name: (file, Summary(**json.loads(summary))) for name, file, summary in rows}
    except (sqlite3.Error, ValueError, TypeError, RecursionError):
        return {}
    return known if all(_is_summary_of(name, item) for name, (_, item) in known.items()) else {}


def _is_own(path: Path) -> bool:
    """Whether a file is that of whoever runs this; systems without such owners do not tell."""
    try:
        return not hasattr(os, "geteuid") or path.lstat().st_uid == os.geteuid()
    except OSError:
        return False


def _is_summary_of(name: str, item: Summary) -> bool:
    """Whether this could be what `_summary` gave."""
    texts = (item.started, item.procedure, item.operator, item.patient, item.head)
    return (
        item.name == name
        and item.state in list(RecordState)
        and all(type(text) is str for text in texts)
        and type(item.practice) is bool
        and type(item.lines) is type(item.open_items) is int
    )


def _keep(root: Path, fresh: dict[str, tuple[str, Summary]], gone: set[str]) -> None:
    """Write what was learnt. A store that cannot be written is listed without a cache."""
    if not fresh and not gone:
        return
    path = root / INDEX_FILE
    if os.path.lexists(path) and not is_regular(path):
        return
    fresh = {name: learnt for name, learnt in fresh.items() if _is_text(name)}
    for _ in range(2):
        try:
            _write_index(path, fresh, gone)
        except sqlite3.DatabaseError:
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)  # damaged: begin anew, the files are the truth
        else:
            return


def _is_text(name: str) -> bool:
    """Whether a name can be kept at all: one that is no text in this system's encoding is looked at each time."""
    try:
        name.encode()
    except UnicodeEncodeError:
        return False
    return True


def _write_index(path: Path, fresh: dict[str, tuple[str, Summary]], gone: set[str]) -> None:
    with contextlib.closing(sqlite3.connect(path)) as index, index:
        path.chmod(0o600)
        if index.execute("pragma user_version").fetchone()[0] != _FORM:
            index.execute("drop table if exists seen")
            index.execute(f"pragma user_version = {_FORM}")
        index.execute(_SCHEMA)
        index.executemany("delete from seen where name = ?", [(name,) for name in sorted(gone)])
        index.executemany(
            "insert or replace into seen values (?, ?, ?)",
            [(name, file, json.dumps(asdict(item))) for name, (file, item) in fresh.items()],
        )
