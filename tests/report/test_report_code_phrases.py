"""Whoever answers for something is named in the procedure's own phrases, wherever a person reads it.

The phrases are those that `procedures/light-output-check.yaml` gives first for its codes.
"""

import re
from dataclasses import replace

import pytest
from report_samples import CLOSED, HEADER, heard, record_of, written

from handsfree.application.replaying import Replay
from handsfree.application.words_for_export import export_words
from handsfree.cli import main
from handsfree.definition.loader import find_procedure, load_bundle
from handsfree.export.choose import ExportForm, export
from handsfree.model.facts import GapsAccepted, HoldLifted, HoldSet, StepOverridden, StepSkipped, VisitEndedEarly
from handsfree.model.open_items import OpenReading
from handsfree.model.reasons import AnswersDiffer, Grounds, NoSize
from handsfree.record.verify import verify
from handsfree.report.procedure_at_hand import phrases_of
from handsfree.report.record_page import make_report
from handsfree.report.review_items import attention

CHECK = load_bundle("light-output-check")
OF_CHECK = replace(HEADER, procedure="light-output-check", procedure_sha256=CHECK.sha256)
DIFFER, NO_SIZE = Grounds(AnswersDiffer()), Grounds(NoSize())
ANSWERED_FOR = (
    HoldSet(hold="red", stage="condition", grounds=DIFFER),
    HoldLifted(hold="red", grounds=DIFFER, role="therapist", reason="senior", code=None, heard=heard()),
    StepOverridden(stage="condition", role="therapist", reason="senior", heard=heard()),
    HoldSet(hold="stop", stage="light_code", grounds=NO_SIZE),
    HoldLifted(hold="stop", grounds=NO_SIZE, role=None, reason="answered_again", code=None, heard=None),
    StepSkipped(stage="meter", step="meter", reason="unavailable"),
    GapsAccepted(
        gaps=(OpenReading("condition", "cable"),), role="technician", reason="judged", code=None, heard=heard()
    ),
    VisitEndedEarly(stage="light_code", role="technician", reason="judged", code=None, heard=heard()),
)
CODES = re.compile(
    r"\b(senior|judged(?! by the clinician)|unavailable)\b|(?<!hand )\btherapist\b|(?<!cast )\btechnician\b"
)


@pytest.fixture
def folder(tmp_path):
    return written(tmp_path / "visit", *ANSWERED_FOR, header=OF_CHECK, closing=replace(CLOSED, outcome="stopped"))


def shown(capsys, folder):
    main(["summary", "--all", str(folder)])
    return capsys.readouterr().out


def note(folder):
    return export(folder, ExportForm.NOTE, export_words)


def test_the_summary_names_roles_and_reasons_in_phrases(capsys, folder):
    text = shown(capsys, folder)
    assert "lifted by hand therapist: supervisor agrees (the answers do not agree)" in text
    assert "lifted by whoever answered: another answer took its place (no size can be chosen)" in text
    assert "skipped: meter, not available" in text
    assert CODES.search(text) is None


def test_the_note_names_roles_and_reasons_in_phrases(folder):
    text = note(folder)
    assert "lifted by hand therapist: supervisor agrees (it was held because the answers do not agree)" in text
    assert (
        "lifted by whoever answered: another answer took its place (it was held because no size can be chosen)" in text
    )
    assert "overridden condition by hand therapist: supervisor agrees" in text
    assert "missing values accepted by cast technician: technical decision" in text
    assert "visit ended early at light code by cast technician: technical decision" in text
    assert "skipped meter: not available" in text
    assert CODES.search(text) is None


def test_the_page_names_roles_and_reasons_in_phrases(folder):
    found = verify(folder)
    items = [one.what for one in attention(found, found.record, phrases_of(found.record, CHECK))]
    assert "Hold lifted by hand therapist, supervisor agrees: the answers do not agree" in items
    assert "Overridden by hand therapist: supervisor agrees" in items
    assert "Missing values accepted by cast technician, technical decision: condition: cable" in items
    assert "Visit ended early by cast technician: technical decision" in items
    assert "Skipped: not available" in items
    text, _ = make_report(folder)
    assert all(item in text for item in items)
    for line in (
        "Hold lifted: red, hand therapist, supervisor agrees",
        "Step overridden: condition, hand therapist, supervisor agrees",
        "Gaps accepted: cast technician, technical decision",
        "Visit ended early: light code, cast technician, technical decision",
        "Step skipped: meter, not available",
    ):
        assert line in text
    assert CODES.search(text.partition("<body>")[2]) is None


def test_codes_stay_in_the_record(folder):
    lifted = record_of(folder).last(StepOverridden)
    assert (lifted.role, lifted.reason) == ("therapist", "senior")


def test_another_version_of_the_procedure_lends_no_phrases(capsys, tmp_path):
    header = replace(OF_CHECK, procedure_sha256="ab" * 32)
    folder = written(tmp_path / "visit", *ANSWERED_FOR, header=header)
    assert "lifted by therapist: senior (the answers do not agree)" in shown(capsys, folder)
    assert "lifted by therapist: senior (it was held because the answers do not agree)" in note(folder)
    assert "Overridden by therapist: senior" in make_report(folder)[0]


def test_a_procedure_that_is_not_bundled_is_given_by_its_file(capsys, tmp_path, monkeypatch):
    text = find_procedure("light-output-check").read_text(encoding="utf-8")
    text = text.replace("id: light-output-check", "id: my-light-check").replace(
        "supervisor agrees", "head of stores agrees"
    )
    file = tmp_path / "my-light-check.yaml"
    file.write_text(text, encoding="utf-8")
    header = replace(OF_CHECK, procedure="my-light-check", procedure_sha256=load_bundle(str(file)).sha256)
    folder = written(tmp_path / "visit", *ANSWERED_FOR, header=header)
    assert "lifted by therapist: senior" in shown(capsys, folder)
    main(["summary", "--all", str(folder), "--procedure", str(file)])
    assert "lifted by hand therapist: head of stores agrees" in capsys.readouterr().out
    # These facts were written by no session; what is exported without following from words is refused elsewhere.
    monkeypatch.setattr("handsfree.application.replaying.replay", lambda *_: Replay(()))
    main(["export", str(folder), "--to", "note", "--procedure", str(file)])
    assert "overridden condition by hand therapist: head of stores agrees" in capsys.readouterr().out
