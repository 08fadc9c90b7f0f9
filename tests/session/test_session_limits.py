"""Classes of values: by themselves, against a limit, a band, a date, and what was found before."""

import json
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.definition.form import StepField
from handsfree.definition.profile_form import Band
from handsfree.model.readings import Absent, AbsentReason, Between, Beyond, Exact, Option, SpelledText, SpokenDate
from handsfree.model.reasons import Grounds, NoValue, Severity, SidesDiffer
from handsfree.session.limits import HeldAgainst, judge
from handsfree.session.prompts.wording import Wording

NONE, AMBER, STOP, RED = Severity.NONE, Severity.AMBER, Severity.STOP, Severity.RED
SCALE = ("intact", "tingling", "reduced", "absent")


def field(**parts):
    return StepField.model_validate_json(json.dumps({"id": "f", "label": "refill"} | parts))


TOUCH = field(
    options={name: [name] for name in (*SCALE, "covered")},
    amber=["tingling", "reduced", "covered"],
    red=["absent"],
    scale=list(SCALE),
    compare={"with": "before", "worse": "red"},
)
REFILL = field(
    number={"unit": "s", "low": 0.2, "high": 10, "decimals": 1, "flag_above": 2.0, "flag_class": "amber"},
    compare={"with": "before", "rise": 1.0, "class": "amber"},
)
PAIN = field(
    number={"unit": "{score}", "low": 0, "high": 10, "flag_above": 6, "flag_class": "red"},
    compare={"with": "before", "rise": 2, "class": "red"},
)
BOTH = field(
    number={"unit": "s", "low": 0.2, "high": 10, "decimals": 1},
    sides={"differ": 1.0, "class": "amber"},
)
WARMTH = field(options={"warm": ["warm"], "cold": ["cold"]}, scale=["warm", "cold"], sides={"worse": "amber"})
ANGLE = field(number={"unit": "deg", "low": -90, "high": 90, "band": "wrist"})
EXPIRY = field(date={"month_only": True, "not_before": "today"})
BAND = Band(low=Decimal(10), confirm_from=Decimal(15), confirm_to=Decimal(20), high=Decimal(25), direction="extension")


def exact(text):
    return Exact(Decimal(text))


@pytest.mark.parametrize(
    ("field_", "now", "before", "severity"),
    [
        # A sensation step down, or an absent finding: BOAST, compartment syndrome of the limbs, 2014 (documented and
        # compared); its class is common practice, no source.
        (TOUCH, Option("intact"), Option("intact"), NONE),
        (TOUCH, Option("intact"), Option("absent"), NONE),
        (TOUCH, Option("tingling"), Option("intact"), RED),
        (TOUCH, Option("tingling"), Option("tingling"), AMBER),
        (TOUCH, Option("tingling"), None, AMBER),
        (TOUCH, Option("absent"), Option("absent"), RED),
        (TOUCH, Option("covered"), Option("intact"), AMBER),
        (TOUCH, Option("reduced"), Option("covered"), AMBER),
        # "Not done" is never taken for a finding of nothing.
        (TOUCH, Absent(AbsentReason.NOT_PERFORMED), Option("intact"), AMBER),
        # Two seconds: Arch Dis Child 2015;100:239. One second longer than before: common practice, no source.
        (REFILL, exact("2.0"), None, NONE),
        (REFILL, exact("2.1"), None, AMBER),
        (REFILL, exact("1.9"), exact("0.9"), AMBER),
        (REFILL, exact("1.8"), exact("0.9"), NONE),
        (REFILL, exact("0.9"), exact("1.9"), NONE),
        # Words that leave a range open are taken at their worse end.
        (REFILL, Between(Decimal(1), Decimal("2.5")), None, AMBER),
        (REFILL, Beyond(">", Decimal("1.5")), None, AMBER),
        (REFILL, Beyond("<", Decimal(2)), None, NONE),
        (REFILL, Beyond("<", Decimal(3)), None, AMBER),
        # Seven or more, or up by two of ten: Pain 2001;94:149 (a change of two); seven: common practice, no source.
        (PAIN, exact("6"), exact("5"), NONE),
        (PAIN, exact("7"), exact("7"), RED),
        (PAIN, exact("3"), exact("1"), RED),
        (PAIN, exact("2"), exact("1"), NONE),
    ],
)
def test_findings(field_, now, before, severity):
    assert judge(field_, now, HeldAgainst(baseline=before)).severity is severity


@pytest.mark.parametrize(
    ("angle", "severity"),
    # Bands of this kind are configuration: published values disagree (AO: neutral to 15; gutter texts: 30 extension).
    [("9", STOP), ("10", AMBER), ("14", AMBER), ("15", NONE), ("20", NONE), ("21", AMBER), ("25", AMBER), ("26", STOP),
     ("-18", STOP)],
)  # fmt: skip
def test_angles_against_a_band(angle, severity):
    assert judge(ANGLE, exact(angle), HeldAgainst(band=BAND)).severity is severity


@pytest.mark.parametrize(("low", "high", "severity"), [(16, 19, NONE), (12, 18, AMBER), (18, 40, STOP)])
def test_a_range_of_angles_is_judged_by_both_ends(low, high, severity):
    assert judge(ANGLE, Between(Decimal(low), Decimal(high)), HeldAgainst(band=BAND)).severity is severity


@pytest.mark.parametrize(
    ("day", "severity"),
    # An expiry of a month means its last day: 21 CFR 801.18.
    [(date(2026, 11, 24), STOP), (date(2026, 11, 25), NONE), (date(2026, 11, 30), NONE)],
)
def test_dates_against_today(day, severity):
    assert judge(EXPIRY, SpokenDate(day), HeldAgainst(today="2026-11-25")).severity is severity


@given(st.sampled_from(SCALE), st.sampled_from(SCALE))
def test_any_step_down_the_scale_is_red_and_none_up_is(now, before):
    worse = SCALE.index(now) > SCALE.index(before)
    severity = judge(TOUCH, Option(now), HeldAgainst(baseline=Option(before))).severity
    assert (severity is RED) == (worse or now == "absent")


@given(
    st.decimals(min_value=0, max_value=10, places=1),
    st.decimals(min_value=0, max_value=10, places=1),
    st.decimals(min_value=0, max_value=10, places=1),
)
def test_a_higher_score_is_never_classed_lower(one, other, before):
    low, high = sorted((one, other))
    severities = [judge(PAIN, Exact(value), HeldAgainst(baseline=Exact(before))).severity for value in (low, high)]
    assert severities[0].rank <= severities[1].rank


def test_the_graver_of_two_classes_counts():
    number = {"unit": "s", "low": 0, "high": 10, "flag_above": 2, "flag_class": "amber"}
    both = field(number=number, compare={"with": "before", "rise": 1, "class": "red"})
    assert judge(both, exact("4"), HeldAgainst(baseline=exact("1"))).severity is RED
    assert judge(both, exact("4"), HeldAgainst(baseline=exact("4"))).severity is AMBER


def test_the_reason_names_the_field_and_never_a_verdict():
    # The tool flags; it does not judge (law 8 of this project).
    for field_, value in [(REFILL, exact("2.5")), (PAIN, exact("8")), (EXPIRY, SpokenDate(date(2020, 1, 31)))]:
        reason = Wording().reason(judge(field_, value, HeldAgainst(today="2026-11-25")).grounds)
        assert reason.startswith("refill ")
        assert not {"safe", "cured", "normal", "cleared"} & set(reason.split())


# ---- sides; that same hand comes first and a second between the sides counts: common practice, no source ----


def seconds(text):
    return Exact(Decimal(text), 1)


@pytest.mark.parametrize(
    ("injured", "other", "severity"),
    [("1.5", "1.4", NONE), ("2.4", "1.5", NONE), ("2.5", "1.5", AMBER), ("1.5", "2.5", AMBER)],
)
def test_numbers_that_differ_between_the_sides_are_flagged(injured, other, severity):
    assert judge(BOTH, seconds(other), HeldAgainst(sides=(seconds(injured), seconds(other)))).severity is severity


def test_ranges_count_by_how_far_they_can_lie_apart():
    low, high = Between(Decimal("1.0"), Decimal("1.5")), Between(Decimal("1.5"), Decimal("2.0"))
    assert judge(BOTH, high, HeldAgainst(sides=(low, high))).grounds == Grounds(SidesDiffer("refill", Decimal(1)))


@pytest.mark.parametrize(
    ("injured", "other", "severity"), [("cold", "warm", AMBER), ("warm", "cold", NONE), ("cold", "cold", NONE)]
)
def test_only_an_injured_side_that_is_worse_is_flagged(injured, other, severity):
    assert judge(WARMTH, Option(other), HeldAgainst(sides=(Option(injured), Option(other)))).severity is severity


def test_a_missing_value_is_compared_with_nothing():
    gone = Absent(AbsentReason.NOT_PERFORMED)
    assert judge(BOTH, gone, HeldAgainst(sides=(seconds("1.5"), gone))).grounds == Grounds(NoValue("refill"))


@pytest.mark.parametrize(
    "sides", [{}, {"differ": 1.0}, {"class": "amber"}, {"worse": "amber"}, {"differ": 0, "class": "amber"}]
)
def test_a_comparison_of_sides_must_be_whole_and_fit_the_field(sides):
    with pytest.raises(ValueError, match=r"sides|differ|worse|greater"):
        field(number={"unit": "s", "low": 0, "high": 9}, sides=sides)


@pytest.mark.parametrize(
    ("parts", "severity"),
    [
        ({"id": "lot", "label": "code"}, STOP),
        ({"id": "device_lot", "label": "code"}, STOP),
        ({"id": "code", "label": "serial number"}, STOP),
        ({"id": "gtin", "label": "number"}, STOP),
        ({"id": "code", "label": "code", "identifier": {"of": "product"}}, STOP),
        ({"id": "reference", "label": "reference"}, NONE),
        ({"id": "code", "label": "operator code"}, NONE),
        ({"id": "slot", "label": "slot"}, NONE),
        ({"id": "lot", "label": "lot", "identifier": {"of": "other"}}, NONE),
    ],
)
def test_only_codes_of_products_are_held_against_a_recall_list(parts, severity):
    # A patient's reference that reads like a recalled lot would set a stop that nobody may lift. Common practice, no
    # source.
    one = field(**{"identifier": {}} | parts)
    assert judge(one, SpelledText("A15B"), HeldAgainst(recalled={"A15B": "leaks"})).severity is severity
