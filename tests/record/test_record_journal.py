"""The journal by itself: form of the file, refusals, modes, resuming."""

import hashlib
import json
import stat
import subprocess
import sys
import typing
from dataclasses import replace

import pytest
from record_samples import CLOSING, HEADER, START, affirms, again, refill, said, started, visit, wall, write_visit

from handsfree.clock import ManualClock
from handsfree.errors import RecordError, UsageError
from handsfree.model.effects import Append, Say
from handsfree.model.events import SessionInterrupted
from handsfree.model.facts import AnyFact, KindDeclared, SaidAgain, StatusTold, StrapRemoved
from handsfree.model.readings import Side, Timing
from handsfree.record.comparison import differences
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.own_lines import OWN_KINDS
from handsfree.record.restore import restore
from handsfree.record.verify import RecordState, verify

SAID = Say("Said.")


def raw_lines(folder):
    return (folder / RECORD_FILE).read_bytes().splitlines()


def test_the_chain_holds_when_walked_by_other_code(tmp_path):
    # Independent of our codec: standard json and hashlib only.
    prev = "0" * 64
    for seq, raw in enumerate(raw_lines(write_visit(tmp_path / "r"))):
        line = json.loads(raw)
        assert set(line) == {"seq", "prev", "at", "kind", "data"}
        assert (line["seq"], line["prev"]) == (seq, prev)
        prev = hashlib.sha256(raw).hexdigest()
    assert verify(tmp_path / "r").head_hash == prev


def test_an_event_leads_its_facts_with_their_number(tmp_path):
    lines = [json.loads(raw) for raw in raw_lines(write_visit(tmp_path / "r"))]
    assert lines[0]["kind"] == "header"
    assert lines[-1]["kind"] == "sealed"
    index = 1
    for event, facts in visit():
        assert lines[index]["kind"] == "event"
        assert lines[index]["data"]["facts"] == len(facts)
        assert lines[index]["at"] == event.wall
        assert [line["kind"] for line in lines[index + 1 : index + 1 + len(facts)]] == [fact.kind for fact in facts]
        index += 1 + len(facts)


def test_append_returns_the_numbers_of_its_lines(tmp_path):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        assert journal.append(started(), [again("a"), again("b")]) == [1, 2, 3]
        assert journal.append(None, [again("c")]) == [4, 5]


def test_same_events_give_the_same_bytes(tmp_path):
    assert raw_lines(write_visit(tmp_path / "a")) == raw_lines(write_visit(tmp_path / "b"))


def test_a_record_folds_back_to_what_went_in(tmp_path):
    found = verify(write_visit(tmp_path / "r"))
    assert found.state is RecordState.COMPLETE
    record = found.record
    assert record.events == (*(event for event, _ in visit()), affirms(50.0))
    given = {event.at_s: facts for event, facts in visit()} | {50.0: [CLOSING]}
    assert differences(record, lambda event: [*given[event.at_s], SAID]) == []
    assert [zone.lit_s for zone in record.zones] == [9.5]
    assert record.notes[0].text == "padding checked at the wrist"


def test_a_replay_that_differs_is_told(tmp_path):
    record = verify(write_visit(tmp_path / "r")).record
    given = {event.at_s: facts for event, facts in visit()} | {50.0: []}
    given[40.0] = [refill("2.0", Side.LEFT, Timing.AFTER)]
    found = [str(fault) for fault in differences(record, lambda event: [*given[event.at_s], SAID])]
    assert len(found) == 2
    assert "2.5" in found[0]
    assert "2.0" in found[0]


def test_a_folder_takes_one_record(tmp_path):
    write_visit(tmp_path / "r")
    with pytest.raises(RecordError, match="already holds a record"):
        Journal.create(tmp_path / "r", HEADER)


def test_a_closed_record_takes_no_more(tmp_path):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        journal.append(started(), [CLOSING])
        with pytest.raises(RecordError, match="closed"):
            journal.append(affirms(1.0), [])
    with pytest.raises(RecordError, match="closed"):
        Journal.reopen(tmp_path / "r")


def test_a_session_cannot_write_the_lines_of_the_journal():
    kinds = {fact.__dataclass_fields__["kind"].default for fact in typing.get_args(AnyFact)}
    assert kinds.isdisjoint(
        {"header", "event", "sealed", "interrupted", "form_raised", "amended", "clip_deleted", "attested"}
    )
    assert kinds.isdisjoint(OWN_KINDS)


def test_what_could_not_be_read_back_is_not_written(tmp_path):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        for value in (1e16, float("nan"), float("inf"), 2.0**53, "1", None):
            with pytest.raises(RecordError):
                journal.append(started(), [Append(StrapRemoved(at_s=value, heard=said()))])
        for value in (2**53, 1.5, "1"):
            with pytest.raises(RecordError):
                journal.append(started(), [Append(StatusTold(stages_done=value))])
        with pytest.raises(RecordError):
            journal.append(started(), [Append(KindDeclared(declared="rehearsal"))])
        assert journal.append(started(), []) == [1]


@pytest.mark.parametrize("name", ["Jane Doe", "DOE", "doe-1", "1", "DEMO-0001 DOE", "DEMO--1", "-1A", "A" * 40 + "1"])
def test_a_patient_reference_is_no_name(tmp_path, name):
    # The pattern is a convention of ours.
    with pytest.raises(UsageError, match="never a name"):
        Journal.create(tmp_path / "r", replace(HEADER, patient_reference=name))
    assert not (tmp_path / "r").exists()


def test_others_are_kept_out(tmp_path):
    write_visit(tmp_path / "r")
    assert stat.S_IMODE((tmp_path / "r").stat().st_mode) == 0o700
    for path in (tmp_path / "r").iterdir():
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path


def test_an_empty_folder_is_closed_to_others(tmp_path):
    (tmp_path / "r").mkdir(mode=0o755)
    write_visit(tmp_path / "r")
    assert stat.S_IMODE((tmp_path / "r").stat().st_mode) == 0o700


def test_an_unwritable_place_is_told_in_one_line(tmp_path):
    # A path below a regular file refuses root as well, which ignores modes.
    (tmp_path / "file").write_text("")
    with pytest.raises(RecordError, match="writable folder"):
        Journal.create(tmp_path / "file" / "r", HEADER)


def test_kernel_pseudo_folders_refuse(tmp_path):
    # /proc takes no new files from anyone: a read-only folder that root cannot write either.
    with pytest.raises(RecordError, match="writable folder"):
        Journal.create(__import__("pathlib").Path("/proc/self"), HEADER)


OPENS = """
import sys
from pathlib import Path
from handsfree.errors import RecordError
from handsfree.record.journal import Journal
try:
    Journal.reopen(Path(sys.argv[1]))
except RecordError as error:
    print(error)
    sys.exit(error.exit_code)
"""


def test_a_second_process_is_refused_and_the_first_goes_on(tmp_path):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        journal.append(started(), [])
        other = subprocess.run(
            [sys.executable, "-c", OPENS, tmp_path / "r"], capture_output=True, text=True, timeout=60
        )
        assert other.returncode == 8
        assert "another process" in other.stdout
        assert verify(tmp_path / "r").state is RecordState.OPEN
        journal.append(affirms(1.0), [CLOSING])
    assert verify(tmp_path / "r").state is RecordState.COMPLETE


def cut(folder, size):
    path = folder / RECORD_FILE
    path.write_bytes(path.read_bytes()[:size])


def resumed(folder):
    """Reopen after a cut, replay by table, finish the visit, return the record."""
    clock = ManualClock(START)
    clock.sleep_until(90)
    table = {event.at_s: facts for event, facts in visit()} | {50.0: [CLOSING]}
    journal, found = restore(folder, lambda event: table[event.at_s], clock=clock)
    with journal:
        last = found.events[-1].at_s if found.events else -1.0
        if last < 50.0:
            journal.append(SessionInterrupted(at_s=last, wall=wall(90), gap_s=found.gap_s), [again("recalled")])
            for event, facts in [*visit(), (affirms(50.0), [CLOSING])]:
                if event.at_s > last:
                    journal.append(event, facts)
    return verify(folder)


def test_a_record_cut_at_any_byte_resumes_to_the_same_facts(tmp_path):
    whole = write_visit(tmp_path / "whole")
    content = (whole / RECORD_FILE).read_bytes()
    expected = [item.fact for item in verify(whole).record.facts]
    header = content.index(b"\n") + 1
    line_ends = [index + 1 for index, byte in enumerate(content) if byte == 10]
    sizes = sorted({*line_ends[:-1], *range(header, len(content) - 1, 211)})
    assert len(sizes) > 40
    for size in sizes:
        folder = tmp_path / f"cut-{size}"
        folder.mkdir()
        (folder / RECORD_FILE).write_bytes(content[:size])
        before = verify(folder)
        assert before.state is RecordState.INTERRUPTED
        assert before.faults
        after = resumed(folder)
        assert after.state is RecordState.COMPLETE, (size, after.faults)
        facts = [item.fact for item in after.record.facts if not isinstance(item.fact, SaidAgain)]
        assert facts == expected
        torn = [path.read_bytes() for path in folder.glob("torn-*.bin")]
        assert torn == ([] if size in line_ends else [content[max(end for end in line_ends if end <= size) : size]])
        assert all(stat.S_IMODE(path.stat().st_mode) == 0o600 for path in folder.glob("torn-*.bin"))


@pytest.mark.parametrize("lines_cut", [1, 2])
def test_a_closing_that_was_cut_before_its_seal_is_sealed_on_resuming(tmp_path, lines_cut):
    folder = write_visit(tmp_path / "r")
    content = (folder / RECORD_FILE).read_bytes()
    cut(folder, len(b"".join(content.splitlines(keepends=True)[:-lines_cut])))
    (folder / "record.end").unlink()
    table = {event.at_s: facts for event, facts in visit()} | {50.0: [CLOSING]}
    with restore(folder, lambda event: table[event.at_s])[0] as journal:
        assert journal.sealed
    assert verify(folder).state is RecordState.COMPLETE
    assert (folder / RECORD_FILE).read_bytes() == content


def test_an_unfinished_batch_without_event_is_set_aside(tmp_path):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        journal.append(started(), [again("a")])
        journal.append(None, [again("b"), again("c")])
    path = tmp_path / "r" / RECORD_FILE
    content = path.read_bytes()
    cut(tmp_path / "r", len(content) - 3)
    journal, found = Journal.reopen(tmp_path / "r")
    with journal:
        assert (found.due, found.last_facts) == (0, (SaidAgain(stage="a"),))
        journal.resume([again("a")])
        journal.append(None, [CLOSING])
    assert [item.kind for item in verify(tmp_path / "r").record.facts] == ["said_again", "visit_closed"]
    kept = path.read_bytes()[: content.index(b'"event":null')].count(b"\n")
    torn = (tmp_path / "r" / "torn-1.bin").read_bytes()
    assert b"".join(line + b"\n" for line in content.splitlines()[:kept]) + torn == content[:-3]


def test_replay_by_another_program_is_refused(tmp_path):
    folder = write_visit(tmp_path / "r", close=False)
    before = (folder / RECORD_FILE).read_bytes()
    journal, _ = Journal.reopen(folder)
    with journal:
        with pytest.raises(RecordError, match="other facts"):
            journal.resume([again("something else")])
        with pytest.raises(RecordError, match="resume"):
            journal.append(None, [])
    table = {event.at_s: facts for event, facts in visit()} | {12.0: [refill("1.6", Side.LEFT, Timing.BASELINE)]}
    with pytest.raises(RecordError, match="the record states reading_confirmed"):
        restore(folder, lambda event: table[event.at_s])
    with pytest.raises(RecordError, match="replay gives nothing"):
        restore(folder, lambda event: [])
    assert (folder / RECORD_FILE).read_bytes() == before


def test_a_broken_record_is_not_resumed(tmp_path):
    folder = write_visit(tmp_path / "r", close=False)
    path = folder / RECORD_FILE
    path.write_bytes(path.read_bytes().replace(b'"1.5"', b'"1.6"'))
    with pytest.raises(RecordError, match="broken: line"):
        Journal.reopen(folder)


def test_no_record_is_told(tmp_path):
    with pytest.raises(RecordError, match="holds no record"):
        Journal.reopen(tmp_path)
    with pytest.raises(RecordError, match="holds no record"):
        verify(tmp_path)
