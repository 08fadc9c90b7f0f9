"""What the package asks of a system: no module that only POSIX systems have, no name that Windows refuses.

Names: Microsoft, "Naming Files, Paths, and Namespaces" (learn.microsoft.com/windows/win32/fileio/naming-a-file), from
memory. Modules: the table of availability in the manual of Python's standard library.
"""

import os
import re
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import portalocker
import pytest

import handsfree
from handsfree import regular_files
from handsfree.clock import ManualClock
from handsfree.errors import RecordError
from handsfree.model.effects import Append
from handsfree.model.facts import VisitClosed
from handsfree.practice.attempts import AttemptStore
from handsfree.record import private_files
from handsfree.record.clips import keep_clip
from handsfree.record.contents import RecordHeader
from handsfree.record.file_lock import is_written, lock, lock_file
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.private_files import sync_folder
from handsfree.record.signing import installation_key
from handsfree.record.store import list_records
from handsfree.record.verify import RecordState, verify

HIDDEN = ("fcntl", "termios", "tty", "pty", "pwd", "grp", "resource", "syslog", "readline", "curses")
HEADER = RecordHeader(
    record_id="5f0c7c1e-0000-4000-8000-000000000001",
    procedure="ulnar-splint-fitting",
    title="Fitting of an ulnar splint",
    procedure_sha256="ab" * 32,
    practice=False,
    versions={},
    started="2026-11-25T10:00:00.000Z",
)
CLOSING = Append(VisitClosed(outcome="completed", open_items=(), zones=(), practice=False, stages_done=0, notes=0))


def test_every_module_is_imported_where_posix_modules_are_missing():
    # A library may know its own way round; what is asked for here is what this package imports itself.
    script = f"""
import importlib, importlib.abc, pkgutil, sys
importlib.import_module("portalocker")  # has its own branch for each system, chosen by os.name
for name in {HIDDEN}:
    sys.modules[name] = None
import handsfree
count = 0
for found in pkgutil.walk_packages(handsfree.__path__, "handsfree."):
    if found.name != "handsfree.__main__":
        importlib.import_module(found.name)
        count += 1
print(count)
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    modules = [path for path in Path(handsfree.__path__[0]).rglob("*.py") if path.name != "__main__.py"]
    assert int(done.stdout) == len(modules) - 1  # the package itself


@pytest.fixture
def record(tmp_path):
    folder = tmp_path / "r"
    with Journal.create(folder, HEADER) as journal:
        yield folder, journal


def test_a_record_that_is_written_can_be_read_and_is_open(record):
    folder, journal = record
    assert is_written(folder / RECORD_FILE)
    assert verify(folder).state is RecordState.OPEN
    with pytest.raises(RecordError, match="written by another process"):
        Journal.reopen(folder)
    journal.close()
    assert not is_written(folder / RECORD_FILE)
    assert verify(folder).state is RecordState.INTERRUPTED
    Journal.reopen(folder)[0].close()


def test_several_may_ask_at_once_and_asking_makes_no_file(tmp_path):
    path = tmp_path / RECORD_FILE
    assert not is_written(path)
    assert list(tmp_path.iterdir()) == []
    os.close(lock(path))
    asking = os.open(lock_file(path), os.O_RDONLY)
    portalocker.lock(asking, portalocker.LockFlags.SHARED)
    assert not is_written(path)
    os.close(asking)


def test_the_file_beside_a_record_breaks_nothing_and_may_be_lost(record, tmp_path):
    folder, journal = record
    journal.append(None, [CLOSING])
    journal.close()
    assert lock_file(folder / RECORD_FILE).read_bytes() == b""
    assert verify(folder).state is RecordState.COMPLETE
    lock_file(folder / RECORD_FILE).unlink()
    assert verify(folder).state is RecordState.COMPLETE
    assert [item.state for item in list_records(tmp_path)] == ["complete"]


def test_where_nothing_can_be_locked_it_is_told_in_one_line(record, tmp_path, monkeypatch):
    # As some network file systems answer: flock(2), ENOLCK.
    folder, journal = record
    journal.close()

    def no_locks(handle, flags):
        raise portalocker.LockException(portalocker.LockException.LOCK_FAILED, "No locks available")

    monkeypatch.setattr(portalocker, "lock", no_locks)
    with pytest.raises(RecordError, match="cannot be locked: No locks available"):
        Journal.reopen(folder)
    with pytest.raises(RecordError, match=r"whether .* is being written: No locks available"):
        verify(folder)
    assert [item.state for item in list_records(tmp_path)] == ["broken"]


def test_the_record_itself_is_never_locked(record):
    # A lock of Windows would keep readers out of the bytes that it covers.
    folder, _ = record
    with (folder / RECORD_FILE).open("rb") as reader:
        portalocker.lock(reader, portalocker.LockFlags.EXCLUSIVE | portalocker.LockFlags.NON_BLOCKING)


def test_where_folders_cannot_be_opened_they_are_not_synchronised(tmp_path, monkeypatch):
    missing = tmp_path / "no-such-folder"
    with pytest.raises(RecordError):
        sync_folder(missing)
    monkeypatch.setattr(private_files, "POSIX", False)
    sync_folder(missing)


def test_where_modes_mean_nothing_a_key_is_not_refused_for_its_mode(tmp_path, monkeypatch):
    path = tmp_path / "signing.key"
    made = installation_key(path)
    path.chmod(0o666)  # what Windows reports of every file that may be written
    with pytest.raises(RecordError, match="open to other users"):
        installation_key(path)
    monkeypatch.setattr(private_files, "POSIX", False)
    assert installation_key(path).private_bytes_raw() == made.private_bytes_raw()


def test_lines_are_written_as_bytes_where_text_would_change_their_ends(record, monkeypatch):
    asked = []
    real = os.open
    monkeypatch.setattr(regular_files, "_PLAIN", 1 << 40)

    def opened(path, flags, mode=0o777, *, dir_fd=None):
        if not flags & os.O_DIRECTORY:
            asked.append(flags)
        return real(path, flags % 2**40, mode, dir_fd=dir_fd)

    monkeypatch.setattr(os, "open", opened)
    monkeypatch.setattr(regular_files, "_BY_HANDLE", False)
    folder, journal = record
    journal.append(None, [CLOSING])
    journal.close()
    Journal.reopen_closed(folder).close()
    assert len(asked) >= 3
    assert all(flags >= 1 << 40 for flags in asked)


REFUSED = re.compile(r'[<>:"/\\|?*\x00-\x1f]|[ .]$|^(?:con|prn|aux|nul|com\d|lpt\d)(?:\.|$)', re.IGNORECASE)


def test_every_name_that_is_made_is_valid_on_windows(record, tmp_path):
    pytest.importorskip("soundfile")
    folder, journal = record
    keep_clip(folder, b"\0\0" * 1600)
    journal.close()
    with (folder / RECORD_FILE).open("ab") as file:
        file.write(b'{"torn')
    Journal.reopen(folder)[0].close()
    AttemptStore(tmp_path / "attempts.jsonl", ManualClock(datetime(2026, 11, 25, tzinfo=UTC))).attempts()
    os.close(lock(tmp_path / "attempts.jsonl"))
    list_records(tmp_path)
    names = [path.name for path in tmp_path.rglob("*")]
    assert len(names) >= 7
    assert [name for name in names if REFUSED.search(name)] == []
    data = [path.name for path in Path(handsfree.__path__[0]).rglob("*")]
    assert [name for name in data if REFUSED.search(name)] == []
