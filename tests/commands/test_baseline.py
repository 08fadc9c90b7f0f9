"""A visit compared with the record of an earlier one.

Source of the rules: BOAST, Diagnosis and Management of Compartment Syndrome of the Limbs, 2014, by which pain that does
not fall and pain on stretching are key findings and limb neurology is observed over time. The size of a rise that
counts (2 points at rest) and that a step down in sensation sets a red hold: common practice, no source.
"""

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from typed_visits import command, run, visit

from handsfree.model.baseline import Baseline
from handsfree.model.facts import DueMet, DueSet, VisitBegun
from handsfree.model.readings import Between, Beyond, Exact, Option
from handsfree.record.baseline import as_header, compared_with, earlier_of, from_header
from handsfree.record.display_values import local_time
from handsfree.record.header import RecordHeader
from handsfree.record.verify import verify


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    record = tmp_path_factory.mktemp("visits") / "first"
    found = run(record, visit(), "--patient", "P-104")
    assert "complete and closed" in found.output
    assert "No earlier record to compare with." in found.output
    return record


def test_the_same_readings_flag_nothing(first: Path, tmp_path: Path) -> None:
    found = run(tmp_path / "again", visit(), "--patient", "P-104", "--baseline", first)
    assert "Compared with the record of" in " ".join(found.output.split())
    assert "Stop. Remove or split" not in found.output
    assert "complete and closed" in found.output


@pytest.mark.parametrize(
    ("changed", "why"),
    [
        ({"pain": "rest five stretch four proportion expected"}, "Rest rose by two."),
        ({"pain": "rest three stretch five proportion expected"}, "Stretch rose by one."),
        ({"touch": "median intact ulnar tingling radial intact"}, "Ulnar is worse than before."),
    ],
)
def test_what_got_worse_since_then_sets_a_red_hold(
    first: Path, tmp_path: Path, changed: dict[str, str], why: str
) -> None:
    found = run(tmp_path / "worse", visit(**changed), "--patient", "P-104", "--baseline", first)
    said = " ".join(found.output.split())
    assert f"Stop. Remove or split the splint to skin. Limb at heart level. Call senior now. Left side. {why}" in said
    assert "complete and closed" not in said
    alone = run(tmp_path / "alone", visit(**changed))
    assert "Stop. Remove or split" not in alone.output


def test_a_rise_below_the_limit_and_a_better_hand_flag_nothing(first: Path, tmp_path: Path) -> None:
    found = run(
        tmp_path / "less", visit("rest four stretch two proportion expected"), "--patient", "P-104", "--baseline", first
    )
    assert "complete and closed" in found.output


def test_the_record_keeps_what_it_was_compared_with_and_resumes_by_it(first: Path, tmp_path: Path) -> None:
    record = tmp_path / "cut"
    lines = visit("rest five stretch four proportion expected")
    run(record, lines[:5], "--patient", "P-104", "--baseline", first)
    again = run(record, lines[5:], "--resume")
    assert "Rest rose by two." in " ".join(again.output.split())
    kept = verify(record).record
    assert kept is not None
    earlier = from_header(kept.header)
    origin = verify(first)
    assert origin.record is not None
    assert earlier == earlier_of(origin.record)
    assert kept.header.baseline is not None
    assert kept.header.baseline.head == origin.head_hash
    begun = kept.last(VisitBegun)
    assert begun is not None
    assert begun.compared_with == origin.record.header.record_id


def test_another_baseline_cannot_be_given_on_the_way(first: Path, tmp_path: Path) -> None:
    record, other = tmp_path / "cut", tmp_path / "other"
    run(record, visit()[:4], "--patient", "P-104", "--baseline", first)
    run(other, visit("rest one stretch one proportion expected"))
    refused = run(record, [], "--resume", "--baseline", other)
    assert refused.exit_code == 2
    assert "leave out --baseline" in refused.output
    assert "leave out" not in run(record, [], "--resume", "--baseline", first).output


def test_records_that_cannot_be_compared_with_are_refused(first: Path, tmp_path: Path) -> None:
    open_one = tmp_path / "open"
    run(open_one, visit()[:4])
    other = tmp_path / "other"
    bench = run(other, [], procedure="thermometer-calibration")
    assert bench.exit_code == 0
    for options, words, code in (
        (("--baseline", open_one), "only a closed record", 8),
        (("--baseline", tmp_path / "none"), "none", 8),
        (("--baseline", first, "--patient", "P-105"), "is of P-104, this visit of P-105", 2),
    ):
        found = run(tmp_path / "new", [], *options)
        assert (found.exit_code, words in found.output) == (code, True), found.output
        assert not (tmp_path / "new").exists()
    wrong = run(tmp_path / "new", [], "--baseline", first, procedure="thermometer-calibration")
    assert wrong.exit_code == 2
    assert "leave out --baseline" in wrong.output


def test_practice_is_no_baseline_of_a_live_visit(first: Path, tmp_path: Path) -> None:
    found = command(["run", "neurovascular-check", "--typed", "--record", tmp_path / "new", "--baseline", first], [])
    assert found.exit_code == 2
    assert "was practice" in found.output


def test_values_come_back_from_the_header_as_they_were() -> None:
    earlier = Baseline(
        "id",
        "2026-11-25",
        {
            "pain.rest@left": Exact(Decimal(3)),
            "circulation.refill@left": Beyond("<", Decimal(2)),
            "length.wrist": Between(Decimal("-5"), Decimal("-3.5")),
            "sensation.ulnar@right": Option("intact"),
        },
    )
    header = RecordHeader(record_id="x", procedure="p", title="p", procedure_sha256="", practice=True, versions={})
    assert from_header(replace(header, baseline=as_header(earlier, "abc"))) == earlier
    assert from_header(header) is None


def test_the_time_of_the_next_check_goes_from_one_visit_to_the_next(first: Path, tmp_path: Path) -> None:
    # Hourly observations of a limb at risk: BOAST, compartment syndrome of the limbs, 2014.
    found = verify(first).record
    assert found is not None
    set_at = datetime.fromisoformat(found.of(DueSet)[0].at)
    assert abs(datetime.fromisoformat(found.due) - set_at - timedelta(minutes=60)) < timedelta(seconds=5)
    run(tmp_path / "next", visit(), "--patient", "P-104", "--baseline", first)
    kept = verify(tmp_path / "next").record
    assert kept is not None
    met = kept.last(DueMet)
    assert met is not None
    assert met.due == found.due
    assert met.late_s < 0
    again = from_header(kept.header)
    assert again is not None
    assert again.due == found.due
    listed = command(["day", tmp_path], []).output
    assert "next due 2" in listed
    local = local_time(found, found.due)
    assert f"next check due {local} local time" in command(["summary", "--all", first], []).output
    assert f"Next check due {local} local time" in command(["export", "--to", "note", first], []).output


@pytest.mark.parametrize(("answer", "compared"), [("leave it out", False), ("compare anyway", True)])
def test_practice_without_a_patient_is_compared_only_where_somebody_says_so(
    first: Path, tmp_path: Path, answer: str, compared: bool
) -> None:
    lines = visit()
    found = run(tmp_path / "practice", [*lines[:2], answer, *lines[2:]], "--baseline", first)
    assert "nobody said whose visit this is" in " ".join(found.output.lower().split())
    record = verify(tmp_path / "practice").record
    assert record is not None
    assert (compared_with(record) is not None) is compared
