"""One test for "does this value fit this field". Limits are those of the fields written here."""

from datetime import date
from decimal import Decimal

import pytest

from handsfree.definition.form import Step
from handsfree.definition.loader import load_bundle
from handsfree.definition.value_checking import FitFault, misfit_of, places_of, value_fault
from handsfree.model.readings import (
    Absent,
    AbsentReason,
    Ambiguous,
    Between,
    Beyond,
    Exact,
    NeedsAsking,
    Option,
    Refused,
    SpelledText,
    SpokenDate,
)
from handsfree.simulation import spoken_answers

NUMBER = {"number": {"unit": "cm", "low": Decimal("2"), "high": Decimal("40"), "decimals": 1}}
DUE = {"number": {"unit": "min", "low": Decimal("1"), "high": Decimal("90"), "due": True}}
OPTIONS = {"options": {"warm": ("warm",), "cool": ("cool",)}}
CODE = {"identifier": {"max_length": 4}}
DAY = {"date": {}}
GAP = Absent(AbsentReason.NOT_PERFORMED)


def asked(field, **more):
    form = {
        "id": "one",
        "kind": "measure",
        "phase": "before",
        "prompt": "Now.",
        "source": "our own",
        "fields": ({"id": "a", "label": "size"} | field,),
    }
    step = Step.model_validate(form | more)
    return step, step.fields[0]


def number(text):
    return Exact(Decimal(text), len(text.partition(".")[2]))


@pytest.mark.parametrize(
    ("field", "value", "fault"),
    [
        (NUMBER, number("2"), None),
        (NUMBER, number("40.0"), None),
        (NUMBER, number("1.9"), FitFault.OUT_OF_RANGE),
        (NUMBER, number("40.1"), FitFault.OUT_OF_RANGE),
        (NUMBER, number("3.25"), FitFault.TOO_MANY_DECIMALS),
        (NUMBER, Exact(Decimal("NaN")), FitFault.OUT_OF_RANGE),
        (NUMBER, Exact(Decimal("Infinity")), FitFault.OUT_OF_RANGE),
        (NUMBER, Between(Decimal("2"), Decimal("40")), None),
        (NUMBER, Between(Decimal("2"), Decimal("41")), FitFault.OUT_OF_RANGE),
        (NUMBER, Between(Decimal("2"), Decimal("3.25")), FitFault.TOO_MANY_DECIMALS),
        (NUMBER, Beyond("<", Decimal("2")), None),
        (NUMBER, Beyond(">", Decimal("41")), FitFault.OUT_OF_RANGE),
        (NUMBER, Option("warm"), FitFault.NOT_LISTED),
        (NUMBER, SpelledText("A1"), FitFault.OTHER_KIND),
        (NUMBER, SpokenDate(date(2027, 1, 1)), FitFault.OTHER_KIND),
        (NUMBER, Ambiguous((Decimal("13"), Decimal("30"))), FitFault.UNSURE),
        (NUMBER, NeedsAsking("say it again"), FitFault.UNSURE),
        (NUMBER, Refused("say it again"), FitFault.UNSURE),
        (NUMBER, GAP, FitFault.NEEDS_ANSWER),
        (OPTIONS, Option("warm"), None),
        (OPTIONS, Option("hot"), FitFault.NOT_LISTED),
        (OPTIONS, number("3"), FitFault.OTHER_KIND),
        (CODE, SpelledText("AB12"), None),
        (CODE, SpelledText("AB123"), FitFault.LENGTH),
        (CODE, SpelledText(""), FitFault.LENGTH),
        (DAY, SpokenDate(date(2027, 1, 1)), None),
        (DAY, number("3"), FitFault.OTHER_KIND),
    ],
)
def test_each_value_is_held_against_its_field(field, value, fault):
    misfit = misfit_of(*asked(field), value)
    assert (misfit.fault if misfit is not None else None) == fault


def test_a_misfit_names_the_limits():
    misfit = misfit_of(*asked(NUMBER), number("41"))
    assert misfit is not None
    assert (misfit.number.low, misfit.number.high, misfit.number.decimals, misfit.number.unit) == (2, 40, 1, "cm")
    assert misfit_of(*asked(OPTIONS), Option("hot")).options == ("warm", "cool")
    assert misfit_of(*asked(CODE), SpelledText("AB123")).max_length == 4


@pytest.mark.parametrize("value", [GAP, Between(Decimal("2"), Decimal("3")), Beyond("<", Decimal("3"))])
@pytest.mark.parametrize(
    ("field", "more"),
    [
        (DUE, {"timing": "after"}),
        (NUMBER, {"timing": "baseline", "size_from": "device"}),
        (NUMBER, {"timing": "baseline", "repeat_within": {"fields": ("a", "a"), "tolerance": Decimal("0.5")}}),
    ],
)
def test_what_is_computed_from_needs_one_number(field, more, value):
    assert misfit_of(*asked(field, **more), value).fault is FitFault.NEEDS_ONE_NUMBER
    assert misfit_of(*asked(NUMBER, timing="baseline"), value) is None


def test_a_gap_is_taken_where_the_step_has_a_time():
    assert misfit_of(*asked(OPTIONS), GAP).fault is FitFault.NEEDS_ANSWER
    assert misfit_of(*asked(OPTIONS, timing="during"), GAP) is None


@pytest.mark.parametrize("name", ["ulnar-splint-fitting", "neurovascular-check", "thermometer-calibration"])
def test_scenarios_and_amendments_agree_on_the_bundled_procedures(name):
    procedure = load_bundle(name).procedure
    seen = 0
    for step in procedure.steps:
        for field in step.fields:
            if field.number is not None:
                low, high = field.number.low, field.number.high
                texts = [str(amount) for amount in (low, high, low - 1, high + 1, low + Decimal("0.12345"))]
            elif field.options is not None:
                texts = [*field.options, "no-such-option"]
            elif field.identifier is not None:
                texts = ["A1", "A" * field.identifier.max_length, "A" * (field.identifier.max_length + 1)]
            else:
                continue
            for text in texts:
                number = Decimal(text) if field.number is not None else None
                value = (
                    Exact(number, places_of(number))
                    if number is not None
                    else Option(text)
                    if field.options is not None
                    else SpelledText(text)
                )
                amended = value_fault(procedure, step.id, field.id, value)
                scripted = spoken_answers.value_fault(step, field, text)
                assert bool(amended) == bool(scripted), (step.id, field.id, text, amended, scripted)
                seen += bool(amended)
    assert seen >= 5


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        (NUMBER, "41", "41 is not from 2 to 40"),
        (NUMBER, "3.25", "has more than 1 decimals"),
        (NUMBER, "NaN", "is not from 2 to 40"),
        (NUMBER, "many", "is no number"),
        (OPTIONS, "hot", "is no option of it (there are: warm, cool)"),
        (CODE, "AB123", "is no code of at most 4 capitals and digits"),
        (CODE, "a1", "is no code"),
        (CODE, "", "is no code"),
        (DAY, "2026-02-30", "is no date"),
    ],
)
def test_what_is_wrong_in_a_scenario_is_said_with_what_would_be_right(field, value, words):
    assert words in spoken_answers.value_fault(*asked(field), value)
