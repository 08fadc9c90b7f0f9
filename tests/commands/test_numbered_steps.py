"""One of a repeated step is named by its number wherever a record is read.

Common practice, no source: of two wheel bolts that are over a limit, whoever reads must know which was let pass.
"""

import csv
import io
import json
from pathlib import Path

import pytest
from own_procedures import number
from own_visits import own_visit
from test_session_repeats import bolts
from typed_visits import command

from handsfree.record.verify import verify
from handsfree.report.record_page import make_report

LINES = [
    *("alfa four", "affirmative", "one one zero", "affirmative"),
    *("one four zero", "affirmative", "override", "fitter", "put right", "affirmative"),
    *("one four one", "affirmative", "correction", "one one two", "affirmative"),
    *("one two five", "affirmative", "that was the last", "two zero", "affirmative"),
]
OVER_STOP, OVER_AMBER = "torque is over one hundred thirty", "torque is over one hundred twenty"
SECOND = "wheel bolt two, torque is over one hundred thirty"
THIRD = "wheel bolt three, torque is over one hundred thirty"
FOURTH = "wheel bolt four, torque is over one hundred twenty"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    steps = bolts(more=", flag_above: {amber: 120, stop: 130}"), number("room")
    return own_visit(tmp_path_factory.mktemp("bolts"), LINES, *steps, ends="closed, with overrides")


def test_each_hold_goes_with_what_lifted_it(made: tuple[Path, Path]) -> None:
    record, file = made
    told = " ".join(command(["summary", record], []).output.split())
    assert f"fitter lifted the hold “{SECOND}”: put right" in told
    assert f"Held at wheel bolt three: {OVER_STOP}; lifted" in told
    assert command(["verify", record, "--procedure", str(file)], []).exit_code == 0


def test_summary_and_page_name_each(made: tuple[Path, Path]) -> None:
    record, file = made
    whole = command(["summary", record, "--all"], []).output
    assert f"flagged stop: {OVER_STOP} (wheel bolt two)" in whole
    # Once each: beside its step a flag does not say which one it is of.
    assert f"flagged amber: {OVER_AMBER} (wheel bolt four)" in whole
    assert whole.count(OVER_AMBER) == 1
    assert "bolt@" not in whole[: whole.index("READINGS")]
    page, _ = make_report(record, procedure=file)
    for words in (SECOND, THIRD, FOURTH):
        assert words in page


def test_the_note_names_each(made: tuple[Path, Path]) -> None:
    note = command(["export", made[0], "--to", "note", "--allow-practice"], []).output
    assert f"STOP bolt 2, torque 140 cm: {SECOND}" in note
    assert f"CAUTION bolt 4, torque 125 cm: {FOURTH}" in note
    assert "- bolt 1: torque 110 cm  (entry" in note


def test_table_and_bundle_name_each(made: tuple[Path, Path]) -> None:
    text = command(["export", made[0], "--to", "csv", "--allow-practice"], []).output
    rows = {row["step"]: row for row in csv.DictReader(io.StringIO(text)) if row["status"] == "current"}
    assert rows["bolt@2"]["class_reason"] == SECOND
    assert rows["bolt@4"]["class_reason"] == FOURTH
    out = command(["export", made[0], "--to", "fhir", "--allow-practice"], []).output
    resources = [entry["resource"] for entry in json.loads(out[out.index("{") :])["entry"]]
    why = {one["code"]["text"]: one.get("interpretation") for one in resources if one["resourceType"] == "Observation"}
    assert SECOND in json.dumps(why["bolt 2: torque"])
    assert FOURTH in json.dumps(why["bolt 4: torque"])


def test_one_that_is_amended_later_is_named_too(made: tuple[Path, Path]) -> None:
    record, file = made
    found = verify(record).record
    assert found is not None
    entry = next(one.recorded.seq for one in found.readings if one.stands.stage == "bolt@1")
    asked = ["amend", record, "--entry", str(entry), "--value", "150", "--by", "senior", "--reason", "misread"]
    said = command([*asked, "--procedure", str(file)], []).output
    assert "would be a stop: wheel bolt one, torque is over one hundred thirty" in said
