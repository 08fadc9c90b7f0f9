"""How values are said back."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from handsfree.definition.form import StepField
from handsfree.definition.profile_form import Band
from handsfree.definition.verbalization import (
    UNITS,
    cardinal,
    digits,
    duration_words,
    number,
    number_twice,
    spelled,
    spoken_date,
    value_words,
)
from handsfree.model.readings import (
    Absent,
    AbsentReason,
    Ambiguous,
    Between,
    Beyond,
    Exact,
    Option,
    SpelledText,
    SpokenDate,
    plain,
    value_text,
)

DECIMALS = st.decimals(min_value=-9999, max_value=9999, places=2, allow_nan=False, allow_infinity=False)
ANGLE = StepField.model_validate_json('{"id":"w","label":"wrist","number":{"unit":"deg","low":-90,"high":90}}')
REFILL = StepField.model_validate_json(
    '{"id":"r","label":"refill","number":{"unit":"s","low":0,"high":10,"decimals":1}}'
)
TOUCH = StepField.model_validate_json(
    '{"id":"t","label":"touch","options":{"intact":["intact","fine"],"gone":["gone"]}}'
)
LOT = StepField.model_validate_json('{"id":"l","label":"lot","identifier":{}}')
DAY = StepField.model_validate_json('{"id":"d","label":"expiry","date":{"month_only":true}}')
BAND = Band(low=Decimal(10), confirm_from=Decimal(15), confirm_to=Decimal(20), high=Decimal(25), direction="extension")


@given(st.integers(min_value=-999_999, max_value=999_999))
def test_cardinals_agree_with_num2words(value):
    # Oracle: the independent library num2words, English, with its "and", commas and hyphens taken out.
    expected = num2words(value).replace("-", " ").replace(",", "").replace(" and ", " ")
    assert cardinal(value) == expected


@given(DECIMALS)
def test_decimals_agree_with_num2words(value):
    # The oracle drops the sign of numbers such as -0.01, so the sign is checked by itself.
    size = abs(value)
    expected = num2words(size.normalize() if size % 1 else int(size)).replace("-", " ")
    sign = "minus " if value < 0 else ""
    assert number(value) == sign + expected.replace(",", "").replace(" and ", " ")


@given(DECIMALS)
def test_figures_mean_the_same_number_and_have_no_trailing_zero(value):
    # ISMP list of error-prone notations: no trailing zero, a zero before the point (from memory).
    text = plain(value)
    assert Decimal(text) == value
    assert not ("." in text and text.endswith(("0", ".")))
    assert not text.lstrip("-").startswith(".")


def test_no_exponent_is_ever_spoken():
    assert plain(Decimal("1E+2")) == "100"
    assert number(Decimal("1E+2")) == "one hundred"


@pytest.mark.parametrize(
    ("value", "words"),
    [
        # "Fifteen, one five": Pennsylvania Patient Safety Advisory, June 2006; ISMP newsletter, 24 January 2001.
        ("15", "fifteen, one five"),
        ("50", "fifty, five zero"),
        ("16.5", "sixteen point five, one six point five"),
        ("0.8", "zero point eight"),
        ("-5", "minus five"),
        ("-15", "minus fifteen, minus one five"),
        ("7", "seven"),
        ("18.0", "eighteen, one eight"),
    ],
)
def test_a_number_is_said_as_a_number_and_by_its_digits(value, words):
    assert number_twice(Decimal(value)) == words


@pytest.mark.parametrize(("value", "words"), [("15", "one five"), ("50", "five zero"), ("16.5", "one six point five")])
def test_in_short_a_number_is_said_by_its_digits_alone(value, words):
    # Digit by digit is what tells them apart in the advisory above.
    assert value_words(ANGLE, Exact(Decimal(value)), short=True) == words


def test_numbers_that_sound_alike_are_read_back_differently_by_their_digits():
    # 13 and 30 … 19 and 90 sound alike (same advisory): the digits must tell them apart.
    for teen in range(13, 20):
        tens = (teen - 10) * 10
        assert digits(str(teen)).split() != digits(str(tens)).split()
        assert digits(str(teen)).startswith("one ")
        assert digits(str(tens)).endswith(" zero")


def test_codes_are_spelled_in_the_radiotelephony_alphabet():
    # ICAO Annex 10 Vol II 5.2.1.3: every word of the alphabet, in order.
    words = (
        "Alfa Bravo Charlie Delta Echo Foxtrot Golf Hotel India Juliett Kilo Lima Mike November Oscar Papa Quebec "
        "Romeo Sierra Tango Uniform Victor Whiskey X-ray Yankee Zulu"
    )
    assert spelled("ABCDEFGHIJKLMNOPQRSTUVWXYZ").replace(",", "") == words.lower()


def test_codes_come_in_groups_of_three():
    # Common practice, no source.
    assert spelled("A4B27") == "alfa four bravo, two seven"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.4, "less than a second"),
        (1.9, "one second"),
        (59, "fifty nine seconds"),
        (61, "one minute"),
        (7_199, "one hour"),
        (172_800, "two days"),
    ],
)
def test_lengths_of_time_are_said_in_one_unit(seconds, words):
    # Common practice, no source.
    assert duration_words(seconds) == words


def test_a_scanned_code_may_hold_small_letters_and_signs():
    # GS1 General Specifications: lot and serial numbers use character set 82, among it a-z and - . / _ ( ) % &.
    assert spelled("a4-B") == "small alfa four hyphen, bravo"
    assert spelled("(%&") == "left parenthesis percent sign ampersand"


def test_dates_name_the_month_and_say_the_year_digit_by_digit():
    # 21 CFR 801.18 writes year, month, day; aloud the month is named so that it cannot be taken for the day.
    assert spoken_date(date(2026, 11, 3)) == "three November, two zero two six"
    assert spoken_date(date(2031, 10, 31), month_only=True) == "the end of October, two zero three one"


@pytest.mark.parametrize(
    ("field", "value", "band", "words", "text"),
    [
        # "Eighteen, one eight, degrees extension": sign convention of joint angles, AAOS neutral-zero (from memory).
        (ANGLE, Exact(Decimal(18)), BAND, "eighteen, one eight, degrees extension", "18"),
        (ANGLE, Exact(Decimal(18)), None, "eighteen, one eight, degrees", "18"),
        (REFILL, Exact(Decimal("1.0"), 1), None, "one, seconds", "1"),
        (REFILL, Between(Decimal(2), Decimal(3)), None, "two to three, seconds", "2-3"),
        (REFILL, Beyond("<", Decimal(2)), None, "less than two, seconds", "<2"),
        (REFILL, Beyond(">", Decimal("2.5")), None, "more than two point five, seconds", ">2.5"),
        (TOUCH, Option("intact"), None, "intact", "intact"),
        (TOUCH, Absent(AbsentReason.NOT_PERFORMED), None, "not done", "not-performed"),
        (LOT, SpelledText("X9"), None, "x-ray nine", "X9"),
        (
            DAY,
            SpokenDate(date(2028, 2, 29), month_only=True),
            None,
            "the end of February, two zero two eight",
            "2028-02-29",
        ),
    ],
)
def test_values_in_words_and_in_the_record(field, value, band, words, text):
    assert value_words(field, value, band) == words
    assert value_text(value) == text


@pytest.mark.parametrize("reason", list(AbsentReason))
def test_every_reason_for_no_value_has_words(reason):
    # Codes of the HL7 code system data-absent-reason; the words are our own.
    assert value_words(TOUCH, Absent(reason)).isascii()
    assert value_text(Absent(reason)) == reason.value


def test_what_is_no_value_is_never_read_back_as_one():
    with pytest.raises(TypeError):
        value_words(ANGLE, Ambiguous((Decimal(15), Decimal(50))))
    with pytest.raises(TypeError):
        value_text(Ambiguous((Decimal(15), Decimal(50))))


def test_units_are_said_in_words():
    # UCUM codes never reach the synthesizer, save for the empty name of a score.
    assert all(name == "" or name.replace(" ", "").isalpha() for name in UNITS.values())
