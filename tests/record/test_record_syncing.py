"""What is said to be recorded is on the disk: the order of writing, syncing and deleting, by the system calls."""

import dataclasses
import errno
import os
from pathlib import Path

import pytest
from record_samples import CLOSING, HEADER, affirms, started

from handsfree.errors import RecordError
from handsfree.record.amendments import delete_clips
from handsfree.record.clips import Retention
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.verify import RecordState, verify

CLIP = b"\x01\x00" * 1600


@pytest.fixture
def calls(monkeypatch):
    """Every write, sync and deletion in order, as (call, name of the file or folder)."""
    seen = []
    write, fsync, unlink = os.write, os.fsync, os.unlink

    def name_of(handle):
        return Path(f"/proc/self/fd/{handle}").readlink().name

    def noted_write(handle, content):
        seen.append(("write", name_of(handle)))
        return write(handle, content)

    def noted_fsync(handle):
        seen.append(("sync", name_of(handle)))
        fsync(handle)

    def noted_unlink(path, **options):
        seen.append(("delete", Path(path).suffix))
        unlink(path, **options)

    monkeypatch.setattr(os, "write", noted_write)
    monkeypatch.setattr(os, "fsync", noted_fsync)
    monkeypatch.setattr(os, "unlink", noted_unlink)
    return seen


def keeping_sound(folder):
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    journal = Journal.create(folder, dataclasses.replace(HEADER, retention=Retention.KEEP))
    journal.keep_clips = True
    return journal


def test_the_journal_is_synced_before_anybody_is_told(tmp_path, calls):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        # The first line, and the name of the file in its folder.
        assert calls[-3:] == [("write", RECORD_FILE), ("sync", RECORD_FILE), ("sync", "r")]
        calls.clear()
        journal.append(started(), [])
        assert calls == [("write", RECORD_FILE), ("sync", RECORD_FILE)]
        calls.clear()
        journal.append(affirms(1.0), [CLOSING])
        assert calls[:2] == [("write", RECORD_FILE), ("sync", RECORD_FILE)]


def test_a_batch_that_cannot_be_synced_is_taken_back(tmp_path, monkeypatch):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        before = (tmp_path / "r" / RECORD_FILE).read_bytes()

        def failing(handle):
            raise OSError(errno.EIO, "Input/output error")

        monkeypatch.setattr(os, "fsync", failing)
        with pytest.raises(RecordError, match="nothing more is recorded"):
            journal.append(started(), [])
        assert (tmp_path / "r" / RECORD_FILE).read_bytes() == before


def test_a_clip_and_its_name_are_synced_before_the_line_that_names_it(tmp_path, calls):
    with keeping_sound(tmp_path / "r") as journal:
        calls.clear()
        journal.append(affirms(1.0, clip=CLIP), [])
        ((_, sha256),) = verify_open(tmp_path / "r").clips
        clip = f"{sha256}.flac.part"  # it gets its own name once it is whole
        assert calls == [
            ("sync", clip),
            ("sync", "clips"),
            ("sync", "r"),  # the folder of the clips is new
            ("write", RECORD_FILE),
            ("sync", RECORD_FILE),
        ]
        calls.clear()
        journal.append(affirms(2.0, clip=CLIP[:-2]), [])
        assert [call for call in calls if call[0] == "sync"][1:] == [("sync", "clips"), ("sync", RECORD_FILE)]


def verify_open(folder):
    found = verify(folder)
    assert found.state is RecordState.OPEN, found.faults
    return found.record


def test_a_clip_that_cannot_be_synced_is_named_by_no_line(tmp_path, monkeypatch):
    with keeping_sound(tmp_path / "r") as journal:
        fsync = os.fsync
        before = (tmp_path / "r" / RECORD_FILE).read_bytes()
        for failing in (".part", "clips"):

            def refusing(handle, failing=failing):
                if str(Path(f"/proc/self/fd/{handle}").readlink()).endswith(failing):
                    raise OSError(errno.EIO, "Input/output error")
                fsync(handle)

            monkeypatch.setattr(os, "fsync", refusing)
            with pytest.raises(RecordError, match="Input/output error"):
                journal.append(affirms(1.0, clip=CLIP), [])
            assert (tmp_path / "r" / RECORD_FILE).read_bytes() == before


def test_sound_is_deleted_only_after_its_deletion_is_on_the_disk(tmp_path, calls):
    with keeping_sound(tmp_path / "r") as journal:
        journal.append(affirms(1.0, clip=CLIP), [])
        journal.append(affirms(2.0, clip=CLIP[:-2]), [CLOSING])
    calls.clear()
    assert delete_clips(tmp_path / "r", reason="asked by the patient") == 2
    kept = [call for call in calls if call != ("delete", ".new")]  # looked for: a note of the end that was left half
    assert kept[:2] == [("write", RECORD_FILE), ("sync", RECORD_FILE)]
    assert calls.count(("delete", ".flac")) == 2
    assert calls.index(("delete", ".flac")) > calls.index(("sync", RECORD_FILE))


def test_sound_stays_where_its_deletion_cannot_be_written(tmp_path, monkeypatch):
    with keeping_sound(tmp_path / "r") as journal:
        journal.append(affirms(1.0, clip=CLIP), [CLOSING])

    def full(handle, content):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(RecordError, match="No space left"):
        delete_clips(tmp_path / "r", reason="asked by the patient")
    assert len(list((tmp_path / "r" / "clips").iterdir())) == 1
    assert verify(tmp_path / "r").state is RecordState.COMPLETE
