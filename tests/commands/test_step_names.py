"""What is left open is named in the words of the procedure that the record carries, aloud and wherever it is read.

Common practice, no source: who reads "expose open" does not know what was left undone; the words are those that were
said in the room.
"""

import json
from pathlib import Path

import pytest
from own_procedures import begin, number, step
from own_visits import own_visit
from test_session_repeats import bolts
from typed_visits import command

from handsfree.definition.loader import load_bundle
from handsfree.report.record_page import make_report

LID = step("""
id: close_lid_x
kind: confirm
phase: during
prompt: Is the lid closed? Look twice.
hard: true
source: common
timing: during
""")
GAUGE = number("gauge_y", keys="timing: during\ntopic: pressure").replace("label: gauge_y", "label: reading")
MEASURED = number("blade_z").replace("label: blade_z", "label: blade")
END = ("end the visit", "fitter", "put right", "affirmative")
LINES = ["alfa four", "affirmative", "not done", "affirmative", "one one zero", "affirmative", *END]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    place = tmp_path_factory.mktemp("names")
    return own_visit(place, LINES, MEASURED, bolts(), GAUGE, LID, ends="The visit was ended early")


def test_every_reader_names_it_so(made: tuple[Path, Path]) -> None:
    record, _ = made
    told = " ".join(command(["summary", record], []).output.split())
    assert "No value: blade" in told
    assert "Not done: wheel bolt two, pressure, “Is the lid closed”" in told
    whole = command(["summary", record, "--all"], []).output
    assert "open: no value: blade\n" in whole
    assert "open: not done: wheel bolt two\n" in whole
    page, _ = make_report(record)
    note = command(["export", record, "--to", "note", "--allow-practice"], []).output
    fhir = command(["export", record, "--to", "fhir", "--allow-practice"], []).output
    day = command(["day", record.parent], []).output
    for text in (whole, page, note, fhir):
        assert "Is the lid closed" in text
        assert "pressure" in text
        for name in ("close lid x", "close_lid_x.", "gauge y", "blade_z.blade_z\n"):
            assert f"not done: {name}" not in text
            assert f"no value: {name}" not in text
    assert "gauge y" not in day


def test_it_travels_with_the_record(made: tuple[Path, Path], tmp_path: Path) -> None:
    record, file = made
    file.rename(tmp_path / "gone.yaml")
    try:
        assert "“Is the lid closed”" in command(["summary", record], []).output
    finally:
        (tmp_path / "gone.yaml").rename(file)


def test_without_the_procedure_the_identifiers_are_shown_as_words(made: tuple[Path, Path], tmp_path: Path) -> None:
    import shutil

    copy = Path(shutil.copytree(made[0], tmp_path / "copy"))
    (copy / "procedure.json").unlink()
    told = " ".join(command(["summary", copy], []).output.split())
    assert "Not done: bolt 2, gauge y, close lid x" in told


def test_aloud_too(tmp_path: Path) -> None:
    from handsfree.model.readings import Absent, AbsentReason

    talk = begin(tmp_path, MEASURED, LID)
    talk.give(blade_z=Absent(AbsentReason.NOT_PERFORMED))
    talk.affirm()
    talk.say("status")
    assert "Left open: no value: blade." in talk.said
    talk.affirm()
    assert "Open: no value: blade." in talk.said


def test_no_two_steps_have_one_name() -> None:
    names = load_bundle("wrist-splint-fitting").plan.names
    assert names.stage("circulation_before@left") == "circulation before, left"
    assert names.stage("circulation_after@right") == "circulation after, right"
    assert names.reading("circulation_after@right", "refill") == "circulation after, right: refill"
    assert names.stage("expose_strap") == "“Remove the strap”"
    listed = [names.stage(one.id) for one in load_bundle("wrist-splint-fitting").procedure.steps]
    assert len(set(listed)) == len(listed)


def test_the_bundle_of_codes_says_it(made: tuple[Path, Path]) -> None:
    out = command(["export", made[0], "--to", "fhir", "--allow-practice"], []).output
    resources = [entry["resource"] for entry in json.loads(out[out.index("{") :])["entry"]]
    procedure = next(one for one in resources if one["resourceType"] == "Procedure")
    left = [one["valueCodeableConcept"]["text"] for one in procedure["extension"] if one["url"].endswith("left-open")]
    assert left == [
        "no value: blade",
        "not done: wheel bolt two",
        "not done: pressure",
        "not done: “Is the lid closed”",
    ]
