"""The procedure that uses every new form, typed into a record: whoever reads that is told the same by every reader.

Means and differences by hand. FHIR R4: Observation.derivedFrom, Observation.dataAbsentReason, Procedure.performer. All
figures of the visit are invented.
"""

import csv
import io
import json
import shutil
from decimal import Decimal
from pathlib import Path

import pytest
from typed_visits import command, run

import handsfree
from handsfree.model.readings import Absent, AbsentReason, Exact
from handsfree.record.contents import Record, RecordedReading
from handsfree.record.verify import verify
from handsfree.report.record_page import make_report

BATH = Path(handsfree.__file__).parent / "procedures" / "guide" / "water-bath.yaml"
LINES = [
    *("tango five", "affirmative", "yes bath switched on", "two two point five", "affirmative"),
    *("seven one point five", "affirmative", "reading three seven six point five", "affirmative"),
    *("seven two point five degrees celsius", "affirmative", "that was the last"),
    *("first one two zero second eight five", "affirmative", "affirmative"),
    # Insisted on: nine hundred and fifty newtons cannot be.
    *("nine five", "nine five", "affirmative"),
    *("override", "senior technician", "reviewed by the senior", "affirmative"),
    *("role senior technician code tango five result agreed", "code kilo two", "affirmative"),
]


@pytest.fixture(scope="module")
def visited(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bath") / "bath"
    found = run(folder, LINES, procedure=str(BATH))
    assert "The record is closed, with overrides." in found.output, found.output
    return folder


def record_of(folder: Path) -> Record:
    found = verify(folder)
    assert found.fine, found.faults
    assert found.record is not None
    return found.record


def standing(record: Record) -> dict[str, RecordedReading]:
    return {f"{one.stands.stage}.{one.stands.field}": one for one in record.readings if one.superseded_by is None}


def test_every_value_stands_as_it_was_said_or_computed(visited: Path) -> None:
    found = {name: one.stands.value for name, one in standing(record_of(visited)).items()}
    assert found["bath@2.bath"] == Exact(Decimal("72.5"), 1, "Cel")
    assert found["bath_sums.mean"] == Exact(Decimal("73.5"), 1)
    assert found["over_room.over"] == Exact(Decimal("51.0"), 1)
    assert found["both_strips.whole"] == Exact(Decimal(205), 0)
    assert found["pull.force"] == Absent(AbsentReason.ERROR, Decimal(95))
    assert sorted(name for name in found if name.startswith("bath@")) == [f"bath@{n}.bath" for n in (1, 2, 3)]


def test_the_record_replays_to_the_same_facts(visited: Path) -> None:
    found = command(["verify", visited, "--procedure", str(BATH)], [])
    assert found.exit_code == 0, found.output


def test_the_summary_tells_what_must_be_known(visited: Path) -> None:
    told = " ".join(command(["summary", visited], []).output.split())
    assert "Second person at “Second person: role and code”: senior technician, code K2" in told
    assert "senior technician lifted the hold “force ninety five was said and refused”: reviewed by the senior" in told
    assert "Doubtful: force no value (said and refused: 95)" in told
    whole = command(["summary", visited, "--all"], []).output
    assert "mean of reading one 71.5 Cel, reading two 72.5 Cel, reading three 76.5 Cel" in whole
    assert "no value (said and refused: 95)" in whole
    assert "flagged stop: force ninety five was said and refused (“With what force did the strip come off”)" in whole
    assert "open: timer: re check" in whole


def test_the_page_shows_computed_values_as_such(visited: Path) -> None:
    text, _ = make_report(visited, procedure=BATH)
    assert "mean of reading one 71.5 Cel" in text
    assert "Second person at “Second person: role and code”" in text


def test_exports_tell_the_same(visited: Path) -> None:
    out = command(["export", visited, "--to", "fhir", "--allow-practice"], []).output
    resources = [entry["resource"] for entry in json.loads(out[out.index("{") :])["entry"]]
    observations = [one for one in resources if one["resourceType"] == "Observation"]
    by_text = {one["code"].get("text", ""): one for one in observations}
    assert len(by_text["bath sums: mean of the bath"]["derivedFrom"]) == 3
    assert by_text["over room: over the room"]["valueQuantity"]["code"] == "K"
    assert by_text["pull: force"]["dataAbsentReason"]["coding"][0]["code"] == "error"
    assert "valueQuantity" not in by_text["pull: force"]
    assert {"bath 1: bath", "bath 2: bath", "bath 3: bath"} <= by_text.keys()
    procedure = next(one for one in resources if one["resourceType"] == "Procedure")
    assert {"function": {"text": "second person, senior"}, "actor": {"display": "K2"}} in procedure["performer"]
    rows = list(csv.DictReader(io.StringIO(command(["export", visited, "--to", "csv", "--allow-practice"], []).output)))
    assert [row["step"] for row in rows if row["field"] == "bath"] == ["bath@1", "bath@3", "bath@2"]
    computed = {row["field"]: row for row in rows if row["entry_way"] == "computed"}
    assert set(computed) == {"mean", "time", "over", "whole"}
    assert computed["mean"]["probability"] == ""


def test_what_is_amended_later_is_computed_anew(visited: Path, tmp_path: Path) -> None:
    folder = tmp_path / "amended"
    shutil.copytree(visited, folder)
    entry = standing(record_of(folder))["bath@3.bath"].recorded.seq
    asked = ["amend", folder, "--entry", str(entry), "--value", "96.0", "--by", "senior", "--reason", "misread"]
    assert command(asked, []).exit_code != 0  # cannot be
    asked[5] = "94.5"
    assert command(asked, []).exit_code == 0
    found = standing(record_of(folder))
    # (71.5 + 72.5 + 94.5) / 3 = 79.5, and 79.5 - 22.5 = 57.0, over fifty-five.
    assert found["bath_sums.mean"].stands.value == Exact(Decimal("79.5"), 1)
    assert found["over_room.over"].stands.value == Exact(Decimal("57.0"), 1)
    assert found["over_room.over"].severity == "amber"
    assert found["over_room.over"].recorded.fact.value == Exact(Decimal("51.0"), 1)
    told = " ".join(command(["summary", folder, "--all"], []).output.split())
    assert "was 51.0 K, computed anew from an amended value, would be flagged" in told
    # Whoever reads it is told the values that it comes from now.
    csv_rows = command(["export", folder, "--to", "csv", "--procedure", str(BATH)], []).output
    page, _ = make_report(folder, procedure=BATH)
    for text in (told, csv_rows, page):
        assert "mean of reading one 71.5 Cel, reading two 72.5 Cel, reading three 94.5 Cel" in text
        assert "and time”: mean of the bath 79.5 Cel, room 22.5 Cel" in text
    asked[3], asked[5] = str(found["bath_sums.mean"].recorded.seq), "70.0"
    refused = command(asked, [])
    assert refused.exit_code != 0
    assert "is computed: amend what it is computed from" in refused.output


CAST = BATH.with_name("cast-removal.yaml")
LEFT_OUT = [
    *("practice session", "charlie four", "affirmative", "complete", "affirmative", "affirmative"),
    *("two two point five", "affirmative", "affirmative"),
    # Forty-three degrees: the blade rests. Then it was thirty-three all along, and it need not have.
    *("four three point zero", "affirmative", "affirmative", "four one point zero", "affirmative"),
    *("override", "surgeon", "reviewed by the surgeon", "affirmative"),
    *("go to blade after", "correction", "three three point zero", "affirmative"),
    *("affirmative", "intact"),
]


@pytest.fixture(scope="module")
def left_out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("cast") / "cast"
    found = run(folder, LEFT_OUT, procedure=str(CAST))
    assert "record is closed" in found.output or "complete and closed" in found.output, found.output
    return folder


def test_what_was_answered_and_then_left_out_is_told_and_counts_no_more(left_out: Path) -> None:
    record = record_of(left_out)
    assert "blade_rested.blade" not in standing(record)
    told = " ".join(command(["summary", left_out], []).output.split())
    name = "“How warm is the blade after its rest”"
    assert f"{name} was answered and then left out, because its condition changed" in told
    table = command(["export", left_out, "--to", "csv", "--allow-practice"], []).output
    rows = list(csv.DictReader(io.StringIO(table)))
    assert [row["status"] for row in rows if row["step"] == "blade_rested"] == ["superseded"]
    out = command(["export", left_out, "--to", "fhir", "--allow-practice"], []).output
    resources = [entry["resource"] for entry in json.loads(out[out.index("{") :])["entry"]]
    known = {entry["fullUrl"] for entry in json.loads(out[out.index("{") :])["entry"]}
    targets = [one["target"][0]["reference"] for one in resources if one["resourceType"] == "Provenance"]
    assert set(targets) <= known
    assert command(["verify", left_out, "--procedure", str(CAST)], []).exit_code == 0
