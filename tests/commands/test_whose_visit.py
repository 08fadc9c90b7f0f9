"""Whose visit it is, from the command line to every place that tells it.

That a record names a patient by a code of the site alone, and exit code 2 for what does not fit together: rules of this
project (README.md). Two identifiers: Joint Commission, National Patient Safety Goal NPSG.01.01.01.
"""

import json
from pathlib import Path

import pytest
from typed_visits import Result, command, visit

from handsfree.record.store import Filter, list_records
from handsfree.record.verify import verify
from handsfree.report.record_page import make_report


def run(record: Path, lines: list[str], *options: str | Path) -> Result:
    return command(["run", "neurovascular-check", "--typed", "--record", record, *options], lines)


def live(reference: str = "DEMO0001", **changed: str) -> list[str]:
    return ["live session", reference, "affirmative", *visit(**changed)[1:]]


@pytest.fixture(scope="module")
def spoken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    record = tmp_path_factory.mktemp("visits") / "spoken"
    found = run(record, live())
    assert "complete and closed" in found.output
    return record


def kept(folder: Path) -> str:
    record = verify(folder).record
    assert record is not None
    assert record.header.patient_reference is None
    return record.patient_reference


def test_a_reference_that_was_said_is_told_wherever_one_is(spoken: Path) -> None:
    assert kept(spoken) == "DEMO0001"
    html, _ = make_report(spoken)
    assert "Patient reference" in html
    assert "none given" not in html.partition("Operator")[0]
    assert html.count("DEMO0001") >= 1
    assert "Patient reference: DEMO0001" in command(["export", "--to", "note", spoken], []).output
    bundle = json.loads(command(["export", "--to", "fhir", spoken], []).output)
    patient = next(one["resource"] for one in bundle["entry"] if one["resource"]["resourceType"] == "Patient")
    assert patient["identifier"][0]["value"] == "DEMO0001"
    assert "DEMO0001" in command(["records", spoken.parent], []).output
    found = verify(spoken).record
    assert found is not None
    assert found.started is not None
    assert "DEMO0001" in command(["day", spoken.parent, "--date", found.started.today], []).output
    assert [one.patient for one in list_records(spoken.parent, Filter(patient="demo-0001"))] == ["DEMO0001"]
    assert list_records(spoken.parent, Filter(patient="DEMO0002")) == []


def test_a_reference_that_was_said_can_be_amended_and_not_into_a_name(spoken: Path, tmp_path: Path) -> None:
    folder = tmp_path / "mine"
    run(folder, live())
    record = verify(folder).record
    assert record is not None
    entry = next(one.recorded.seq for one in record.readings if one.stands.step == "patient")
    for wrong in ("ANNA", "12031984", "A1"):
        asked = ["amend", folder, "--entry", str(entry), "--value", wrong, "--by", "nurse", "--reason", "misheard"]
        found = command(asked, [])
        assert (found.exit_code, "reads like a name or a date of birth" in found.output) == (2, True)
    asked = ["amend", folder, "--entry", str(entry), "--value", "DEMO-0007", "--by", "nurse", "--reason", "misheard"]
    assert command(asked, []).exit_code == 0
    assert kept(folder) == "DEMO-0007"


def test_a_visit_that_goes_on_never_changes_whose_it_is(tmp_path: Path) -> None:
    folder = tmp_path / "cut"
    lines = live()
    run(folder, lines[:5])
    refused = run(folder, [], "--resume", "--patient", "DEMO-0002")
    assert refused.exit_code == 2
    assert "is of DEMO0001, not of DEMO-0002, and that never changes; leave out --patient" in refused.output
    again = run(folder, lines[5:], "--resume", "--patient", "DEMO-0001")
    assert "complete and closed" in again.output
    assert "Patient reference delta echo mike, oscar zero zero, zero one." in " ".join(again.output.split())
    assert kept(folder) == "DEMO0001"


def test_a_visit_that_was_cut_before_the_question_asks_it_when_it_goes_on(tmp_path: Path) -> None:
    folder = tmp_path / "cut"
    lines = live()
    run(folder, lines[:1])
    refused = run(folder, [], "--resume", "--patient", "DEMO-0001")
    assert refused.exit_code == 2
    assert "was begun without a patient reference, and asks for it by voice" in refused.output
    assert "complete and closed" in run(folder, lines[1:], "--resume").output
    assert kept(folder) == "DEMO0001"


def test_the_configuration_says_what_a_reference_of_the_site_is(tmp_path: Path) -> None:
    config = tmp_path / "config.toml"
    config.write_text('[records]\npatient_reference = "W-?[0-9]{5}"\n', encoding="utf-8")
    options = ("--config", config)
    found = run(tmp_path / "a", [], "--patient", "DEMO-0001", *options)
    assert (found.exit_code, "a code of this site, W-?[0-9]{5}" in found.output) == (2, True)
    assert not (tmp_path / "a").exists()
    lines = live("W12345")
    said = run(tmp_path / "b", ["live session", "DEMO0001", *lines[1:3]], *options)
    assert "that is no code of this site" in said.output
    # The record keeps the pattern of its beginning, and goes on by it without the configuration.
    again = run(tmp_path / "b", lines[3:], "--resume")
    assert "complete and closed" in again.output
    assert kept(tmp_path / "b") == "W12345"
    config.write_text('[records]\npatient_reference = "W["\n', encoding="utf-8")
    wrong = run(tmp_path / "c", [], *options)
    assert (wrong.exit_code, "records.patient_reference" in wrong.output) == (2, True)
    assert "is no regular expression" in wrong.output


def test_an_earlier_record_of_another_patient_is_refused_unless_it_is_meant(spoken: Path, tmp_path: Path) -> None:
    options = ("--baseline", spoken, "--patient", "DEMO-0002")
    refused = run(tmp_path / "a", [], *options)
    assert (refused.exit_code, "if it is meant all the same, say --baseline-meant" in refused.output) == (2, True)
    lines = ["live session", *visit("rest five stretch four proportion expected")[1:]]
    meant = run(tmp_path / "a", lines, *options, "--baseline-meant")
    assert "The earlier record is of another patient." in meant.output
    assert "Rest rose by two." in meant.output
    summary = command(["summary", "--all", tmp_path / "a"], []).output
    lifted = "lifted by whoever began it: the earlier record was given as meant"
    assert f"{lifted} (the earlier record is of another patient)" in summary
    alone = run(tmp_path / "b", [], "--baseline-meant")
    assert (alone.exit_code, "--baseline-meant needs --baseline RECORD" in alone.output) == (2, True)


def test_an_earlier_record_of_another_patient_holds_until_somebody_says(spoken: Path, tmp_path: Path) -> None:
    worse = visit("rest five stretch four proportion expected")[1:]
    lines = ["live session", "DEMO0002", "affirmative", "leave it out", *worse]
    found = run(tmp_path / "a", lines, "--baseline", spoken)
    said = " ".join(found.output.split())
    assert (
        "Do not go on. The earlier record is of another patient. "
        "Say compare anyway, leave it out, correction, or end the visit." in said
    )
    assert "Rest rose by two." not in said
    assert "complete and closed" in said
    lifted = "lifted by whoever answered: nothing was compared with the earlier record"
    summary = command(["summary", "--all", tmp_path / "a"], []).output
    assert f"{lifted} (the earlier record is of another patient)" in summary
    assert "left out: of another patient or side" in make_report(tmp_path / "a")[0]
    note = command(["export", "--to", "note", tmp_path / "a"], []).output
    assert "Not compared, as it is of another, with record" in note
    lines[3] = "compare anyway"
    assert "Rest rose by two." in " ".join(run(tmp_path / "b", lines, "--baseline", spoken).output.split())
    assert "Compared with record" in command(["export", "--to", "note", tmp_path / "b"], []).output
