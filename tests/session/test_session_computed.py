"""Computed values: sum, mean, difference and time between, with their inputs, judged, and anew after corrections."""

from decimal import Decimal
from statistics import mean

import pytest
from hypothesis import given
from hypothesis import strategies as st
from own_procedures import begin, number, step, write

from handsfree.definition.computed_form import result_of
from handsfree.definition.loader import load_bundle
from handsfree.errors import ProcedureFileError
from handsfree.model.readings import Absent, AbsentReason, Between, Exact
from handsfree.model.reasons import Severity
from handsfree.record.codec import decode_fact, encode_fact
from handsfree.record.display_values import computed_words

FIRST, SECOND = number("first"), number("second")


def computed(how, unit="K", more="", name="rise", keys="timing: during", decimals=1):
    return step(f"""
id: {name}
kind: compute
phase: during
prompt: What is the {name}?
hard: true
source: common
{keys}
fields:
  - id: {name}
    label: {name}
    computed: {how}
    number: {{unit: {unit}, low: -200, high: 400, decimals: {decimals}{more}}}
""")


RISE = "{difference: [second.second, first.first]}"


def answer(talk, **values):
    talk.give(
        **{name: Decimal(str(value)) if not isinstance(value, Absent) else value for name, value in values.items()}
    )
    talk.affirm()


def value_of(talk, field="rise"):
    found = [one for one in (*talk.facts("reading_confirmed"), *talk.facts("reading_amended")) if one.field == field]
    return found[-1].value


@pytest.mark.parametrize(
    ("how", "unit", "expected"),
    # Arithmetic by hand.
    [
        (RISE, "K", "-3.3"),
        ("{mean: [first.first, second.second]}", "Cel", "21.7"),  # 21.65, half up
    ],
)
def test_it_is_computed_said_and_on_record_with_its_inputs(tmp_path, how, unit, expected):
    talk = begin(tmp_path, FIRST, SECOND, computed(how, unit), number("room"))
    answer(talk, first="23.3")
    answer(talk, second="20.0")
    fact = talk.facts("reading_confirmed")[-1]
    assert (fact.value, fact.unit, fact.read_back) == (Exact(Decimal(expected), 1), unit, "computed")
    assert {(one.stage, one.field, one.value.value, one.unit) for one in fact.computed.inputs} == {
        ("first", "first", Decimal("23.3"), "Cel"),
        ("second", "second", Decimal("20.0"), "Cel"),
    }
    assert "Rise, computed:" in talk.said
    assert talk.at == "room"
    assert decode_fact(*encode_fact(fact)) == fact


def test_a_sum_of_lengths(tmp_path):
    steps = [number(name, unit="mm") for name in ("one", "two", "three")]
    talk = begin(tmp_path, *steps, computed("{sum: [one.one, two.two, three.three]}", "mm", name="whole"))
    for name in ("one", "two", "three"):
        answer(talk, **{name: "1.5"})
    assert value_of(talk, "whole") == Exact(Decimal("4.5"), 1)
    assert talk.outcome == "completed"


def test_a_missing_or_doubtful_input_gives_no_value_and_a_gap_to_be_answered_for(tmp_path):
    talk = begin(tmp_path, FIRST, SECOND, computed(RISE))
    answer(talk, first=20)
    talk.give(second=Between(Decimal(10), Decimal(20)))
    talk.affirm()
    assert value_of(talk) == Absent(AbsentReason.NOT_PERFORMED)
    assert "Rise: no value, because second is no single number." in talk.said
    assert talk.facts("reading_confirmed")[-1].severity is Severity.AMBER
    assert talk.mode == "open_items"
    talk.override()
    assert talk.outcome == "completed_with_overrides"


def test_what_has_no_value_says_what_is_missing_for_it_aloud_and_on_record(tmp_path):
    soft = SECOND.replace("hard: true", "hard: false")
    talk = begin(tmp_path, FIRST, soft, computed(RISE), number("room"))
    answer(talk, first=Absent(AbsentReason.NOT_PERFORMED))
    talk.say("skip")
    talk.give(skip_reason="unavailable")
    assert "Rise: no value, because second is missing and first is missing." in talk.said
    fact = talk.facts("reading_confirmed")[-1]
    assert computed_words(fact) == "no value, because second is missing and first is missing"
    assert [one.stage for one in fact.computed.inputs] == ["second", "first"]
    assert decode_fact(*encode_fact(fact)) == fact


def test_one_that_is_missing_is_told_by_what_it_is_about(tmp_path):
    talk = begin(tmp_path, FIRST, SECOND, computed(RISE), number("room"))
    answer(talk, first=Absent(AbsentReason.NOT_PERFORMED))
    answer(talk, second=20)
    assert "Rise: no value, because first is missing." in talk.said


def test_it_is_computed_anew_when_an_input_is_corrected(tmp_path):
    talk = begin(tmp_path, FIRST, SECOND, computed(RISE, more=", flag_above: {amber: 10, stop: 20}"), number("room"))
    answer(talk, first=20)
    answer(talk, second=45)
    assert (talk.mode, talk.at) == ("held", "rise")
    assert "Rise is over twenty" in talk.said
    talk.say("correction")
    assert talk.at == "second"
    answer(talk, second=35)
    amended = talk.facts("reading_amended")[-1]
    assert (amended.why, amended.old_value.value, amended.value.value) == ("recomputed", Decimal(25), Decimal(15))
    assert amended.severity is Severity.AMBER
    assert talk.facts("hold_lifted")[-1].reason == "held_against_another_value"
    assert talk.at == "room"


def test_a_red_one_is_lifted_only_where_the_input_was_misheard(tmp_path):
    talk = begin(tmp_path, FIRST, SECOND, computed(RISE, more=", flag_above: {red: 20}"), number("room"))
    answer(talk, first=20)
    answer(talk, second=45)
    assert talk.mode == "held"
    talk.say("correction")
    answer(talk, second=35)
    assert talk.mode == "misheard"
    assert "Rise was two five, now one five. Was two five misheard?" in talk.said
    talk.affirm()
    assert talk.at == "room"


def test_behind_a_red_one_any_input_can_be_looked_at_and_corrected(tmp_path):
    talk = begin(tmp_path, FIRST, SECOND, computed(RISE, more=", flag_above: {red: 20}"), number("room"))
    answer(talk, first=20)
    answer(talk, second=45)
    talk.say("previous_step")
    talk.say("previous_step")
    assert talk.at == "first"
    talk.say("correction")
    answer(talk, first=40)
    talk.say("negate")
    assert talk.mode == "held"
    talk.override()
    assert talk.at == "room"


def test_time_between_two_steps_counts_the_breaks_of_the_program(tmp_path):
    done = [
        step(f"id: {name}\nkind: confirm\nphase: during\nprompt: Is the {name} on?\nhard: true\nsource: common")
        for name in ("wrap", "cover")
    ]
    talk = begin(tmp_path, *done, computed("{elapsed: [wrap, cover]}", "min", name="soaked"), number("room"))
    talk.affirm()
    talk.wait(120)
    talk.crash(gap_s=180)
    talk.affirm()
    # 120 s, 180 s of the break and the second that "affirmative" takes: 5.0 min.
    assert value_of(talk, "soaked") == Exact(Decimal("5.0"), 1)


def test_one_feeds_another_and_a_condition(tmp_path):
    mean_of = computed("{mean: [first.first, second.second]}", "Cel", name="middle")
    talk = begin(
        tmp_path, FIRST, SECOND, mean_of,
        computed("{difference: [second.second, middle.middle]}", name="over"),
        number("room", keys="timing: during\nwhen: {step: over.over, above: 5, unit: K}"),
    )  # fmt: skip
    answer(talk, first=20)
    answer(talk, second=40)
    assert value_of(talk, "over") == Exact(Decimal("10.0"), 1)
    assert talk.at == "room"
    talk.say("correction")
    answer(talk, second=25)
    assert talk.outcome == "completed"


def test_a_narrated_visit_is_not_asked_for_it(tmp_path):
    talk = begin(tmp_path, FIRST, SECOND, computed(RISE), number("room"))
    talk.say("narrate")
    talk.give(**{"second.second": Decimal(30), "first.first": Decimal(20)})
    talk.affirm()
    assert value_of(talk) == Exact(Decimal("10.0"), 1)
    talk.say("missing")
    assert "rise" not in talk.said
    assert "room" in talk.said


@pytest.mark.parametrize(
    ("how", "unit", "said"),
    [
        ("{difference: [second.second, first.frist]}", "K", "first.frist is no field of an earlier step (did you mean first.first?)"),  # noqa: E501
        (RISE, "Cel", "gives K for a difference of temperatures, and the result is in Cel (write unit: K)"),
        ("{mean: [first.first, second.second]}", "mm", "gives Cel, and the result is in mm (write unit: Cel)"),
        ("{sum: [first.first, second.second]}", "Cel", "temperatures in Cel cannot be summed"),
        ("{mean: [first.first, long.long]}", "Cel", "the values are in Cel and mm (measure all of them in one unit)"),
        ("{elapsed: [first, second]}", "Cel", "time is told in s, min, h, and the result is in Cel"),
        ("{elapsed: [first, third]}", "s", "third is no earlier step"),
        ("{mean: [first.first], sum: [second.second]}", "Cel", "needs exactly one of sum, mean, difference"),
        ("{difference: [first.first]}", "K", "difference needs two"),
        ("{mean: [operator.code]}", "Cel", "operator.code is no number"),
        ("first.first + second.second", "Cel", "computed"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_in_one_line_with_its_place(tmp_path, how, unit, said):
    path = write(tmp_path, FIRST, SECOND, number("long", unit="mm"), computed(how, unit))
    with pytest.raises(ProcedureFileError) as found:
        load_bundle(str(path))
    (line,) = str(found.value).splitlines()
    assert said in line
    assert line.startswith(f"{path}:55: steps.4.fields.0.computed")


def test_only_kind_compute_computes(tmp_path):
    for text in (
        computed(RISE).replace("kind: compute", "kind: measure"),
        FIRST.replace("kind: measure", "kind: compute"),
    ):
        with pytest.raises(ProcedureFileError, match="kind compute has computed in each field"):
            load_bundle(str(write(tmp_path, FIRST.replace("first", "zero"), SECOND, text)))


@given(st.lists(st.decimals(-1000, 1000, places=2), min_size=1, max_size=8))
def test_mean_and_sum_agree_with_the_standard_library(amounts):
    values = [Exact(amount, 2) for amount in amounts]
    found = result_of("mean", values, 3, "mm")
    assert abs(found.value - mean(amounts)) <= Decimal("0.0005")
    assert result_of("sum", values, 2, "mm").value == sum(amounts)
