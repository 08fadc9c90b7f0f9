"""A value that is corrected later is judged by the limits of its procedure, and marked so wherever it is told.

Source of the rules in the visits: BOAST, Diagnosis and Management of Compartment Syndrome of the Limbs, 2014 (pain and
sensation); capillary refill over two seconds: Annals of Emergency Medicine 1988;17:932. The scores and steps that count
are common practice, no source. A flag is never lost by a correction: law of this project (DEVELOPERS.md).
"""

import csv
import io
import json
import shutil
from decimal import Decimal
from pathlib import Path

import pytest
from typed_visits import BLOOD, command, run, visit

from handsfree.application.amended_values import amendment_rules
from handsfree.model.readings import Exact
from handsfree.model.reasons import OverLimit, RoseBy, Severity, SidesDiffer
from handsfree.record.amendments import amend
from handsfree.record.contents import Amended, Record, RecordedReading
from handsfree.record.verify import RecordState, verify
from handsfree.report.record_page import make_report


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("calm") / "calm", visit())


def made(record: Path, lines: list[str], *options: str | Path) -> Path:
    found = run(record, lines, *options)
    assert "complete and closed" in found.output, found.output
    return record


def record_of(folder: Path) -> Record:
    found = verify(folder)
    assert found.state is RecordState.COMPLETE
    assert found.record is not None
    return found.record


def reading(folder: Path, name: str) -> RecordedReading:
    """The reading that stands: "pain.rest@left"."""
    for one in record_of(folder).readings:
        stands = one.stands
        if one.superseded_by is None and name == f"{stands.step}.{stands.field}@{stands.side}":
            return one
    raise AssertionError(name)


def correct(folder: Path, name: str, value: str) -> str:
    entry = reading(folder, name).recorded.seq
    asked = ["amend", folder, "--entry", str(entry), "--value", value, "--by", "surgeon", "--reason", "misread"]
    found = command(asked, [])
    assert found.exit_code == 0, found.output
    return found.output


@pytest.fixture
def copy(calm: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "visits" / "one"
    shutil.copytree(calm, folder)
    return folder


def exported(folder: Path, form: str) -> str:
    return command(["export", "--to", form, "--allow-practice", folder], []).output


def test_an_amended_value_that_would_be_red_says_so_everywhere(copy: Path) -> None:
    said = correct(copy, "pain.rest@left", "8")
    told = "amended, would be red: rest is over six"
    assert told in said
    one = reading(copy, "pain.rest@left")
    assert one.anew is not None
    assert (one.anew.severity, one.severity, one.stands.severity) == (Severity.RED, Severity.RED, Severity.NONE)
    assert one.anew.grounds is not None
    assert one.anew.grounds.ground == OverLimit("rest", Decimal(6))

    summary = command(["summary", "--all", copy], []).output
    assert f"rest {told} (scores, left)" in summary.partition("READINGS")[0]
    note = exported(copy, "note")
    flagged = note.partition("Flagged readings")[2].partition("\n\n")[0]
    assert f"pain, left, rest 8 ({told})" in flagged
    html, _ = make_report(copy)
    first, _, rest = html.partition("<details>")
    assert first.count(told) == 2  # as a red finding and as a change
    assert rest.count(told) == 2  # in all that asks for a look, and beside the reading
    observation = interpretation(exported(copy, "fhir"), "pain.rest")
    assert observation == [
        {
            "coding": [{"system": observation[0]["coding"][0]["system"], "code": "red"}],
            "text": told,
        }
    ]
    assert observation[0]["coding"][0]["system"].endswith("class-once-amended")
    row = next(row for row in csv.DictReader(io.StringIO(exported(copy, "csv"))) if row["status"] == "amended")
    assert (row["class"], row["amended_class"], row["amended_class_reason"]) == ("", "red", told)
    started = record_of(copy).started
    assert started is not None
    day = command(["day", copy.parent, "--date", started.today], []).output
    assert f"neurovascular-check: rest {told} (entry {one.recorded.seq}) (one)" in day


def interpretation(bundle: str, code: str) -> list[dict[str, list[dict[str, str]]]]:
    for entry in json.loads(bundle, parse_float=Decimal)["entry"]:
        resource = entry["resource"]
        codes = [one["code"] for one in resource.get("code", {}).get("coding", [])]
        if code in codes and resource.get("status") == "amended":
            found = resource["interpretation"]
            assert isinstance(found, list)
            return found
    raise AssertionError(code)


def test_a_flag_stays_when_the_value_is_corrected_to_one_that_is_not_flagged(tmp_path: Path) -> None:
    slow = "pulse present refill three point zero color usual temperature warm"
    again = "refill three point zero"
    record = tmp_path / "slow"
    lines = visit(blood=(slow, "affirmative", again, "affirmative", "override", "surgeon", "settled after inspection"))
    run(record, lines)
    if verify(record).state is not RecordState.COMPLETE:
        pytest.fail(command(["summary", "--all", record], []).output)
    correct(record, "circulation.refill@left", "1.5")
    one = reading(record, "circulation.refill@left")
    assert one.anew is not None
    assert one.anew.severity is Severity.NONE
    assert one.severity is one.stands.severity is Severity.RED
    told = "amended, would not be flagged"
    assert told in command(["summary", "--all", record], []).output
    assert f"RED FLAG circulation, left, refill 1.5 s: refill is over two, repeated ({told})" in exported(
        record, "note"
    )
    kinds = interpretation(exported(record, "fhir"), "circulation.refill")
    assert [one["coding"][0]["code"] for one in kinds] == ["red", "none"]


def test_what_is_held_against_a_corrected_value_is_judged_with_it(copy: Path) -> None:
    correct(copy, "circulation.refill@left", "0.3")
    other = reading(copy, "circulation.refill@right")
    assert other.amendments == ()
    assert other.anew is not None
    assert other.anew.severity is Severity.AMBER
    assert other.anew.grounds is not None
    assert other.anew.grounds.ground == SidesDiffer("refill", Decimal("1.1"))
    told = "held against an amended value, would be flagged: refill differs by one point one between the sides"
    assert told in command(["summary", "--all", copy], []).output
    correct(copy, "circulation.refill@left", "1.4")
    back = reading(copy, "circulation.refill@right")
    assert back.anew is not None
    assert back.anew.severity is Severity.NONE
    assert "held against an amended value" not in command(["summary", "--all", copy], []).output


def test_a_corrected_value_is_held_against_the_earlier_record(calm: Path, tmp_path: Path) -> None:
    later = made(tmp_path / "later", visit(), "--baseline", calm)
    correct(later, "pain.rest@left", "5")
    one = reading(later, "pain.rest@left")
    assert one.anew is not None
    assert one.anew.grounds is not None
    assert one.anew.grounds.ground == RoseBy("rest", Decimal(2))
    alone = made(tmp_path / "alone", visit())
    correct(alone, "pain.rest@left", "5")
    plain = reading(alone, "pain.rest@left")
    assert plain.anew is not None
    assert plain.anew.severity is Severity.NONE


def test_without_the_very_procedure_a_corrected_value_is_said_not_to_be_judged(copy: Path) -> None:
    entry = reading(copy, "pain.rest@left").recorded.seq
    amend(copy, entry, Amended(value=Exact(Decimal(8))), by="surgeon", reason="misread")
    assert reading(copy, "pain.rest@left").anew is None
    told = "amended, not judged: its procedure was not at hand"
    for output in (command(["summary", "--all", copy], []).output, exported(copy, "note")):
        assert told in output
    (flag,) = interpretation(exported(copy, "fhir"), "pain.rest")
    assert (flag["coding"][0]["code"], flag["text"]) == ("not-judged", told)
    correct(copy, "pain.rest@left", "9")
    assert told not in command(["summary", "--all", copy], []).output


def test_what_cannot_be_is_refused_and_not_marked(copy: Path) -> None:
    entry = reading(copy, "pain.rest@left").recorded.seq
    asked = ["amend", copy, "--entry", str(entry), "--value", "11", "--by", "surgeon", "--reason", "misread"]
    found = command(asked, [])
    assert found.exit_code == 2
    assert record_of(copy).amendments == ()


def test_every_reading_is_judged_as_the_visit_judged_it(calm: Path, tmp_path: Path) -> None:
    worse = tmp_path / "worse"
    run(worse, visit("rest four stretch four proportion expected", blood=(BLOOD,)), "--baseline", calm)
    for folder in (calm, worse):
        rules = amendment_rules(folder)
        assert rules.judge is not None
        record = verify(folder).record
        assert record is not None
        for one in record.readings:
            if one.superseded_by is None:
                (same,) = rules.judge(record, one.recorded.seq, Amended(value=one.stands.value)).readings
                assert (same.severity, same.grounds) == (one.stands.severity, one.stands.grounds)


def test_the_day_of_the_visit_decides_whether_a_date_can_be(tmp_path: Path) -> None:
    record = tmp_path / "bench"
    lines = ["practice session", "alfa one", "affirmative", "december 2099"]
    found = run(record, lines, procedure="thermometer-calibration")
    assert "Due cannot lie after" in " ".join(found.output.split())
