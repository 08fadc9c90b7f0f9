"""A newer form, an unknown fact, a member too many: one line that names the line, exit 8, nothing written."""

import dataclasses
import shutil

import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given, settings
from hypothesis import strategies as st
from record_golden import copy_of, made_over, raw_lines
from record_samples import write_visit

from handsfree.commands.record import verify as verify_command
from handsfree.errors import HandsfreeError, RecordError
from handsfree.model.facts import PracticePlanned
from handsfree.model.readings import Side
from handsfree.record.amendments import amend, attest, delete_clips
from handsfree.record.codec import encode_fact
from handsfree.record.contents import Amended
from handsfree.record.forms.form_reader import NewerFormError
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


DERIVED = (
    *("readings", "notes", "zones", "operator", "due", "practice", "light_cut", "lateness", "side", "size", "closing"),
    *("open_items", "attestation", "started"),
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(max_size=6),
    lambda items: st.lists(items, max_size=2) | st.dictionaries(st.text(max_size=6), items, max_size=2),
    max_leaves=4,
)


@pytest.fixture(scope="module")
def records(tmp_path_factory):
    """A closed record of each form, and one that was cut off."""
    root = tmp_path_factory.mktemp("records")
    closed = copy_of("amended-and-attested", root)
    return closed, write_visit(root / "written"), write_visit(root / "cut", close=False), root / "changed"


@settings(max_examples=50, deadline=None, derandomize=True)
@given(data=st.data())
def test_whatever_a_line_states_nothing_crashes(records, data):
    *given_records, folder = records
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(data.draw(st.sampled_from(given_records)), folder)

    def change(lines):
        index = data.draw(st.integers(0, len(lines) - 1))
        line = lines[index]
        member = data.draw(st.sampled_from([*sorted(line.data), "mood"]))
        if line.kind == "event" and member in ("facts", "facts_sha256"):
            member = "event"
        value = data.draw(JSON | st.sampled_from([value for other in lines for value in other.data.values()]))
        at = data.draw(st.sampled_from([line.at, line.at, line.at, "", "yesterday", "2026-11-25"]))
        lines[index] = dataclasses.replace(line, data=dict(line.data) | {member: value}, at=at)

    made_over(folder, change)
    told, record = [], None
    try:
        found = verify(folder)
        told, record = [str(fault) for fault in found.faults], found.record
    except RecordError as error:
        told.append(str(error))
    assert all("\n" not in line for line in told)
    for derived in DERIVED if record is not None else ():
        getattr(record, derived)
    for attempt in (Journal.reopen, Journal.reopen_closed):
        try:
            opened = attempt(folder)
        except RecordError:
            continue
        (opened[0] if isinstance(opened, tuple) else opened).close()


def test_a_plan_that_is_too_deep_is_refused():
    plan = {}
    for _ in range(700):
        plan = {"a": plan}
    with pytest.raises(RecordError):
        encode_fact(PracticePlanned(plan=plan))


def test_a_stamp_must_be_one(tmp_path):
    folder = write_visit(tmp_path / "r", close=False)

    def change(lines):
        lines[-1] = dataclasses.replace(lines[-1], at="yesterday")
        lines[-2] = dataclasses.replace(lines[-2], at="yesterday")

    made_over(folder, change)
    assert "'yesterday' is no time" in {fault.what for fault in verify(folder).faults}
