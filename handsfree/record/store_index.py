"""The index of a store: what was learnt of each record, kept in SQLite. A cache that may be deleted at any time.

A folder may come from elsewhere, and an index with it. So a row counts for a file only where that is the one that was
listed here: its number and the time at which it last changed here are given by this system, and no copy brings them.
"""

import contextlib
import os
import sqlite3
from collections.abc import Iterable, Mapping
from pathlib import Path

from handsfree.regular_files import is_regular

INDEX_FILE = "index.sqlite"
_FORM = 6
_TABLES = ("seen", "folded")
"""What is listed of each record, and what else was made of some; both by name, with the file that it was made of."""
Rows = Mapping[str, tuple[str, str]]
"""By name: what this system says of the file, and what was learnt of it, as JSON."""


def recalled(root: Path, table: str, names: Iterable[str] | None = None) -> dict[str, tuple[str, str]]:
    """What the index knows; nothing where it is missing, foreign or damaged.

    Args:
        root: Folder of the store.
        table: "seen" or "folded".
        names: Only these; all where None.
    """
    path = root / INDEX_FILE
    if not is_regular(path) or not _is_own(path):
        return {}
    wanted = _texts(names) if names is not None else None
    try:
        with contextlib.closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as index:
            if index.execute("pragma user_version").fetchone()[0] != _FORM:
                return {}
            select = f"select name, file, learnt from {_table(table)}"  # noqa: S608 - one of two names
            if wanted is None:
                rows = index.execute(select).fetchall()
            else:
                rows = [row for name in wanted for row in index.execute(f"{select} where name = ?", (name,))]
    except sqlite3.Error:
        return {}
    return {name: (file, learnt) for name, file, learnt in rows if isinstance(file, str) and isinstance(learnt, str)}


def _table(name: str) -> str:
    assert name in _TABLES  # noqa: S101 - of this package
    return name


def _texts(names: Iterable[str]) -> list[str]:
    return [name for name in names if _is_text(name)]


def _is_own(path: Path) -> bool:
    """Whether a file is that of whoever runs this; systems without such owners do not tell."""
    try:
        return not hasattr(os, "geteuid") or path.lstat().st_uid == os.geteuid()
    except OSError:
        return False


def keep(root: Path, table: str, fresh: Rows, gone: Iterable[str] = ()) -> None:
    """Write what was learnt. A store that cannot be written is read without a cache.

    Args:
        root: Folder of the store.
        table: "seen" or "folded".
        fresh: What was learnt anew.
        gone: Names of records that are no more.
    """
    left = sorted(_texts(gone))
    known = {name: learnt for name, learnt in fresh.items() if _is_text(name)}
    if not known and not left:
        return
    path = root / INDEX_FILE
    if os.path.lexists(path) and not is_regular(path):
        return
    for _ in range(2):
        try:
            _write(path, table, known, left)
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


def _write(path: Path, table: str, fresh: Rows, gone: list[str]) -> None:
    with contextlib.closing(sqlite3.connect(path)) as index, index:
        path.chmod(0o600)
        if index.execute("pragma user_version").fetchone()[0] != _FORM:
            for name in _TABLES:
                index.execute(f"drop table if exists {name}")
            index.execute(f"pragma user_version = {_FORM}")
        for name in _TABLES:
            index.execute(f"create table if not exists {name} (name text primary key, file text, learnt text)")
            index.executemany(f"delete from {name} where name = ?", [(one,) for one in gone])  # noqa: S608
        rows = [(name, file, learnt) for name, (file, learnt) in fresh.items()]
        index.executemany(f"insert or replace into {_table(table)} values (?, ?, ?)", rows)  # noqa: S608
