"""Records that name a stage by the role of its side are read by the side that was declared in them."""

from dataclasses import replace
from datetime import date

import pytest
from golden_records import unpacked
from report_samples import CLOSED, START, heard, record_of, written

from handsfree.application.words_for_export import export_words
from handsfree.clock import ManualClock
from handsfree.export.choose import ExportForm, export
from handsfree.model.facts import (
    CommandRefused,
    GapsAccepted,
    HoldSet,
    SideDeclared,
    StepEntered,
    StepOverridden,
    VisitEndedEarly,
)
from handsfree.model.open_items import OpenReading, OpenStep
from handsfree.model.readings import Side
from handsfree.model.reasons import AnswersDiffer, Grounds
from handsfree.model.refusals import StepFirst
from handsfree.record.declared_sides import with_declared_sides
from handsfree.report.day import day_lines, day_of
from handsfree.report.record_page import make_report
from handsfree.report.summary import summary_lines
from handsfree.review.service import Review

DIFFER = Grounds(AnswersDiffer())


def overridden(stage):
    return StepOverridden(stage=stage, role="surgeon", reason="settled", heard=heard())


def by_role(side=Side.RIGHT):
    """Facts of one visit, named by the role of the side; the first was stated before anybody had declared one."""
    return (
        StepEntered(stage="pulse_before@other", step="pulse_before", phase="before", again=False),
        SideDeclared(side=side),
        HoldSet(hold="red", stage="pulse_before@injured", grounds=DIFFER),
        overridden("pulse_before@injured"),
        overridden("skin_before@other"),
        CommandRefused(
            stage="skin_before@other", command=None, reason=StepFirst("pulse_before@injured"), heard=heard()
        ),
        GapsAccepted(
            gaps=(OpenReading("skin_before@injured", "colour"),), role="surgeon", reason="x", code=None, heard=heard()
        ),
        VisitEndedEarly(stage="skin_before@other", role="surgeon", reason="settled", code=None, heard=heard()),
    )


ENDED = replace(CLOSED, outcome="stopped", open_items=(OpenStep("skin_before@injured"),))


@pytest.fixture
def folder(tmp_path):
    return written(tmp_path / "store" / "visit", *by_role(), closing=ENDED)


def stages(record):
    return [one.fact.stage for one in record.facts if hasattr(one.fact, "stage")]


@pytest.mark.parametrize(("injured", "other"), [(Side.LEFT, Side.RIGHT), (Side.RIGHT, Side.LEFT)])
def test_each_role_is_the_side_declared_before_it(tmp_path, injured, other):
    raw = record_of(written(tmp_path / "visit", *by_role(injured), closing=ENDED))
    record = with_declared_sides(raw)
    assert stages(record) == [
        "pulse_before@other",
        f"pulse_before@{injured}",
        f"pulse_before@{injured}",
        f"skin_before@{other}",
        f"skin_before@{other}",
        f"skin_before@{other}",
    ]
    assert record.last(CommandRefused).reason == StepFirst(f"pulse_before@{injured}")
    assert record.last(GapsAccepted).gaps == (OpenReading(f"skin_before@{injured}", "colour"),)
    assert record.open_items == (OpenStep(f"skin_before@{injured}"),)
    assert "pulse_before@injured" in stages(raw)  # what was written stays what it is


def test_the_summary_the_note_and_the_day_name_the_side(folder):
    summary = "\n".join(summary_lines(record_of(folder), "complete"))
    note = export(folder, ExportForm.NOTE, export_words)
    day = "\n".join(day_lines(day_of(folder.parent, date(2026, 11, 25))))
    assert "(pulse before, right)" in summary
    assert "overridden pulse before, right by surgeon" in note
    assert "overridden skin before, left by surgeon" in note
    assert all("skin_before@right" in text or "skin before, right" in text for text in (summary, note, day))
    assert not any("injured" in text or "other" in text for text in (summary, note, day))


def test_the_page_and_what_is_left_to_attest_name_the_side(folder, tmp_path):
    text, _ = make_report(folder)
    assert "pulse before, right" in text
    assert "Missing values accepted by surgeon, x: skin before, right: colour" in text
    assert "Step overridden: skin before, left" in text
    assert ", injured" not in text
    left = Review(folder, tmp_path / "key", ManualClock(START), None).page().html
    assert "skin before, right" in left
    assert "@injured" not in left


def test_an_override_of_an_earlier_version_names_the_side_of_its_visit(tmp_path):
    folder = unpacked("numb-finger-good", tmp_path / "record")
    assert "circulation_after@injured" in stages(record_of(folder))
    assert "overridden circulation after, left by " in export(folder, ExportForm.NOTE, export_words)
    assert "circulation after, injured" not in make_report(folder)[0]
