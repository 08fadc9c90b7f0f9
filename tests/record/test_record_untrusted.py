"""A record that came from elsewhere: what else may lie in its folder, and what is named in its lines."""

import hashlib
import json
import os
import re
import shutil
import sys
from dataclasses import replace
from datetime import date

import pytest
from forgery import forged
from record_golden import made_over
from record_samples import CLOSING, HEADER, affirms, started, write_visit

from handsfree.cli import main
from handsfree.errors import RecordError
from handsfree.record.amendments import delete_clips
from handsfree.record.clips import clip_fault, keep_clip, read_clip
from handsfree.record.end_mark import END_FILE
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.store import RecordFolder, list_records
from handsfree.record.store_index import INDEX_FILE
from handsfree.record.verify import RecordState, verify
from handsfree.report.day import day_of
from handsfree.report.embedded_sound import embedded

SOUND = b"\x01\x00" * 1600
DAY = date(2026, 11, 25)


def fifo(path):
    os.mkfifo(path)


def endless(path):
    path.symlink_to("/dev/zero")


def looped(path):
    path.symlink_to(path.name)


def dangling(path):
    path.symlink_to("nowhere")


def folder(path):
    path.mkdir()


def newer(lines):
    lines[0] = replace(lines[0], data=lines[0].data | {"form": 99})


ODD = [fifo, endless, looped, dangling, folder]


@pytest.fixture
def sounding(tmp_path):
    """A closed record with one utterance of sound."""
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    with Journal.create(tmp_path / "r", HEADER) as journal:
        journal.keep_clips = True
        journal.append(started(), [])
        journal.append(affirms(5.0, clip=SOUND), [CLOSING])
    return tmp_path / "r"


@pytest.fixture
def foreign(tmp_path):
    """A folder that is nobody's business here."""
    place = tmp_path / "foreign"
    place.mkdir()
    (place / "song.flac").write_bytes(b"a song")
    return place


@pytest.mark.parametrize("odd", ODD)
def test_a_record_that_is_no_regular_file_is_refused_in_one_line(tmp_path, odd, capsys):
    (tmp_path / "r").mkdir()
    odd(tmp_path / "r" / RECORD_FILE)
    for command in (["verify"], ["summary"], ["export", "--to", "csv"], ["attest", "--by", "x"]):
        with pytest.raises(SystemExit) as left:
            main([command[0], str(tmp_path / "r"), *command[1:], *_key(command, tmp_path)])
        assert left.value.code == 8
        told = capsys.readouterr().err.strip()
        assert told.startswith("handsfree: ")
        assert len(told.splitlines()) == 1
    with pytest.raises(RecordError):
        Journal.reopen(tmp_path / "r")


def _key(command, tmp_path):
    return ["--key-file", str(tmp_path / "key")] if command[0] == "attest" else []


@pytest.mark.parametrize("odd", ODD)
def test_no_record_is_begun_through_what_lies_there(tmp_path, odd):
    (tmp_path / "r").mkdir()
    odd(tmp_path / "r" / RECORD_FILE)
    with pytest.raises(RecordError, match="cannot make a record in"):
        Journal.create(tmp_path / "r", HEADER)
    assert not (tmp_path / "r" / "nowhere").exists()


@pytest.mark.parametrize("odd", ODD)
def test_a_note_of_the_end_that_is_no_file_is_a_fault_and_hangs_nothing(tmp_path, odd):
    made = write_visit(tmp_path / "r")
    (made / END_FILE).unlink()
    odd(made / END_FILE)
    assert [str(fault) for fault in verify(made).faults] == [f"{END_FILE} cannot be read"]


@pytest.mark.parametrize("odd", ODD)
def test_what_lies_where_the_end_is_noted_hangs_no_writing_and_is_written_through_by_none(tmp_path, odd):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        odd(tmp_path / "r" / f"{END_FILE}.new")
        journal.append(started(), [CLOSING])
    assert verify(tmp_path / "r").state is RecordState.COMPLETE


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("indexed", [True, False])
def test_one_record_that_cannot_be_read_hides_no_other(tmp_path, odd, indexed, capsys):
    write_visit(tmp_path / "good")
    if indexed:
        list_records(tmp_path)
    (tmp_path / "odd").mkdir()
    odd(tmp_path / "odd" / RECORD_FILE)
    write_visit(tmp_path / "newer")
    made_over(tmp_path / "newer", newer)
    states = {item.name: item.state for item in list_records(tmp_path)}
    assert states == {"good": "complete", "odd": "broken", "newer": "newer"}
    found = day_of(tmp_path, DAY)
    assert [visit.name for visit in found.visits] == ["good"]
    assert sorted(found.unreadable) == ["newer", "odd"]
    main(["day", str(tmp_path), "--date", "2026-11-25"])
    assert "BROKEN, of no known day: odd" in capsys.readouterr().out


def test_a_folder_that_may_not_be_entered_hides_no_other(tmp_path, monkeypatch):
    write_visit(tmp_path / "good")
    (tmp_path / "locked").mkdir()
    real = os.lstat

    def refusing(path, **how):
        if "locked/" in str(path):
            raise PermissionError(13, "Permission denied")
        return real(path, **how)

    monkeypatch.setattr(os, "lstat", refusing)  # the tests may run as root, who may enter any
    assert {item.name: item.state for item in list_records(tmp_path)} == {"good": "complete", "locked": "broken"}


@pytest.mark.skipif(sys.platform != "linux", reason="names of folders are bytes")
def test_a_folder_whose_name_is_no_text_hides_no_other(tmp_path, capsys):
    write_visit(tmp_path / "store" / "good")
    shutil.copytree(tmp_path / "store" / "good", tmp_path / "store" / os.fsdecode(b"b\xff"))
    for _ in range(2):  # also with what the first listing has kept
        main(["records", str(tmp_path / "store")])
        lines = capsys.readouterr().out.splitlines()
        assert [line.split()[-1] for line in lines] == [r"b\udcff", "good"]
    main(["day", str(tmp_path / "store"), "--date", "2026-11-25", "--html", str(tmp_path / "day.html")])
    assert r"b\udcff" in (tmp_path / "day.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("offset", [99_999_999, -1440])
def test_an_offset_that_no_clock_has_hides_no_other(tmp_path, capsys, offset):
    """RFC 3339, 5.6: hours to 23, minutes to 59."""

    def change(lines):
        for seq, line in enumerate(lines):
            if b'"local_offset_minutes":' in line.raw:
                data = json.loads(
                    re.sub(r'(?<="local_offset_minutes": )-?\d+', str(offset), json.dumps(dict(line.data)))
                )
                lines[seq] = replace(line, data=data)

    write_visit(tmp_path / "store" / "good")
    forged(shutil.copytree(tmp_path / "store" / "good", tmp_path / "store" / "forged"), change)
    main(["day", str(tmp_path / "store"), "--date", "2026-11-25"])
    out = capsys.readouterr().out
    assert "BROKEN, of no known day: forged" in out
    assert "2026-11-25: 1 visits" in out


def test_a_linked_record_of_a_store_is_named_and_not_read(tmp_path):
    write_visit(tmp_path / "elsewhere" / "r")
    write_visit(tmp_path / "store" / "good")
    (tmp_path / "store" / "linked").symlink_to(tmp_path / "elsewhere" / "r")
    assert [(one.name, one.state) for one in list_records(tmp_path / "store")] == [
        ("linked", "broken"),
        ("good", "complete"),
    ]
    found = day_of(tmp_path / "store", date(2026, 11, 25))
    assert ([one.name for one in found.visits], found.unreadable) == (["good"], ("linked",))


def test_a_record_that_vanishes_after_it_was_listed_hides_no_other(tmp_path, monkeypatch):
    write_visit(tmp_path / "good")
    write_visit(tmp_path / "going", header=replace(HEADER, record_id="another"))

    def listed(folder, wanted):
        found = list_records(folder.root, wanted)
        shutil.rmtree(tmp_path / "going")
        return found

    monkeypatch.setattr(RecordFolder, "listed", listed)
    found = day_of(tmp_path, DAY)
    assert ([visit.name for visit in found.visits], found.unreadable) == (["good"], ("going",))


@pytest.mark.parametrize("odd", ODD)
def test_an_index_that_is_no_file_is_not_opened(tmp_path, odd):
    write_visit(tmp_path / "good")
    odd(tmp_path / INDEX_FILE)
    for _ in range(2):
        assert [item.state for item in list_records(tmp_path)] == ["complete"]
    assert not (tmp_path / "nowhere").exists()


def test_only_named_sound_is_deleted(sounding):
    (sounding / "clips" / "song.flac").write_bytes(b"a song")
    (sounding / "clips" / f"{'0' * 64}.flac").write_bytes(b"not what its name says")
    assert delete_clips(sounding, reason="asked for") == 1
    assert sorted(path.name for path in (sounding / "clips").iterdir()) == [f"{'0' * 64}.flac", "song.flac"]
    assert verify(sounding).fine


def test_a_linked_folder_of_sound_loses_nothing_and_is_not_read(sounding, foreign):
    (name,) = (path.name for path in (sounding / "clips").iterdir())
    shutil.move(sounding / "clips" / name, foreign / name)
    (sounding / "clips").rmdir()
    (sounding / "clips").symlink_to(foreign)
    assert [fault.what for fault in verify(sounding).faults] == [
        f"its sound {name} cannot be read: it is a link, and none is followed here"
    ]
    with pytest.raises(RecordError):
        delete_clips(sounding, reason="asked for")
    assert sorted(path.name for path in foreign.iterdir()) == sorted([name, "song.flac"])


def test_a_linked_folder_of_sound_without_any_named_is_left_alone(tmp_path, foreign):
    made = write_visit(tmp_path / "r")
    (made / "clips").symlink_to(foreign)
    digest = hashlib.sha256(b"a song").hexdigest()
    (foreign / f"{digest}.flac").write_bytes(b"a song")
    assert delete_clips(made, reason="asked for") == 0
    assert len(list(foreign.iterdir())) == 2


@pytest.mark.parametrize("odd", [fifo, endless])
def test_sound_that_is_no_file_is_a_fault_and_goes_into_no_page(sounding, odd):
    (clip,) = (sounding / "clips").iterdir()
    clip.unlink()
    odd(clip)
    found = verify(sounding)
    assert found.state is RecordState.BROKEN
    assert embedded(sounding, found.record).clips == ()


def test_sound_larger_than_any_utterance_is_not_read(sounding, monkeypatch):
    (clip,) = (sounding / "clips").iterdir()
    monkeypatch.setattr("handsfree.record.clips.LARGEST_CLIP", clip.stat().st_size - 1)
    assert "it is larger than" in clip_fault(sounding, clip.stem)


def test_no_name_of_sound_leads_out_of_its_folder(tmp_path):
    (tmp_path / "x.flac").write_bytes(b"x")
    for name in ("../x", "x", "/etc/passwd", "", "\0"):
        with pytest.raises(RecordError, match="named by no hash"):
            read_clip(tmp_path, name)


def test_sound_is_kept_through_no_link(tmp_path, foreign):
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    (tmp_path / "r").mkdir()
    (tmp_path / "r" / "clips").symlink_to(foreign)
    with pytest.raises(RecordError, match="it is a link"):
        keep_clip(tmp_path / "r", SOUND)
    assert [path.name for path in foreign.iterdir()] == ["song.flac"]


def test_what_a_killed_program_was_writing_is_taken_away_by_the_next(tmp_path):
    made = write_visit(tmp_path / "r", close=False)
    (made / "clips").mkdir()
    left = [made / f"{END_FILE}.new", made / "clips" / f"{'a' * 64}.flac.part"]
    kept = [made / "clips" / "mine.part", made / "clips" / f"{'b' * 64}.flac"]
    for path in (*left, *kept):
        path.write_bytes(b"half")
    Journal.reopen(made)[0].close()
    assert [path.exists() for path in (*left, *kept)] == [False, False, True, True]


def test_the_procedure_of_a_header_is_never_a_path(tmp_path, monkeypatch):
    """A record names its procedure; whoever made it must not choose which file is opened here."""
    from handsfree.report.procedure_at_hand import procedure_of

    made = write_visit(tmp_path / "r")
    record = verify(made).record
    opened = []
    real = os.open
    monkeypatch.setattr(os, "open", lambda path, *rest, **how: opened.append(str(path)) or real(path, *rest, **how))
    monkeypatch.chdir(tmp_path)
    planted = tmp_path / "planted.yaml"
    planted.write_text("procedure: 1\n")
    (tmp_path / "light-output-check").write_text("procedure: 1\n")
    for name in (str(planted), "planted.yaml", "../planted.yaml", "", "n" * 300, "a\0b", "profiles/demo"):
        named = replace(record, header=replace(record.header, procedure=name))
        assert procedure_of(named) is None
    bundled = replace(record, header=replace(record.header, procedure="light-output-check"))
    assert procedure_of(bundled).procedure.id == "light-output-check"
    assert [path for path in opened if path.startswith(str(tmp_path)) or "planted" in path] == []


@pytest.mark.parametrize("moved", [True, False])
def test_a_folder_that_vanishes_during_a_visit_ends_it_and_nothing_is_called_recorded(tmp_path, moved):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        journal.append(started(), [])
        if moved:
            (tmp_path / "r").rename(tmp_path / "elsewhere")
        else:
            shutil.rmtree(tmp_path / "r")
        for _ in range(2):
            with pytest.raises(RecordError, match="taken away while it was written"):
                journal.append(affirms(5.0), [])
    if moved:
        assert verify(tmp_path / "elsewhere").state is RecordState.INTERRUPTED
