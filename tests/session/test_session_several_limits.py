"""An amber and a red limit on one number: the worst that applies counts, in the visit, on record and for readers."""

from decimal import Decimal

import pytest
from own_procedures import begin, number, write

from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.reasons import Grounds, OverLimit, Severity, UnderLimit

# The figures are invented; that of several limits the gravest counts is common practice, no source.
BOTH_SIDES = ", flag_above: {amber: 40, red: 50}, flag_below: {amber: 15, stop: 5}"


@pytest.mark.parametrize(
    ("value", "severity", "ground"),
    [
        ("40", Severity.NONE, None),
        ("40.1", Severity.AMBER, OverLimit("blade", Decimal(40))),
        ("50", Severity.AMBER, OverLimit("blade", Decimal(40))),
        ("50.1", Severity.RED, OverLimit("blade", Decimal(50))),
        ("15", Severity.NONE, None),
        ("14.9", Severity.AMBER, UnderLimit("blade", Decimal(15))),
        ("5", Severity.AMBER, UnderLimit("blade", Decimal(15))),
        ("4.9", Severity.STOP, UnderLimit("blade", Decimal(5))),
    ],
)
def test_the_worst_limit_counts(tmp_path, value, severity, ground):
    talk = begin(tmp_path, number("blade", more=BOTH_SIDES))
    talk.give(blade=Decimal(value))
    talk.affirm()
    fact = talk.facts("reading_confirmed")[-1]
    assert (fact.severity, fact.grounds) == (severity, Grounds(ground) if ground else None)
    held = severity in {Severity.RED, Severity.STOP}
    assert (talk.mode == "held") is held
    assert [one.hold for one in talk.facts("hold_set")] == ([severity.value] if held else [])
    if ground is not None:
        words = {"40": "forty", "50": "fifty", "15": "fifteen", "5": "five"}[str(ground.limit)]
        assert f"is {'over' if isinstance(ground, OverLimit) else 'under'} {words}" in talk.said


def test_a_corrected_amber_becomes_red_and_a_red_one_stays_held(tmp_path):
    talk = begin(tmp_path, number("blade", more=BOTH_SIDES), number("room"))
    talk.give(blade=Decimal(45))
    talk.affirm()
    talk.say("correction")
    talk.give(blade=Decimal(60))
    talk.affirm()
    assert talk.facts("reading_amended")[-1].severity is Severity.RED
    assert talk.mode == "held"
    talk.say("correction")
    talk.give(blade=Decimal(45))
    talk.affirm()
    assert talk.mode == "misheard"
    talk.say("negate")
    assert talk.mode == "held"


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        ("flag_above: {amber: 50, red: 40}", "amber above 50 never counts, because red begins at 40"),
        ("flag_above: {amber: 50, red: 50}", "amber above 50 never counts"),
        ("flag_below: {amber: 5, stop: 15}", "amber below 5 never counts, because stop begins at 15"),
        ("flag_above: {amber: 40}, flag_class: red", "flag_class is for a limit without a class"),
        ("flag_above: {orange: 40}", "orange"),
        ("flag_above: {}", "flag_above names no class"),
        ("flag_above: warm", "flag_above: 'warm' is no number"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(tmp_path, limits, said):
    path = write(tmp_path, number("blade", more=f", {limits}"))
    with pytest.raises(ProcedureFileError) as found:
        load_bundle(str(path))
    assert len(str(found.value).splitlines()) == 1
    assert str(found.value).startswith(f"{path}:28: steps.1.fields.0.number")
    assert said in str(found.value)


def test_one_limit_means_what_it_meant(tmp_path):
    one = load_bundle(str(write(tmp_path, number("blade", more=", flag_above: 40, flag_class: red"))))
    each = load_bundle(str(write(tmp_path, number("blade", more=", flag_above: {red: 40}"))))
    limits = [bundle.procedure.steps[1].fields[0].number.limits for bundle in (one, each)]
    assert limits[0] == limits[1] != ()
