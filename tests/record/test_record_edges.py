"""Edges of the record on disk: what cannot be read or written, and what is left from before.

Expected behaviour: the laws of this project (DEVELOPERS.md); no outside source unless one is named.
"""

import builtins
import dataclasses
import errno
import hashlib
import json
import os
from datetime import date
from decimal import Decimal

import pytest
from record_golden import made_over
from record_samples import (
    BEGUN,
    CLOSING,
    HEADER,
    START,
    affirms,
    confirmed,
    exact,
    refill,
    started,
    write_visit,
)

from handsfree.clock import ManualClock
from handsfree.errors import RecordError
from handsfree.model.baseline import place
from handsfree.model.effects import Append
from handsfree.model.facts import DueSet, PatientReferenceDeclared
from handsfree.model.readings import Absent, AbsentReason, Option, Side, SpelledText, SpokenDate, Timing
from handsfree.model.reasons import Severity
from handsfree.record import end_mark
from handsfree.record.amendments import amend, delete_clips
from handsfree.record.baseline import as_header, earlier_of, from_header
from handsfree.record.clips import clip_fault, clip_file, flac
from handsfree.record.codec import decode_fact, encode_fact
from handsfree.record.comparison import same_fact
from handsfree.record.display_text import offset_text
from handsfree.record.end_mark import END_FILE
from handsfree.record.forms.form_1_values import with_decimals
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.own_lines import Amended
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
        monkeypatch.setattr(end_mark, "rename_within", failing)
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


def test_a_note_of_the_end_that_names_no_line_is_a_fault(tmp_path):
    # Its hash is that of the last line: what names none may not stand for the last one.
    folder = write_visit(tmp_path / "r")
    noted = json.loads((folder / END_FILE).read_bytes())
    (folder / END_FILE).write_text(json.dumps(noted | {"lines": 0}), encoding="utf-8")
    assert any("0 lines were sealed" in fault.what for fault in verify(folder).faults)


def test_a_note_of_the_end_that_cannot_be_read_is_a_fault(tmp_path):
    folder = write_visit(tmp_path / "r")
    (folder / END_FILE).unlink()
    (folder / END_FILE).mkdir()
    found = verify(folder)
    assert found.state is RecordState.BROKEN
    assert any(f"{END_FILE} cannot be read" in str(fault) for fault in found.faults)


def test_sound_that_cannot_be_deleted_is_told_to_be_deleted_by_hand(tmp_path, monkeypatch):
    folder = write_visit(tmp_path / "r")
    (folder / "clips").mkdir(exist_ok=True)
    left = folder / "clips" / f"{hashlib.sha256(b'sound that no line names').hexdigest()}.flac"
    left.write_bytes(b"sound that no line names")
    with monkeypatch.context() as patch:
        patch.setattr(os, "unlink", failing)
        with pytest.raises(RecordError, match=r"cannot delete sound in .*clips: Input/output error; delete it by hand"):
            delete_clips(folder, reason="asked by the patient")
    assert left.exists()
    assert delete_clips(folder, reason="asked by the patient") == 1
    assert list((folder / "clips").iterdir()) == []
    assert verify(folder).record.deleted_clips == {left.stem}


def test_each_torn_end_has_a_number_of_its_own(tmp_path):
    folder = write_visit(tmp_path / "r", close=False)
    path = folder / RECORD_FILE
    for number in (1, 2, 3):
        path.write_bytes(path.read_bytes() + b"torn %d" % number)
        Journal.reopen(folder)[0].close()
    torn = {path.name: path.read_bytes() for path in folder.glob("torn-*.bin")}
    assert torn == {f"torn-{number}.bin": b"torn %d" % number for number in (1, 2, 3)}


@pytest.mark.parametrize(
    ("there", "made"),
    [
        (["torn-2.bin"], "torn-3.bin"),
        (["torn-1.bin", "torn-3.bin"], "torn-4.bin"),
        (["torn-x.bin", "torn-.bin", "torn-" + "9" * 200 + ".bin"], "torn-1.bin"),
        (["torn-07.bin"], "torn-8.bin"),
    ],
)
def test_a_torn_end_takes_the_place_of_no_file_that_is_there(tmp_path, there, made):
    folder = write_visit(tmp_path / "r", close=False)
    for name in there:
        (folder / name).write_bytes(b"kept")
    with (folder / RECORD_FILE).open("ab") as file:
        file.write(b"torn now")
    journal, found = Journal.reopen(folder)
    journal.close()
    assert found.torn_bytes == 8
    assert (folder / made).read_bytes() == b"torn now"
    assert all((folder / name).read_bytes() == b"kept" for name in there)


def test_a_torn_end_is_set_aside_beside_what_only_looks_like_one(tmp_path):
    folder = write_visit(tmp_path / "r", close=False)
    (folder / "torn-1.bin").mkdir()
    (folder / "torn-2.bin").symlink_to(tmp_path / "elsewhere")
    with (folder / RECORD_FILE).open("ab") as file:
        file.write(b"torn now")
    Journal.reopen(folder)[0].close()
    assert (folder / "torn-3.bin").read_bytes() == b"torn now"
    assert not (tmp_path / "elsewhere").exists()


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ({"type": "exact", "value": "x", "decimals": 1}, "value.Exact.value: "),
        ({"type": "option"}, "value.Option.value: is missing"),
        ({"type": "option", "value": 1}, "value.Option.value: "),
        ({"type": "between", "low": "1"}, "value.Between.high: is missing"),
        ({"type": "spelled_text", "text": "x", "mood": "good"}, "value.SpelledText.mood: is a member too many"),
        ({"type": "absent", "reason": "nothing"}, "value.Absent.reason: "),
        ({"type": "spoken_date", "value": "2026-13-01", "month_only": True}, "value.SpokenDate.value: "),
    ],
)
def test_a_value_that_is_none_is_told_by_the_type_that_it_names(value, told):
    kind, data = encode_fact(refill("1.5", Side.LEFT, Timing.AFTER).fact)
    with pytest.raises(RecordError) as refused:
        decode_fact(kind, data | {"value": value})
    assert told in str(refused.value)


def test_a_date_of_an_older_form_may_have_lost_whether_its_day_was_said():
    # Form 1 wrote a month as its last day and not that only the month was said.
    day = date(2027, 12, 31)
    month, whole = (confirmed("pack", "expiry", SpokenDate(day, month_only=only)).fact for only in (True, False))
    other = confirmed("pack", "expiry", SpokenDate(date(2027, 12, 30), month_only=True)).fact
    assert same_fact(whole, month, older=True)
    assert not same_fact(whole, month)
    assert not same_fact(other, month, older=True)


@pytest.mark.parametrize(("due", "known"), [("2026-11-25T12:00:00.000Z", True), ("tomorrow", False)])
def test_when_the_next_check_is_due_is_unknown_where_no_moment_was_written(tmp_path, due, known):
    value = exact("2")
    fact = DueSet(stage="next", step="next", field="after", due=due, value=value, unit_s=3600.0)
    with Journal.create(tmp_path / "r", HEADER) as journal:
        journal.append(started(), [BEGUN, confirmed("next", "after", value, unit="h"), Append(fact)])
        journal.append(affirms(50.0), [CLOSING])
    assert verify(tmp_path / "r").record.due == (due if known else "")


def test_a_reference_that_was_said_again_is_the_last_one(tmp_path):
    with Journal.create(tmp_path / "r", dataclasses.replace(HEADER, patient_reference=None)) as journal:
        told = [Append(PatientReferenceDeclared(reference=code)) for code in ("DEMO1", "DEMO2", "DEMO3")]
        journal.append(started(), [BEGUN, *told])
        journal.append(affirms(50.0), [CLOSING])
    assert verify(tmp_path / "r").record.patient_reference == "DEMO3"


def test_an_amended_note_is_as_it_was_read_last(tmp_path):
    folder = write_visit(tmp_path / "r")
    record = verify(folder).record
    (note,) = record.notes
    entry = note.recorded.seq
    assert not note.verified
    amend(folder, entry, Amended(verified=True), by="surgeon", reason="read")
    (note,) = verify(folder).record.notes
    assert note.verified
    amend(folder, entry, Amended(text="padding renewed"), by="surgeon", reason="misheard")
    (note,) = verify(folder).record.notes
    # Nobody has read the new words yet.
    assert (note.text, note.verified, len(note.amendments)) == ("padding renewed", False, 2)


def test_an_earlier_visit_is_compared_by_what_stands_in_it(tmp_path):
    # A reading that was taken back, and its place left empty, is compared with nothing; a code is not compared at all.
    gap, code = Absent(AbsentReason.NOT_PERFORMED), SpelledText("A4")
    left_out = confirmed(
        "nv_baseline", "refill", gap, side=Side.LEFT, timing=Timing.BASELINE, unit="s", severity=Severity.AMBER
    )
    facts = [
        refill("1.5", Side.LEFT, Timing.BASELINE),
        refill("1.6", Side.RIGHT, Timing.BASELINE),
        left_out,
        confirmed("pulse", "pulse", "weak"),
        confirmed("pack", "lot", code),
    ]
    with Journal.create(tmp_path / "r", HEADER) as journal:
        journal.append(started(), [BEGUN, *facts])
        journal.append(affirms(50.0), [CLOSING])
    earlier = earlier_of(verify(tmp_path / "r").record)
    assert (earlier.record_id, earlier.day, earlier.due) == (HEADER.record_id, "2026-11-25", "")
    kept = {place("nv_baseline", "refill", Side.RIGHT): exact("1.6"), place("pulse", "pulse", None): Option("weak")}
    assert dict(earlier.values) == kept
    assert from_header(dataclasses.replace(HEADER, baseline=as_header(earlier, "ab" * 32))) == earlier
    assert from_header(HEADER) is None


@pytest.mark.parametrize(
    ("number", "decimals", "written"),
    [("1.5", 1, "1.5"), ("1.5", 2, "1.50"), ("2", 1, "2.0"), ("1.55", 1, "1.55"), ("2", 0, "2"), ("2", 10, "2")],
)
def test_last_zeros_that_form_1_left_out_come_back(number, decimals, written):
    assert str(with_decimals(Decimal(number), decimals)) == written


@pytest.mark.parametrize(
    ("minutes", "text"),
    [(0, "UTC+00:00"), (60, "UTC+01:00"), (-210, "UTC−03:30"), (345, "UTC+05:45"), (-45, "UTC−00:45")],
)
def test_offsets_of_local_time_are_written_with_their_sign(minutes, text):
    # Offsets of real zones: Newfoundland 3:30 behind, Nepal 5:45 ahead; Liberia was 44:30 behind until 1972.
    assert offset_text(minutes) == text


def test_a_dropped_line_is_told_once_and_what_follows_is_taken_at_its_word(tmp_path):
    folder = write_visit(tmp_path / "r")
    lines = (folder / RECORD_FILE).read_bytes().splitlines(keepends=True)
    (folder / RECORD_FILE).write_bytes(b"".join(lines[:5] + lines[6:]))
    order = [fault for fault in verify(folder).faults if "sequence number" in str(fault)]
    assert [(fault.line, fault.what.partition(":")[0]) for fault in order] == [(6, "sequence number 6 where 5 was due")]


def test_an_unreadable_line_is_told_once_and_counted(tmp_path):
    folder = write_visit(tmp_path / "r")
    lines = (folder / RECORD_FILE).read_bytes().splitlines(keepends=True)
    lines[5] = b"no line of a record\n"
    (folder / RECORD_FILE).write_bytes(b"".join(lines))
    assert {fault.line for fault in verify(folder).faults if "sequence" in fault.what or "hash" in fault.what} == set()
    assert 6 in {fault.line for fault in verify(folder).faults}


@pytest.mark.parametrize("unreadable", [True, False])
def test_a_record_that_cannot_be_read_is_told_in_one_line(tmp_path, monkeypatch, unreadable):
    folder = write_visit(tmp_path / "r")
    if unreadable:
        monkeypatch.setattr(os, "read", failing)
        with pytest.raises(RecordError, match=r"cannot read .*: Input/output error"):
            verify(folder)
    else:
        with pytest.raises(RecordError, match="holds no record; give a record folder or its"):
            verify(tmp_path)


def test_a_name_that_no_file_can_have_is_told_in_one_line(tmp_path):
    with pytest.raises(RecordError, match=r"^cannot read .*: File name too long$"):
        verify(tmp_path / ("x" * 300))


def test_after_the_closing_nothing_happens_any_more(tmp_path):
    folder = write_visit(tmp_path / "r")

    def more(lines):
        events = [index for index, line in enumerate(lines) if line.kind == "event"]
        lines += [*lines[events[-2] : events[-1]], lines[-1]]

    count = len((folder / RECORD_FILE).read_bytes().splitlines())
    made_over(folder, more)
    found = verify(folder)
    assert f"line {count + 1}: an event after the record was closed" in [str(fault) for fault in found.faults]


@pytest.mark.parametrize(("kind", "place"), [("said_again", 2), ("header", 3), ("header", -1)])
def test_a_line_where_none_of_its_kind_belongs_is_told(tmp_path, kind, place):
    # The chain is made right again, so that nothing but the order of kinds tells.
    folder = tmp_path / "r"
    with Journal.create(folder, HEADER) as journal:
        journal.append(started(), [])
        journal.append(affirms(1.0), [CLOSING])

    def misplace(lines):
        more = lines[0] if kind == "header" else dataclasses.replace(lines[0], kind=kind, data={"stage": "a"})
        lines.insert(place, more)

    made_over(folder, misplace)
    found = verify(folder)
    assert found.state is RecordState.BROKEN
    number = place + 1 if place > 0 else len((folder / RECORD_FILE).read_bytes().splitlines()) - 1
    assert f"line {number}: {kind!r} does not belong here" in [str(fault) for fault in found.faults]
