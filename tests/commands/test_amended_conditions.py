"""A later correction that turns a condition, or feeds a computed value, says so wherever the record is read.

Common practice, no source: a reader must not take for complete what by the corrected value is not. Means and
differences by hand.
"""

import csv
import io
import json
import shutil
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from own_procedures import number, write
from test_session_computed import computed
from typed_visits import command, run

from handsfree.model.readings import Exact
from handsfree.record.amendments import amend
from handsfree.record.contents import Amended, Record
from handsfree.record.verify import verify
from handsfree.report.day import day_of
from handsfree.report.record_page import make_report

RESTED = number("rested", keys="timing: during\nwhen: {step: blade.blade, above: 40, unit: Cel}")
WARMED = number("cooled", keys="timing: during\nwhen: {step: rise.rise, above: 10, unit: K}")
RISE = computed("{difference: [blade.blade, room.room]}")
HALF = computed("{mean: [rise.rise, rise.rise]}", name="half").replace("rise.rise, rise.rise", "rise.rise")
STEPS = (number("blade"), RESTED, number("room"), RISE, HALF, WARMED)
WANTED = "since an amendment, “Measure the rested” should have been done"
NOT_COUNTED = "since an amendment, its step should not count"


def made(place, *said):
    place.mkdir(exist_ok=True)
    file = write(place, *STEPS)
    lines = ["alfa four", *(" ".join(value) for value in said)]
    done = run(place / "record", [one for line in lines for one in (line, "affirmative")], procedure=str(file))
    assert "complete and closed" in done.output, done.output
    return place / "record", file


@pytest.fixture(scope="module")
def cool_visit(tmp_path_factory):
    return made(tmp_path_factory.mktemp("cool"), "25", "20")


@pytest.fixture(scope="module")
def hot_visit(tmp_path_factory):
    return made(tmp_path_factory.mktemp("hot"), "43", "41", "35")


@pytest.fixture
def cool(cool_visit, tmp_path):
    return Path(shutil.copytree(cool_visit[0], tmp_path / "store" / "cool")), cool_visit[1]


@pytest.fixture
def hot(hot_visit, tmp_path):
    return Path(shutil.copytree(hot_visit[0], tmp_path / "store" / "hot")), hot_visit[1]


def record_of(folder) -> Record:
    found = verify(folder)
    assert found.fine, found.faults
    return found.record


def entry(folder, step):
    return next(
        one.recorded.seq for one in record_of(folder).readings if one.stands.step == step and one.superseded_by is None
    )


def correct(folder, step, value):
    asked = ["amend", folder, "--entry", str(entry(folder, step)), "--value", value, "--by", "senior"]
    found = command([*asked, "--reason", "misread"], [])
    assert found.exit_code == 0, found.output
    return found.output


def everywhere(folder):
    """What each reader says: summary, all of it, page, note, bundle, table, day."""
    today = date.fromisoformat(record_of(folder).started.today)
    (visit,) = day_of(folder.parent, today).visits
    told = {
        "screen": " ".join(command(["summary", folder], []).output.split()),
        "summary": command(["summary", folder, "--all"], []).output,
        "page": make_report(folder)[0],
        "day": " ".join((*visit.told, *visit.amended)),
    }
    for form in ("note", "fhir", "csv"):
        told[form] = command(["export", folder, "--to", form, "--allow-practice"], []).output
    return told


def test_a_step_that_should_have_been_done_is_named_by_every_reader(cool):
    folder, file = cool
    assert WANTED in correct(folder, "blade", "44")
    for reader, text in everywhere(folder).items():
        assert WANTED in text.replace("Since", "since"), reader
    assert command(["verify", folder, "--procedure", str(file)], []).exit_code == 0
    correct(folder, "blade", "26")
    for reader, text in everywhere(folder).items():
        assert "since an amendment" not in text.replace("Since", "since"), reader


def test_what_should_not_count_is_marked_by_every_reader(hot):
    folder, _ = hot
    correct(folder, "blade", "39")
    told = everywhere(folder)
    for reader in ("summary", "page", "note", "fhir", "csv", "day"):
        assert NOT_COUNTED in told[reader], reader
    for reader in ("screen", "page", "note"):
        assert "Since an amendment, “Measure the rested” should not count" in told[reader], reader
    rows = {row["step"]: row for row in csv.DictReader(io.StringIO(told["csv"]))}
    assert rows["rested"]["amended_class_reason"] == NOT_COUNTED
    resources = [one["resource"] for one in json.loads(told["fhir"][told["fhir"].index("{") :])["entry"]]
    (rested,) = (
        one for one in resources if one["resourceType"] == "Observation" and one["code"]["text"] == "rested: rested"
    )
    assert rested["interpretation"][0]["coding"][0]["code"] == "condition-turned"


def test_a_correction_that_turns_nothing_says_nothing_of_it(hot):
    correct(hot[0], "blade", "44")
    assert record_of(hot[0]).turned == ()


def test_a_computed_value_that_an_amendment_changes_turns_conditions_too_and_both_values_are_shown(cool):
    folder, _ = cool
    said = correct(folder, "room", "10")
    assert "since an amendment, “Measure the cooled” should have been done" in said
    for reader, text in everywhere(folder).items():
        assert "“Measure the cooled” should have been done" in text, reader
    told = everywhere(folder)
    for reader in ("summary", "page", "note", "csv", "fhir"):
        assert "was 5.0 K, computed anew from an amended value" in told[reader], reader
    found = {one.stands.step: one.stands.value for one in record_of(folder).readings if one.superseded_by is None}
    assert found["rise"] == Exact(Decimal("15.0"), 1)
    assert found["half"] == Exact(Decimal("15.0"), 1)


def test_where_nothing_could_be_computed_anew_that_is_said(cool):
    folder, _ = cool
    amend(folder, entry(folder, "room"), Amended(value=Exact(Decimal(10))), by="senior", reason="misread")
    told = everywhere(folder)
    for reader in ("summary", "page", "note", "csv", "fhir"):
        assert "computed from a value that was amended, not computed anew" in told[reader], reader
    correct(folder, "room", "11")
    assert "not computed anew" not in everywhere(folder)["summary"]


def test_what_is_computed_from_a_younger_line_is_computed_anew_too(tmp_path):
    # Corrected in the visit, so that the difference stands in a younger line than the mean of it, which stayed.
    place = tmp_path / "visit"
    place.mkdir()
    whole = HALF.replace("decimals: 1", "decimals: 0")
    file = write(place, number("blade"), number("room"), RISE, whole, number("skin"))
    lines = ["alfa four", "affirmative", "25", "affirmative", "20", "affirmative"]
    lines += ["previous step", "previous step", "correction", "20.1", "affirmative", "30", "affirmative"]
    done = run(place / "record", lines, procedure=str(file))
    assert "complete and closed" in done.output, done.output
    assert entry(place / "record", "half") < entry(place / "record", "rise")
    correct(place / "record", "room", "15")
    found = {
        one.stands.step: one.stands.value for one in record_of(place / "record").readings if one.superseded_by is None
    }
    assert (found["rise"].value, found["half"].value) == (10, 10)
