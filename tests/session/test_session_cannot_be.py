"""Dates and numbers that cannot be are asked again at once, with the reason; the limits are in the file.

The limits of the bundled files are common practice, no source, but for the scale of pain: 0 to 10, LOINC 72514-3.
Months by the calendar, to the last day of a shorter month: as a due date of a month is reckoned (common practice).
"""

from datetime import date
from decimal import Decimal

import pytest
from procedure_files import PROCEDURE, write_files
from pydantic import ValidationError
from talking import Talk

from handsfree.definition.date_limits import day_of
from handsfree.definition.field_form import DateField, Number
from handsfree.definition.loader import load_bundle
from handsfree.definition.value_checking import value_fault
from handsfree.errors import ProcedureFileError
from handsfree.model.commands import NumberSlot, ScanLabel, Wanted
from handsfree.model.readings import HowToSay, NeedsAsking, Refused, SpokenDate
from handsfree.model.refusals import DateTooEarly, DateTooLate
from handsfree.simulation.spoken_answers import hoped_for
from handsfree.understanding.interpreter import interpret, typed

TODAY = date(2026, 11, 25)
BUNDLED = (
    "wrist-splint-fitting",
    "thumb-splint-fitting",
    "ulnar-splint-fitting",
    "neurovascular-check",
    "splint-removal",
    "thermometer-calibration",
    "light-output-check",
)


@pytest.mark.parametrize(
    ("limit", "day"),
    [
        ("today", date(2026, 11, 25)),
        ("today - 2 years", date(2024, 11, 25)),
        ("today + 1 year", date(2027, 11, 25)),
        ("today + 3 months", date(2027, 2, 25)),
        ("today - 11 months", date(2025, 12, 25)),
        ("today - 30 days", date(2026, 10, 26)),
        ("today - 9999 years", date.min),
        ("today + 9999 years", date.max),
    ],
)
def test_a_day_by_the_day_of_the_visit(limit, day):
    assert day_of(limit, TODAY) == day


def test_a_month_that_has_no_such_day_ends_on_its_last():
    assert day_of("today + 1 months", date(2027, 1, 31)) == date(2027, 2, 28)
    assert day_of("today - 1 years", date(2028, 2, 29)) == date(2027, 2, 28)


@pytest.mark.parametrize("limit", ["tomorrow", "today -2 years", "today - 0 days", "2 years", "today + 2 weeks"])
def test_another_way_to_write_a_limit_is_refused(limit):
    with pytest.raises(ValidationError):
        DateField(earliest=limit)


@pytest.mark.parametrize(
    ("keys", "what"),
    [
        ({"earliest": "today + 1 day", "latest": "today"}, "must not lie after latest"),
        ({"not_before": "today", "latest": "today - 1 day"}, "every date would stop"),
        ({"not_before": "today", "earliest": "today"}, "lies before not_before"),
    ],
)
def test_limits_of_a_date_that_leave_nothing_are_refused(keys, what):
    with pytest.raises(ValidationError, match=what):
        DateField(**keys)


def test_a_number_whose_smallest_is_not_below_its_largest_is_refused():
    with pytest.raises(ValidationError, match="low 10 must be below high 1"):
        Number(unit="cm", low=Decimal(10), high=Decimal(1))


def test_a_source_of_a_range_must_be_listed(tmp_path):
    number = "number: {unit: cm, low: 5, high: 60, decimals: 1"
    path = write_files(tmp_path, procedure=PROCEDURE.replace(number, f"{number}, range_source: hearsay", 1))
    with pytest.raises(ProcedureFileError, match="range_source: hearsay is not listed under sources"):
        load_bundle(str(path))


@pytest.mark.parametrize(
    ("day", "reason", "words"),
    [
        (date(2026, 11, 26), DateTooLate("injury", TODAY), "Injury cannot lie after twenty five November"),
        (date(1890, 1, 1), DateTooEarly("injury", date(2024, 11, 25)), "Injury cannot lie before twenty five November"),
    ],
)
def test_an_injury_tomorrow_or_in_1890_is_asked_again(day, reason, words):
    talk = Talk(load_bundle("wrist-splint-fitting")).go_to("injury_date")
    talk.give(date=day)
    assert talk.kinds == ["reading_refused"]
    assert talk.facts("reading_refused")[0].reason == reason
    assert words in talk.said
    assert (talk.at, talk.mode) == ("injury_date", "asking")
    talk.give(date=TODAY)
    assert talk.mode == "reading_back"


def test_a_clinic_visit_before_today_is_asked_again_and_an_expired_package_stops():
    talk = Talk(load_bundle("wrist-splint-fitting")).go_to("device_expiry")
    talk.give(expiry=date(2026, 10, 31))
    talk.affirm()
    assert talk.mode == "held"  # it can be, and must not be used: nobody lifts it, another package is taken
    talk.say("override")
    assert (talk.mode, talk.kinds) == ("held", ["command_refused"])
    talk.say("correction")
    talk.give(expiry=date(2027, 11, 30))
    talk.affirm()
    talk.go_to("follow_up_clinic")
    talk.give(clinic=date(2026, 11, 24))
    assert talk.facts("reading_refused")[-1].reason == DateTooEarly("clinic", TODAY)
    assert talk.mode == "asking"
    talk.give(clinic=TODAY)
    talk.affirm()
    assert talk.mode == "asking"


def test_a_label_with_a_date_that_cannot_be_is_not_taken():
    talk = Talk(load_bundle("wrist-splint-fitting")).go_to("device_lot")
    talk.speak(ScanLabel(gtin="06291041500213", lot="A213", expiry=date(2099, 12, 31)), words="01...")
    refused = talk.facts("reading_refused")[0]
    assert (refused.stage, refused.field) == ("device_expiry", "expiry")
    assert refused.reason == DateTooLate("expiry", date(2036, 11, 25))
    assert talk.facts("reading_proposed")[-1].step != "device_lot"


def typed_value(line, slot):
    wanted = Wanted(frozenset(), (slot,))
    heard = typed(line, wanted, 0.0)
    assert heard is not None
    return interpret(heard, wanted).values[0].value


def test_digits_that_are_too_many_are_told_as_such():
    slot = NumberSlot("first", ("first",), "cm", Decimal(5), Decimal(60), 1)
    assert typed_value("16.51234", slot) == NeedsAsking(HowToSay.TOO_MANY_DECIMALS, ("1",))
    assert typed_value("one six point five one", slot) == NeedsAsking(HowToSay.TOO_MANY_DECIMALS, ("1",))
    assert typed_value("1651", slot) == Refused(HowToSay.IMPLAUSIBLE, ("5", "60", "1651"))
    whole = NumberSlot("score", ("score",), "{score}", Decimal(0), Decimal(10))
    assert typed_value("3.12345", whole) == NeedsAsking(HowToSay.WHOLE_NUMBER)


@pytest.mark.parametrize("name", BUNDLED)
def test_every_date_and_number_of_the_bundled_files_has_limits_with_a_source(name):
    procedure = load_bundle(name).procedure
    for step in procedure.steps:
        for field in step.fields:
            if field.date is not None:
                assert field.date.earliest is not None, f"{step.id}.{field.id}"
                assert field.date.latest is not None, f"{step.id}.{field.id}"
            limits = field.number or field.date
            if limits is not None:
                assert (limits.range_source or field.source or step.source) in procedure.sources


@pytest.mark.parametrize("name", BUNDLED)
def test_a_scripted_person_says_no_date_that_cannot_be(name):
    bundle = load_bundle(name)
    for step in bundle.procedure.steps:
        for field in step.fields:
            if field.date is not None:
                day = SpokenDate(date.fromisoformat(hoped_for(field, bundle, TODAY, step)))
                assert value_fault(bundle.procedure, step.id, field.id, day, TODAY) == ""


def test_an_amended_date_that_cannot_be_is_refused_with_the_reason():
    procedure = load_bundle("wrist-splint-fitting").procedure
    told = value_fault(procedure, "injury_date", "date", SpokenDate(date(2026, 12, 1)), TODAY)
    assert told == "injury cannot lie after 2026-11-25, and 2026-12-01 does"
    told = value_fault(procedure, "follow_up_clinic", "clinic", SpokenDate(date(1890, 1, 1)), TODAY)
    assert told == "clinic cannot lie before 2026-11-25, and 1890-01-01 does"
