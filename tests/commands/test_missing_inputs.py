"""A computed value without its inputs says in every reader what is missing for it.

FHIR R4, Observation.dataAbsentReason; the words are common practice, no source.
"""

import csv
import io
import json
from pathlib import Path

from own_procedures import number, write
from test_session_computed import FIRST, RISE, SECOND, computed
from typed_visits import command, run

from handsfree.report.record_page import make_report

LINES = ["alfa four", "affirmative", "not done", "affirmative", "two zero", "affirmative", "two one", "affirmative"]
ANSWERED = ["override", "fitter", "put right", "affirmative"]
TOLD = "no value, because first is missing"


def test_what_is_missing_is_told_by_every_reader(tmp_path: Path) -> None:
    file = write(tmp_path, FIRST, SECOND, computed(RISE), number("room"))
    record = tmp_path / "record"
    done = run(record, LINES + ANSWERED, procedure=str(file))
    assert "closed, with overrides" in done.output, done.output
    assert "Rise: no value, because first is missing." in " ".join(done.output.split())
    assert f"rise.rise: {TOLD} [during]   computed" in command(["summary", record, "--all"], []).output
    page, _ = make_report(record)
    assert TOLD in page
    rows = csv.DictReader(io.StringIO(command(["export", record, "--to", "csv", "--allow-practice"], []).output))
    assert [row["words"] for row in rows if row["field"] == "rise"] == [TOLD]
    out = command(["export", record, "--to", "fhir", "--allow-practice"], []).output
    resources = [entry["resource"] for entry in json.loads(out[out.index("{") :])["entry"]]
    observed = (one for one in resources if one["resourceType"] == "Observation")
    (rise,) = (one for one in observed if one["code"]["text"] == "rise: rise")
    assert rise["dataAbsentReason"]["text"] == TOLD
    assert TOLD in command(["export", record, "--to", "note", "--allow-practice"], []).output
    assert command(["verify", record, "--procedure", str(file)], []).exit_code == 0
