"""Exports: valid FHIR with published codes only, CSV and note; the same record gives the same bytes."""

import csv
import io
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner
from export_samples import (
    ALL_VALUES,
    closing,
    confirmed,
    everything,
    exported,
    heard,
    observation,
    practice_said,
    resources,
    wall,
    write,
    zone,
)
from fhir_code_lists import ABSENT, code_faults, walk

from handsfree.application.words_for_export import export_words
from handsfree.commands.records import export as export_command
from handsfree.errors import RecordError
from handsfree.export.choose import ExportForm, export
from handsfree.export.table import COLUMNS
from handsfree.model.facts import LabelScanned
from handsfree.model.readings import Option, SpelledText
from handsfree.record.amendments import amend
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.own_lines import Amended
from handsfree.record.verify import verify


def test_fhir_resources_takes_the_bundle(folder):
    # Source: fhir.resources, an independent library; its R4B models (4.3.0) hold for these resources of R4.
    bundle_model = pytest.importorskip("fhir.resources.R4B.bundle", reason="fhir.resources is a development tool")
    text = exported(folder, ExportForm.FHIR)
    model = bundle_model.Bundle.model_validate_json(text)
    assert len(model.entry) == len(json.loads(text)["entry"])


def test_every_code_is_in_its_published_list(bundle):
    assert code_faults(bundle) == []
    seen = {node["system"] for node in walk(bundle) if "system" in node and "code" in node}
    assert seen >= {"http://loinc.org", "http://snomed.info/sct", ABSENT}


def test_a_code_that_is_on_no_list_is_a_fault(bundle):
    # What fhir.resources lets through: it checks no bindings.
    wrong = json.loads(json.dumps(bundle, default=str))
    next(iter(resources(wrong, "Observation")))["status"] = "banana"
    next(iter(resources(wrong, "DetectedIssue")))["severity"] = "dire"
    assert len(code_faults(wrong)) == 2


def test_units_are_ucum(bundle):
    # Source: ucumvert, a parser of the UCUM grammar.
    ucumvert = pytest.importorskip("ucumvert", reason="ucumvert is a development tool")
    parser = ucumvert.get_ucum_parser()
    units = {node["code"] for node in walk(bundle) if node.get("system") == "http://unitsofmeasure.org"}
    assert units >= {"s", "cm", "{score}", "mm[Hg]", "deg", "J/cm2"}
    for unit in units:
        parser.parse(unit)


def test_references_lead_to_resources_of_the_bundle(bundle):
    known = {entry["fullUrl"] for entry in bundle["entry"]}
    assert len(known) == len(bundle["entry"])
    wanted = {node["reference"] for node in walk(bundle) if "reference" in node}
    assert wanted <= known
    for entry in bundle["entry"]:
        # Source: RFC 4122 section 3 (form of a UUID), FHIR R4 bundle: id and fullUrl agree.
        assert re.fullmatch(
            r"urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", entry["fullUrl"]
        )
        assert entry["fullUrl"].endswith(entry["resource"]["id"])


def test_decimals_side_phase_comparator_range_and_absence_are_kept(bundle):
    first = observation(bundle, "circumference.first")["valueQuantity"]
    assert str(first["value"]) == "17.50"  # FHIR R4 data type decimal: precision is significant
    both = [observation(bundle, "nv_baseline.refill", index) for index in (0, 1)]
    right, left = sorted(both, key=lambda item: "comparator" not in item["valueQuantity"])
    assert left["status"] == "corrected"
    assert left["valueQuantity"]["value"] == Decimal("1.5")
    assert left["category"][0]["coding"][0]["code"] == "baseline"
    sides = {entry["fullUrl"]: entry["resource"] for entry in bundle["entry"]}
    site = sides[left["extension"][0]["valueReference"]["reference"]]
    assert site["locationQualifier"][0]["coding"][0]["code"] == "7771000"
    assert right["valueQuantity"]["comparator"] == "<"
    angle = observation(bundle, "nv_after.angle")["valueRange"]
    assert (angle["low"]["value"], angle["high"]["value"]) == (50, 60)
    bend = observation(bundle, "nv_after.bend")["valueRange"]
    assert (bend["low"]["value"], bend["high"]["value"]) == (-10, -5)
    assert observation(bundle, "package.expiry")["valueDateTime"] == "2027-12-31"
    assert observation(bundle, "who_holds.initials")["valueString"] == "AB12"
    assert observation(bundle, "who_works.who")["valueCodeableConcept"]["text"] == "surgeon"
    pulse = observation(bundle, "nv_after.pulse")
    assert pulse["dataAbsentReason"]["coding"][0]["code"] == "not-performed"
    assert not [name for name in pulse if name.startswith("value")]
    (flag,) = observation(bundle, "nv_after.refill")["interpretation"]
    assert (flag["coding"][0]["code"], flag["text"]) == ("red", "refill rose by 1.5")


def test_who_works_is_told_by_what_was_declared_whatever_the_steps_are_called(bundle):
    (practitioner,) = resources(bundle, "Practitioner")
    assert practitioner["identifier"] == [{"system": "urn:handsfree:operator-code", "value": "AB12"}]
    (procedure,) = resources(bundle, "Procedure")
    assert procedure["performer"][0]["function"] == {"text": "surgeon"}
    assert procedure["bodySite"] == [{"text": "left side"}]


def test_who_works_is_told_as_it_was_amended(tmp_path):
    folder = write(tmp_path / "r", *ALL_VALUES)
    entries = {one.stands.field: one.recorded.seq for one in verify(folder).record.readings}
    amend(folder, entries["who"], Amended(value=Option("therapist")), by="surgeon", reason="misheard")
    amend(folder, entries["initials"], Amended(value=SpelledText("AB13")), by="surgeon", reason="misheard")
    bundle = json.loads(exported(folder, ExportForm.FHIR))
    assert resources(bundle, "Practitioner")[0]["identifier"][0]["value"] == "AB13"
    assert resources(bundle, "Procedure")[0]["performer"][0]["function"] == {"text": "therapist"}


def test_nobody_works_where_nobody_said_so(tmp_path):
    # Readings of steps with these names are no declaration: only the procedure file says which answers tell who works.
    answers = (confirmed("operator", "role", "surgeon"), confirmed("operator_code", "code", SpelledText("AB12")))
    bundle = json.loads(exported(write(tmp_path / "r", *answers), ExportForm.FHIR))
    assert "identifier" not in resources(bundle, "Practitioner")[0]
    assert set(resources(bundle, "Procedure")[0]["performer"][0]) == {"actor"}


def test_the_device_carries_its_label(bundle):
    # Source of the example label: GS1 General Specifications, GTIN 629104150021 with check digit 3; AIs 01, 17, 10, 21.
    sleeve = next(item for item in resources(bundle, "Device") if "lotNumber" in item)
    assert sleeve["expirationDate"] == "2027-12-31"
    assert sleeve["udiCarrier"][0]["carrierHRF"] == "(01)06291041500213(17)271231(10)A213B1(21)SN123"
    assert sleeve["udiCarrier"][0]["issuer"] == "http://hl7.org/fhir/NamingSystem/gs1-di"


@pytest.mark.parametrize(
    ("text", "lot", "entry_type"), [("]d2", "A213B1", "barcode"), ("(01)", "A213B1", "manual"), ("]d2", "X", "")]
)
def test_a_scan_gives_number_serial_and_production_date_of_the_lot_that_was_read_back(tmp_path, text, lot, entry_type):
    # Source of the example label: as above; AI 11 is the production date. Entry types: FHIR R4 udi-entry-type.
    scan = LabelScanned(
        stage="package",
        gtin="06291041500213",
        lot=lot,
        serial="SN9",
        produced=date(2025, 6, 30),
        expiry=None,
        faults=(),
        heard=heard(text),
    )
    read_back = confirmed("package", "lot", SpelledText("A213B1"))
    folder = write(tmp_path / "r", scan, read_back, versions={"device sleeve": "1"})
    (device,) = resources(json.loads(exported(folder, ExportForm.FHIR)), "Device")
    assert device["lotNumber"] == "A213B1"
    assert [udi["entryType"] for udi in device.get("udiCarrier", [])] == ([entry_type] if entry_type else [])
    assert device.get("serialNumber") == ("SN9" if entry_type else None)
    assert device.get("manufactureDate") == ("2025-06-30" if entry_type else None)


def test_of_two_packages_neither_lot_is_given_as_that_of_the_device(tmp_path):
    lots = (confirmed(step, "lot", SpelledText(lot)) for step, lot in (("padding", "P1"), ("sleeve", "S1")))
    (device,) = resources(
        json.loads(exported(write(tmp_path / "r", *lots, versions={"device sleeve": "1"}), ExportForm.FHIR)), "Device"
    )
    assert "lotNumber" not in device


def test_parts_of_the_program_are_no_devices_of_their_own(bundle):
    names = {item["deviceName"][0]["name"] for item in resources(bundle, "Device")}
    assert names == {"handsfree", "example-ulnar-sleeve", "example-blue-light"}
    program = next(item for item in resources(bundle, "Device") if item["deviceName"][0]["name"] == "handsfree")
    assert {"type": {"text": "recogniser"}, "value": "neural"} in program["version"]


def test_a_note_is_marked_until_a_person_has_read_it(tmp_path):
    folder = everything(tmp_path / "r")
    (note,) = verify(folder).record.notes
    text = note.text
    for verified, expected in ((False, f"As dictated, unverified: {text}"), (True, text)):
        if verified:
            amend(folder, note.recorded.seq, Amended(verified=True), by="surgeon", reason="read")
        (procedure,) = resources(json.loads(exported(folder, ExportForm.FHIR)), "Procedure")
        assert procedure["note"][0]["text"] == expected


def test_exposure_components_keep_seconds_and_dose_apart(bundle):
    zone = observation(bundle, "light.fracture_side")
    figures = {item["code"]["text"]: item["valueQuantity"] for item in zone["component"]}
    assert figures["lit"]["value"] == Decimal("6.5")
    assert figures["lit"]["code"] == "s"
    assert str(figures["dose"]["value"]) == "0.325"
    assert set(figures) == {"dose", "lit", "possible", "target"}
    # FHIR R4, decimal: 6 and 6.0 are not the same precision; seconds that are whole are written so.
    assert str(figures["target"]["value"]) == "6"


@pytest.mark.parametrize(
    ("lit_s", "code", "noted"),
    [(5.6, "short", ", short of its target"), (5.8, "reached", ""), (7.5, "over", ", over target")],
)
def test_a_zone_short_of_or_over_its_target_is_named_so(tmp_path, lit_s, code, noted):
    lit = replace(zone("fracture_side", lit_s, 0.3), tolerance_s=0.3, over_from_s=7.5)
    folder = write(tmp_path / "visit", end=closing(zones=(lit,)))
    found = observation(json.loads(exported(folder, ExportForm.FHIR)), "light.fracture_side")
    codes = [coding["code"] for one in found.get("interpretation", ()) for coding in one["coding"]]
    assert codes == [code]
    assert f"fracture side: {lit_s} s of 6 s asked for{noted} in 1 run" in exported(folder, ExportForm.NOTE)


def test_the_patient_is_a_reference_only(bundle):
    (patient,) = resources(bundle, "Patient")
    assert set(patient) == {"resourceType", "id", "identifier"}
    assert patient["identifier"][0]["value"] == "DEMO-0001"


@pytest.mark.parametrize("form", list(ExportForm))
def test_the_same_record_gives_the_same_bytes_in_another_process(folder, form):
    code = "import sys; sys.path.append(sys.argv[3]); from pathlib import Path; from export_samples import exported; "
    code += "from handsfree.export.choose import ExportForm; "
    code += "sys.stdout.buffer.write(exported(Path(sys.argv[1]), ExportForm(sys.argv[2])).encode())"
    again = subprocess.run(
        [sys.executable, "-c", code, folder, form.value, Path(__file__).parent],
        capture_output=True,
        check=True,
        env={"PYTHONHASHSEED": "7", "TZ": "Asia/Kolkata", "LC_ALL": "C", "PYTHONPATH": os.pathsep.join(sys.path)},
        timeout=60,
    )
    assert again.stdout == exported(folder, form).encode()


def test_practice_is_marked_everywhere_and_not_fhir_unless_asked(tmp_path):
    practice = everything(tmp_path / "r", practice=True)
    with pytest.raises(RecordError, match="practice"):
        exported(practice, ExportForm.FHIR)
    marked = json.loads(exported(practice, ExportForm.FHIR, allow_practice=True))
    for resource in [marked, *(entry["resource"] for entry in marked["entry"])]:
        assert resource["meta"]["tag"][0]["code"] == "practice"
        # Source: FHIR R4, security labels: HTEST of v3-ActReason marks test data.
        assert resource["meta"]["security"][0]["code"] == "HTEST"
    rows = list(csv.DictReader(io.StringIO(exported(practice, ExportForm.CSV))))
    assert {row["practice"] for row in rows} == {"practice"}
    note = exported(practice, ExportForm.NOTE).strip().splitlines()
    assert note[0] == note[-1] == "*** PRACTICE - NOT A PATIENT RECORD ***"


def test_practice_said_by_the_operator_counts(tmp_path):
    with pytest.raises(RecordError, match="practice"):
        exported(practice_said(tmp_path / "r"), ExportForm.FHIR)


def test_broken_and_open_records_are_refused(folder, tmp_path):
    unclosed = write(tmp_path / "open", *ALL_VALUES, closed=False)
    with pytest.raises(RecordError, match="interrupted"):
        exported(unclosed, ExportForm.FHIR)
    assert "Outcome: not closed" in exported(unclosed, ExportForm.NOTE)
    (tmp_path / RECORD_FILE).write_bytes((folder / RECORD_FILE).read_bytes().replace(b'"17.5"', b'"17.6"'))
    for form in ExportForm:
        with pytest.raises(RecordError, match="broken"):
            exported(tmp_path, form)


def test_csv_has_every_reading_and_reads_back(folder):
    text = exported(folder, ExportForm.CSV)
    assert text.endswith("\r\n")  # RFC 4180 section 2
    rows = list(csv.DictReader(io.StringIO(text)))
    assert tuple(rows[0]) == COLUMNS
    record = verify(folder).record
    assert len(rows) == len(record.readings) == 18
    assert {row["type"] for row in rows} == {
        *("exact", "between", "beyond", "absent", "option", "spelled_text", "spoken_date")
    }
    by_field = {(row["step"], row["field"], row["side"], row["status"]): row for row in rows}
    assert by_field["circumference", "first", "", "current"]["value"] == "17.50"
    assert by_field["nv_baseline", "refill", "left", "superseded"]["value"] == "1.0"
    assert by_field["nv_baseline", "refill", "left", "current"]["value"] == "1.5"
    amended = by_field["pain_after", "rest", "", "amended"]
    assert (amended["value"], amended["amended_from"]) == ("4", "value 3")
    assert (amended["amended_by"], amended["amended_reason"]) == ("surgeon", "misheard")


def test_no_cell_is_a_formula(folder):
    # Source: OWASP, CSV Injection (cells that begin with = + - @ tab).
    rows = list(csv.reader(io.StringIO(exported(folder, ExportForm.CSV))))
    cells = [cell for row in rows for cell in row]
    assert "'=weak" in cells
    assert not [cell for cell in cells if cell.startswith(("=", "+", "@", "\t"))]


def test_the_note_states_and_does_not_judge(folder):
    note = exported(folder, ExportForm.NOTE)
    record = verify(folder).record
    started, offset = record.started.wall, record.started.local_offset_minutes
    local = datetime.fromisoformat(started).astimezone(timezone(timedelta(minutes=offset)))
    assert f"Started: {local:%Y-%m-%d %H:%M:%S} local time (UTC+01:00; {started})" in note
    assert "\nBefore\n- order: image reviewed  (entry" in note
    assert "nv baseline, left: refill 1.5 s  (entry" in note
    assert "nv after, left: refill 2.5 s [RED FLAG]" in note
    assert "RED FLAG nv after, left, refill 2.5 s: refill rose by 1.5" in note
    assert "pulse no value (not-performed)" in note
    assert "pressure > 35 mm[Hg]; angle 50 to 60 deg; bend -10 to -5 deg" in note
    assert "pain after: rest 4 [amended, not judged: its procedure was not at hand]" in note
    assert "value 3 -> value 4, by surgeon" in note
    assert (
        "red flag at nv after: refill rose by 1.5. Told: what its procedure says, which is not at hand.  (entry" in note
    )
    assert "fracture side: 6.5 s of 6 s asked for in 1 run, 0.325 J/cm2" in note
    assert "Notes as dictated, unverified\n- padding checked" in note
    assert "Confirmed by affirmative\n- padding" in note
    assert "- Keep it dry. (said back)" in note
    assert f"{record.lines} lines, head {record.head}" in note
    assert not re.search(r"\b(safe|cured|normal|cleared)\b", note, re.IGNORECASE)


def test_the_command_writes_a_private_file(folder, tmp_path):
    out = tmp_path / "note.txt"
    done = CliRunner().invoke(export_command, [str(folder), "--to", "note", "--output", str(out)])
    assert done.exit_code == 0, done.output
    assert out.read_bytes() == export(folder, ExportForm.NOTE, export_words).encode()
    assert out.stat().st_mode & 0o077 == 0
    assert wall(0) in out.read_text()
