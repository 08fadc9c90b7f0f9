"""Edges of the record on disk: what cannot be read or written, and what is left from before.

Expected behaviour: the laws of this project (DEVELOPERS.md); no outside source unless one is named.
"""

import builtins
import dataclasses
import errno
import hashlib
import os
from pathlib import Path

import pytest
from record_samples import CLOSING, HEADER, START, started, write_visit

from handsfree.clock import ManualClock
from handsfree.errors import RecordError
from handsfree.record.clips import clip_fault, clip_file, flac
from handsfree.record.files import END_FILE
from handsfree.record.journal import Journal
from handsfree.record.lines import RECORD_FILE
from handsfree.record.verify import RecordState, verify


def failing(*_, **__):
    raise OSError(errno.EIO, "Input/output error")


def test_sound_without_the_speech_packages_is_refused_with_what_to_install(monkeypatch):
    load = builtins.__import__

    def without(name, *rest, **named):
        if name == "soundfile":
            raise ImportError(name)
        return load(name, *rest, **named)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(RecordError, match=r"handsfree\[speech\]"):
        flac(b"\x00\x00" * 160)


def test_a_clip_is_missing_unreadable_altered_or_whole(tmp_path):
    digest = hashlib.sha256(b"sound").hexdigest()
    path = clip_file(tmp_path, digest)
    assert clip_fault(tmp_path, digest) == f"its sound {digest}.flac is missing"
    # A folder of that name cannot be read as a file, on any system.
    path.mkdir(parents=True)
    assert clip_fault(tmp_path, digest).startswith(f"its sound {digest}.flac cannot be read: ")
    path.rmdir()
    path.write_bytes(b"other")
    assert clip_fault(tmp_path, digest) == f"its sound {digest}.flac was altered"
    path.write_bytes(b"sound")
    assert clip_fault(tmp_path, digest) is None


def test_a_record_that_states_no_start_began_when_its_first_line_was_written(tmp_path):
    clock = ManualClock(START)
    clock.sleep_until(61.5)
    with Journal.create(tmp_path / "r", dataclasses.replace(HEADER, started=""), clock=clock) as journal:
        assert journal.now() == "2026-11-25T10:01:01.500Z"
    assert verify(tmp_path / "r").record.header.started == "2026-11-25T10:01:01.500Z"


def test_a_folder_in_the_place_of_the_record_is_told_in_one_line(tmp_path):
    (tmp_path / "r" / RECORD_FILE).mkdir(parents=True)
    with pytest.raises(RecordError, match=r"cannot make a record in .*; give a writable folder"):
        Journal.create(tmp_path / "r", HEADER)
    with pytest.raises(RecordError, match=r"cannot open .* for writing"):
        Journal.reopen(tmp_path / "r")


def test_a_journal_that_was_let_go_takes_nothing(tmp_path):
    journal = Journal.create(tmp_path / "r", HEADER)
    journal.close()
    before = (tmp_path / "r" / RECORD_FILE).read_bytes()
    with pytest.raises(RecordError, match="not open"):
        journal.append(started(), [])
    journal.close()
    assert (tmp_path / "r" / RECORD_FILE).read_bytes() == before


def test_only_what_was_interrupted_is_resumed(tmp_path):
    with (
        Journal.create(tmp_path / "r", HEADER) as journal,
        pytest.raises(RecordError, match="was not interrupted"),
    ):
        journal.resume([])


def test_a_torn_end_that_cannot_be_set_aside_leaves_the_record_as_it_was(tmp_path, monkeypatch):
    folder = write_visit(tmp_path / "r", close=False)
    path = folder / RECORD_FILE
    path.write_bytes(path.read_bytes()[:-5])
    before = path.read_bytes()
    with monkeypatch.context() as patch:
        patch.setattr(os, "ftruncate", failing)
        with pytest.raises(RecordError, match=r"cannot repair the end of .*: Input/output error"):
            Journal.reopen(folder)
    assert path.read_bytes() == before
    # The file is let go: the next program may try again.
    Journal.reopen(folder)[0].close()
    assert path.read_bytes() == before[: before.rindex(b"\n") + 1]


def test_a_seal_that_cannot_be_noted_beside_the_record_is_no_fault(tmp_path, monkeypatch):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        monkeypatch.setattr(Path, "replace", failing)
        journal.append(started(), [CLOSING])
        assert journal.sealed
    assert sorted(path.name for path in (tmp_path / "r").glob(f"{END_FILE}*")) == []
    assert verify(tmp_path / "r").state is RecordState.COMPLETE


def test_what_a_crash_left_of_the_note_of_the_end_is_written_over(tmp_path):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        (tmp_path / "r" / f"{END_FILE}.new").write_bytes(b"x" * 10_000)
        journal.append(started(), [CLOSING])
    found = verify(tmp_path / "r")
    assert (found.state, found.faults) == (RecordState.COMPLETE, ())


def test_a_note_of_the_end_that_cannot_be_read_is_a_fault(tmp_path):
    folder = write_visit(tmp_path / "r")
    (folder / END_FILE).unlink()
    (folder / END_FILE).mkdir()
    found = verify(folder)
    assert found.state is RecordState.BROKEN
    assert any(f"{END_FILE} cannot be read" in str(fault) for fault in found.faults)
