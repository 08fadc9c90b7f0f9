"""What is told of a value that was flagged and taken again, of classes that changed later, and of late checks.

Slow refill, "warm the hand, repeat refill", red if slow again: common practice, no source. 2 s: Annals of Emergency
Medicine 1988;17:932.
"""

import json
from pathlib import Path

import pytest
from typed_visits import BLOOD, command, run, visit

from handsfree.record.verify import verify

SLOW = BLOOD.replace("one point four", "three")


@pytest.fixture(scope="module")
def repeated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    record = tmp_path_factory.mktemp("repeated") / "r"
    found = run(record, visit(blood=(SLOW, "refill two")))
    assert "Warm the hand, repeat refill." in " ".join(found.output.split())
    assert "complete and closed" in found.output
    return record


def test_the_first_value_is_told_in_summary_note_and_page(repeated: Path, tmp_path: Path) -> None:
    summary = command(["summary", "--all", repeated], []).output
    assert "taken again: refill first 3 s, refill is over two; then 2 s (circulation, left)" in summary
    assert "circulation@left.refill: 2 s [after] (first 3 s, taken again)" in summary
    note = command(["export", "--to", "note", repeated], []).output
    assert "circulation, left, refill 2 s (first 3 s, flagged; taken again)" in note
    assert "refill 2 s (first 3 s, taken again)" in note
    command(["report", repeated, "--output", tmp_path / "page.html"], [])
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "Taken again" in page
    assert "Corrected during the visit" not in page
    assert "replaced by voice" not in page


def test_the_second_value_is_final_and_its_provenance_says_why(repeated: Path) -> None:
    # Observation.status "corrected" is for a result that was wrong: HL7 FHIR R4, observation-status.
    bundle = json.loads(command(["export", "--to", "fhir", "--allow-practice", repeated], []).output)
    kinds = [entry["resource"] for entry in bundle["entry"]]
    refills = [one for one in kinds if one["resourceType"] == "Observation" and "refill" in one["code"]["text"]]
    assert {one["status"] for one in refills} == {"final"}
    told = json.dumps([one for one in kinds if one["resourceType"] == "Provenance"])
    assert "flagged, and taken again as the procedure asks" in told
    assert "corrected in the session" not in told


def test_a_visit_without_light_tells_of_none(repeated: Path) -> None:
    assert "LIGHT" not in command(["summary", "--all", repeated], []).output
    assert "asked for in" not in command(["export", "--to", "note", repeated], []).output


def test_a_class_that_changed_later_is_told_everywhere(tmp_path: Path) -> None:
    # The left hand is corrected after the right: the sides now differ by more than a second.
    blood = (BLOOD, "affirmative", BLOOD, "affirmative", "previous step", "correction")
    lines = visit()
    first = lines.index(BLOOD)
    slower = BLOOD.replace("one point four", "zero point four")
    lines[first : first + 4] = [*blood[:5], "previous step", "correction", slower, "affirmative"]
    record = tmp_path / "r"
    assert "complete and closed" in run(record, lines).output
    differs = "refill differs by one between the sides"
    assert f"flagged amber: {differs}" in command(["summary", "--all", record], []).output
    assert differs in command(["export", "--to", "note", record], []).output
    assert differs in command(["export", "--to", "csv", record], []).output


def test_an_amended_value_is_told_first_and_moves_what_is_due(tmp_path: Path) -> None:
    record = tmp_path / "r"
    run(record, visit())
    found = verify(record).record
    assert found is not None
    before = found.due
    entries = {one.stands.field: one.recorded.seq for one in found.readings}
    by = ["--by", "nurse", "--reason", "misheard"]
    command(["amend", record, "--entry", str(entries["interval"]), "--value", "30", *by], [])
    command(["amend", record, "--entry", str(entries["refill"]), "--value", "9", *by], [])
    after = verify(record).record
    assert after is not None
    assert (int(before[14:16]) - int(after.due[14:16])) % 60 == 30
    summary = command(["summary", "--all", record], []).output
    assert "amended by nurse: value 1.4 s → value 9 s" in summary
    assert "refill amended, would be flagged: refill is over two" in summary


def test_a_late_check_is_told_after_the_visit_too(tmp_path: Path) -> None:
    run(tmp_path / "first", visit())
    run(tmp_path / "next", visit(), "--baseline", tmp_path / "first")
    assert "not late" in command(["summary", "--all", tmp_path / "next"], []).output
    assert "not late" in command(["export", "--to", "note", tmp_path / "next"], []).output
