"""A newer form, an unknown fact, a member too many: one line that names the line, exit 8, nothing written."""

import dataclasses

import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from record_golden import made_over, raw_lines
from record_samples import write_visit

from handsfree.commands.record import verify as verify_command
from handsfree.errors import HandsfreeError, RecordError
from handsfree.model.readings import Side
from handsfree.record.amendments import amend, attest, delete_clips
from handsfree.record.contents import Amended
from handsfree.record.forms import NewerFormError
from handsfree.record.journal import Journal
from handsfree.record.record_line import RecordLine
from handsfree.record.restore import restore
from handsfree.record.store import list_records
from handsfree.record.verify import RecordState, verify

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


def newer(lines):
    lines[0] = dataclasses.replace(lines[0], data=lines[0].data | {"form": 99})


def raised_to_99(lines):
    data = {"form": 99, "program": "9.0.0", "build": "x"}
    lines.append(RecordLine(0, "", lines[-1].at, "form_raised", data))
    lines.append(RecordLine(0, "", lines[-1].at, "opinion", {}))


@pytest.mark.parametrize(("change", "line"), [(newer, 1), (raised_to_99, 22)])
def test_a_newer_form_is_told_in_one_line_and_nothing_is_written(tmp_path, change, line):
    folder = write_visit(tmp_path / "store" / "r")
    made_over(folder, change)
    before = {path: path.read_bytes() for path in folder.rglob("*")}
    words = f"line {line}: is of form 99, and this program reads forms up to 2"
    entry = 4
    for attempt in (
        lambda: verify(folder),
        lambda: amend(folder, entry, Amended(side=Side.LEFT), by="surgeon", reason="x"),
        lambda: attest(folder, KEY, by="surgeon"),
        lambda: delete_clips(folder, reason="x"),
        lambda: Journal.reopen(folder),
        lambda: Journal.reopen_closed(folder),
        lambda: restore(folder, lambda _: []),
    ):
        with pytest.raises(NewerFormError, match=words) as told:
            attempt()
        assert told.value.exit_code == 8
        assert "\n" not in str(told.value)
    assert {path: path.read_bytes() for path in folder.rglob("*")} == before
    assert [item.state for item in list_records(tmp_path / "store")] == ["newer"]
    done = CliRunner().invoke(verify_command, [str(folder)])
    assert isinstance(done.exception, HandsfreeError)
    assert done.output == ""


def without_form(lines):
    lines[0] = dataclasses.replace(
        lines[0], data={name: value for name, value in lines[0].data.items() if name != "form"}
    )


def of_form_0(lines):
    lines[0] = dataclasses.replace(lines[0], data=lines[0].data | {"form": 0})


def of_form_1(lines):
    lines[0] = dataclasses.replace(lines[0], data=lines[0].data | {"form": 1})


def raised_to_2(lines):
    lines.append(RecordLine(0, "", lines[-1].at, "form_raised", {"form": 2, "program": "", "build": ""}))


def member_too_many(lines):
    lines[4] = dataclasses.replace(lines[4], data=lines[4].data | {"mood": "good"})


def member_missing(lines):
    lines[4] = dataclasses.replace(lines[4], data={k: v for k, v in lines[4].data.items() if k != "asked"})


def wrong_type(lines):
    lines[4] = dataclasses.replace(lines[4], data=lines[4].data | {"asked": "no"})


def foreign_event(lines):
    lines[3] = dataclasses.replace(lines[3], data=lines[3].data | {"event": lines[3].data["event"] | {"mood": 1}})


def header_member(lines):
    lines[0] = dataclasses.replace(lines[0], data=lines[0].data | {"mood": "good"})


@pytest.mark.parametrize(
    ("change", "line", "words"),
    [
        (without_form, 1, "does not name the form"),
        (of_form_0, 1, "names the form 0, which there never was"),
        (of_form_1, 1, "members too many"),
        (raised_to_2, 22, "raises form 2 to form 2"),
        (member_too_many, 5, "reading_confirmed.mood: is a member too many"),
        (member_missing, 5, "reading_confirmed.asked: is missing"),
        (wrong_type, 5, "reading_confirmed.asked: Input should be a valid boolean"),
        (foreign_event, 4, "mood: is a member too many"),
        (header_member, 1, "mood: is a member too many"),
    ],
)
def test_what_no_form_has_is_told_with_its_line_and_nothing_is_written(tmp_path, change, line, words):
    folder = write_visit(tmp_path / "r")
    made_over(folder, change)
    before = {path: path.read_bytes() for path in folder.rglob("*")}
    found = verify(folder)
    assert found.state is RecordState.BROKEN
    assert found.faults[0].line == line
    with pytest.raises(RecordError, match=f"line {line}: .*{words}") as told:
        amend(folder, 4, Amended(side=Side.LEFT), by="surgeon", reason="x")
    assert told.value.exit_code == 8
    assert "\n" not in str(told.value)
    with pytest.raises(RecordError, match=f"line {line}: .*{words}"):
        Journal.reopen_closed(folder)
    assert {path: path.read_bytes() for path in folder.rglob("*")} == before


def test_an_unknown_fact_is_told_with_its_line(tmp_path):
    folder = write_visit(tmp_path / "r")
    seq = next(line["seq"] for line in raw_lines(folder) if line["kind"] == "step_entered")

    def change(lines):
        lines[seq] = dataclasses.replace(lines[seq], kind="opinion_formed")

    made_over(folder, change)
    assert [str(fault) for fault in verify(folder).faults] == [
        f"line {seq + 1}: the kind 'opinion_formed' is unknown here"
    ]
