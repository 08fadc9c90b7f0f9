"""What differs before and after by more than the measuring error is marked, what differs by less is not.

Expected marks: arithmetic on the values and the error that is given here. That five degrees are the error of a
goniometer: BMC Musculoskeletal Disorders 2013;14:17.
"""

from decimal import Decimal

import pytest
from report_samples import confirmed, record_of, written

from handsfree.definition.loader import load_bundle
from handsfree.model.readings import Beyond, Timing
from handsfree.report.before_after import comparison, measuring_errors
from handsfree.report.record_page import make_report

ERRORS = {("angle_after", "wrist"): Decimal(5), ("refill_after", "time"): Decimal("0.5")}


def taken(tmp_path, step, field, before, after, unit="deg", errors=ERRORS):
    facts = (
        confirmed(f"{step}_before", field, before, unit=unit, timing=Timing.BASELINE),
        confirmed(f"{step}_after", field, after, unit=unit, timing=Timing.AFTER),
    )
    found = comparison(record_of(written(tmp_path / "visit", *facts)), errors)
    ((_, _, (one,)),) = found.rows
    return one


@pytest.mark.parametrize(
    ("before", "after", "marked", "by"),
    [
        (18, 18, False, ""),
        (18, 14, False, "−4°, within the error of 5°"),
        (18, 13, False, "−5°, within the error of 5°"),
        (18, 12, True, "−6°, over the error of 5°"),
        (18, 40, True, "+22°, over the error of 5°"),
    ],
)
def test_a_change_is_marked_beyond_the_measuring_error_alone(tmp_path, before, after, marked, by):
    one = taken(tmp_path, "angle", "wrist", Decimal(before), Decimal(after))
    assert (one.differs, one.by) == (marked, by)


def test_a_number_without_a_stated_error_is_marked_and_said_so(tmp_path):
    one = taken(tmp_path, "angle", "thumb", Decimal(18), Decimal(17))
    assert (one.differs, one.by) == (True, "−1°, no measuring error stated")


def test_another_finding_is_marked(tmp_path):
    assert taken(tmp_path / "one", "angle", "wrist", "present", "absent", None).differs
    assert not taken(tmp_path / "other", "angle", "wrist", "present", "present", None).differs


def test_what_is_only_a_limit_has_no_amount(tmp_path):
    one = taken(tmp_path, "angle", "wrist", Decimal(18), Beyond("<", Decimal(3)))
    assert (one.differs, one.by) == (True, "")


def test_the_same_figures_said_with_other_decimals_are_no_change(tmp_path):
    one = taken(tmp_path, "refill", "time", Decimal("1.0"), Decimal(1), "s")
    assert not one.differs


def test_the_error_is_the_procedures_own(fitting):
    folder, _ = fitting
    errors = measuring_errors(record_of(folder), load_bundle("ulnar-splint-fitting"))
    assert errors["position_after", "wrist"] == 5
    assert errors["circulation_after", "refill"] == Decimal("0.5")
    assert measuring_errors(record_of(folder), load_bundle("light-output-check")) == {}
    page, _ = make_report(folder)
    compared = page[page.index('id="compared"') : page.index('id="readings"')]
    assert "+0.1 s, within the error of 0.5 s" in compared
    assert "≠</span>" not in compared
