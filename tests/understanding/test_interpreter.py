"""From words and typed lines to commands."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.model.commands import (
    Control,
    ControlCommand,
    DateSlot,
    DictateText,
    GiveValues,
    IdentifierSlot,
    NumberSlot,
    OptionPhrases,
    OptionSlot,
    ScanLabel,
    SlotValue,
    Wanted,
)
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import (
    Absent,
    AbsentReason,
    Between,
    Beyond,
    Exact,
    HowToSay,
    NeedsAsking,
    Option,
    Refused,
    Side,
    SpelledText,
    SpokenDate,
)
from handsfree.model.reasons import ScanFault, ScanFaultCode
from handsfree.understanding.interpreter import interpret, typed

WRIST = NumberSlot("wrist", ("wrist",), "cm", Decimal(-90), Decimal(90), decimals=1, sides=(Side.LEFT, Side.RIGHT))
LOT = IdentifierSlot("lot", ("lot",))
EXPIRY = DateSlot("expiry", ("expiry",), month_only=True)
PULSE = OptionSlot(
    "pulse", ("pulse",), (OptionPhrases("normal", ("normal",)), OptionPhrases("weak", ("weak", "thready")))
)


def understood(line: str, *slots, controls=frozenset(Control), dictation=False):
    wanted = Wanted(controls=controls, slots=slots, dictation=dictation)
    hypothesis = typed(line, wanted, 3.0)
    return None if hypothesis is None else interpret(hypothesis, wanted)


def one_value(line: str, slot):
    command = understood(line, slot)
    assert isinstance(command, GiveValues), command
    assert len(command.values) == 1
    return command.values[0].value


@pytest.mark.parametrize(
    ("line", "value"),
    [
        # Typed forms: our own convention, no source.
        ("17.5", Exact(Decimal("17.5"), 1)),
        ("17,5 cm", Exact(Decimal("17.5"), 1, "cm")),
        ("17.0cm", Exact(Decimal(17), 1, "cm")),
        ("15", Exact(Decimal(15))),
        ("-5", Exact(Decimal(-5))),
        ("wrist 18", Exact(Decimal(18))),
        ("< 2", Beyond("<", Decimal(2))),
        ("2-3", Between(Decimal(2), Decimal(3))),
        ("Not done.", Absent(AbsentReason.NOT_PERFORMED)),
    ],
)
def test_typed_numbers(line, value):
    assert one_value(line, WRIST) == value


def test_another_unit_is_never_converted():
    # Source: hazard list: an inch is 2.54 cm (international yard and pound agreement, 1959).
    assert isinstance(one_value("seven inches", WRIST), NeedsAsking)


def test_two_sides_in_one_breath():
    assert understood("left one five right one six", WRIST) == GiveValues(
        (
            SlotValue("wrist", Exact(Decimal(15)), Side.LEFT),
            SlotValue("wrist", Exact(Decimal(16)), Side.RIGHT),
        )
    )


def test_the_same_side_twice_is_asked_about():
    command = understood("left one five left one six", WRIST)
    assert isinstance(command, GiveValues)
    assert [type(value.value) for value in command.values] == [NeedsAsking]


def test_several_slots_in_one_breath():
    assert understood("wrist one eight pulse thready", WRIST, PULSE) == GiveValues(
        (SlotValue("wrist", Exact(Decimal(18))), SlotValue("pulse", Option("weak")))
    )


def test_pauses_written_as_commas_are_passed_over():
    written = understood("wrist one eight, pulse thready", WRIST, PULSE)
    assert written is not None
    assert written == understood("wrist one eight pulse thready", WRIST, PULSE)


def test_yes_and_no_are_typed_where_they_are_heard():
    wanted = Wanted(frozenset({Control.AFFIRM, Control.NEGATE}))
    for line, control in (("yes", Control.AFFIRM), ("No", Control.NEGATE)):
        assert typed(line, wanted, 0.0) is None
        asked = replace(wanted, yes_or_no=True)
        found = typed(line, asked, 0.0)
        assert found is not None
        assert interpret(found, asked) == ControlCommand(control)


def test_stop_words_need_not_be_listed():
    assert understood("light off", controls=frozenset()) == ControlCommand(Control.LIGHT_OFF)


def test_a_control_that_is_not_legal_means_nothing():
    heard = Hypothesis(("next", "step"), ("control:next_step",), 0.0, 1.0, "any")
    assert interpret(heard, Wanted()) is None


def test_a_value_for_a_slot_that_is_not_asked_for_means_nothing():
    heard = Hypothesis(("one",), ("slot:gone", "digit:1"), 0.0, 1.0, "any")
    assert interpret(heard, Wanted(slots=(WRIST,))) is None


@pytest.mark.parametrize("line", ["", "  ", "seventeenish", "17.5.3", "left", "🙂", "1e5"])
def test_other_lines_mean_nothing(line):
    command = understood(line, WRIST)
    assert command is None or isinstance(command.values[0].value, Refused | NeedsAsking)


def test_a_copied_value_is_refused():
    assert isinstance(one_value("same as the other side", WRIST), Refused)
    assert isinstance(one_value("no change", PULSE), Refused)


@pytest.mark.parametrize(
    ("line", "code"),
    [("A15B", "A15B"), ("lot A15B", "A15B"), ("alfa one five bravo", "A15B"), ("x-ray zero", "X0"), ("l0t", "L0T")],
)
def test_codes(line, code):
    assert one_value(line, LOT) == SpelledText(code)


def test_a_code_longer_than_gs1_allows_is_asked_about():
    # Source: GS1 AI (10): at most 20 characters.
    assert isinstance(one_value("A" * 21, LOT), NeedsAsking)


def test_a_scanned_label_answers_lot_and_expiry():
    # Source: GS1 General Specifications; element string of the worked example 6291041500213.
    line = "]d2010629104150021317271231" + "10A213B1\x1d21SN123"
    label = ScanLabel(gtin="06291041500213", lot="A213B1", serial="SN123", expiry=date(2027, 12, 31))
    assert understood(line, LOT) == understood(line, EXPIRY) == label
    assert understood("(01)06291041500213(17)271231(10)A213B1(21)SN123", LOT) == label


def test_a_scanned_label_with_a_wrong_check_digit_says_so():
    # Source: GS1 check digit, worked example: 629104150021 has check digit 3, so 4 is wrong.
    label = understood("0106291041500214" + "10A3B1", LOT)
    assert label.faults == (ScanFault(ScanFaultCode.CHECK_DIGIT),)


def test_a_label_is_no_number():
    # A GS1 string begins with a digit as well; where a number is asked for it is none.
    assert typed("010629104150021317271231", Wanted(slots=(WRIST,)), 0.0) is None


@pytest.mark.parametrize(
    ("line", "day"),
    [
        ("2027-12", date(2027, 12, 31)),
        ("2028-02", date(2028, 2, 29)),
        ("2027-12-05", date(2027, 12, 5)),
        ("december two zero two seven", date(2027, 12, 31)),
        ("december twenty twenty seven", date(2027, 12, 31)),
        ("five march two zero two seven", date(2027, 3, 5)),
        ("march two one two zero two seven", date(2027, 3, 21)),
        ("two zero two seven march twenty one", date(2027, 3, 21)),
    ],
)
def test_dates(line, day):
    # Source: ISO 8601 for the typed forms; month precision means the last day, as GS1 day 00 does.
    value = one_value(line, EXPIRY)
    assert isinstance(value, SpokenDate)
    assert value.value == day


@pytest.mark.parametrize("line", ["03 04 27", "2027-13", "february three zero two zero two seven", "thirty march 2027"])
def test_dates_that_must_be_asked(line):
    command = understood(line, EXPIRY)
    assert command is None or isinstance(command.values[0].value, NeedsAsking)


def test_dictation_passes_text_and_hears_its_end():
    assert understood("The skin is warm, no blister.", dictation=True) == DictateText("The skin is warm, no blister.")
    assert understood("end note", dictation=True) == ControlCommand(Control.END_NOTE)
    assert understood("stop", dictation=True) == ControlCommand(Control.STOP)
    spoken = Hypothesis(("Patient", "moved.", "End", "note."), (), 0.0, 2.0, "any")
    assert interpret(spoken, Wanted(dictation=True)) == DictateText("Patient moved.")
    spoken_end = Hypothesis(("End", "note."), (), 0.0, 2.0, "any")
    assert interpret(spoken_end, Wanted(frozenset({Control.END_NOTE}), dictation=True)) == ControlCommand(
        Control.END_NOTE
    )


DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


@settings(max_examples=60, deadline=None)
@given(st.integers(-899, 899), st.booleans())
def test_digits_said_one_by_one_come_back_as_the_number(tenths, typed_form):
    # Source: ISMP and ICAO Doc 9432: digits join.
    number = Decimal(tenths) / 10
    text = (
        f"{number:f}"
        if typed_form
        else " ".join({"-": "minus", ".": "point"}.get(c) or DIGITS[int(c)] for c in f"{number:f}")
    )
    value = one_value(text, WRIST)
    assert isinstance(value, Exact)
    assert value.value == number


ALPHABET = (
    "alfa", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india", "juliett", "kilo", "lima", "mike",
    "november", "oscar", "papa", "quebec", "romeo", "sierra", "tango", "uniform", "victor", "whiskey", "x-ray",
    "yankee", "zulu",
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789", min_size=1, max_size=20))
def test_a_code_spelled_by_alphabet_comes_back(code):
    # Source: ICAO Annex 10 Vol II 5.2.1.3, first column.
    words = [DIGITS[int(c)] if c.isdecimal() else ALPHABET[ord(c) - ord("A")] for c in code]
    assert one_value(" ".join(words), LOT) == SpelledText(code)


# UCUM codes and names: the Unified Code for Units of Measure, table of prefixes and base units, 2.2 (from memory).
@pytest.mark.parametrize(
    ("unit", "words", "amount", "other"),
    [
        ("kg", "eight four kilograms", 84, "eight four pounds"),
        ("g", "two five grams", 25, "two five kilograms"),
        ("mL", "five zero milliliters", 50, "five zero liters"),
        ("L", "two liters", 2, "two milliliters"),
        ("m", "six meters", 6, "six centimeters"),
        ("h", "three hours", 3, "three minutes"),
        ("mm[Hg]", "three zero millimeters of mercury", 30, None),
        ("/min", "seven two per minute", 72, None),
    ],
)
def test_units_of_other_trades_are_said_and_a_wrong_one_is_asked_about(unit, words, amount, other):
    wanted = Wanted(slots=(NumberSlot("amount", (), unit, Decimal(0), Decimal(300), decimals=1),))
    assert _value_of(words, wanted) == Exact(Decimal(amount), 0, unit)
    if other is not None:
        assert isinstance(_value_of(other, wanted), NeedsAsking)


def _value_of(words, wanted):
    heard = typed(words, wanted, 0.0)
    assert heard is not None
    return interpret(heard, wanted).values[0].value


CODE_ASKED = Wanted(frozenset({Control.WAIT}), slots=(IdentifierSlot("lot", ("lot",), 20),))


@pytest.mark.parametrize("line", ["affirmative", "RESUME", "LIGHTON", "light on", "correction", "NO", "yes"])
def test_a_typed_command_is_never_taken_for_a_code(line):
    # A lot that reads like a command is far rarer than a command typed where a lot is asked for: whoever types one that
    # does not count there is told how to spell a code, as with any other words.
    (given,) = interpret(typed(line, CODE_ASKED, 0.0), CODE_ASKED).values
    assert given.value == NeedsAsking(HowToSay.SPELL_ONE_BY_ONE)


@pytest.mark.parametrize(("line", "control"), [("stop", Control.STOP), ("HOT", Control.HOT), ("wait", Control.WAIT)])
def test_a_typed_command_that_is_legal_is_taken_where_a_code_is_asked_for(line, control):
    assert interpret(typed(line, CODE_ASKED, 0.0), CODE_ASKED) == ControlCommand(control)


@pytest.mark.parametrize(("line", "code"), [("N O", "NO"), ("lot AB12", "AB12"), ("STOP12", "STOP12"), ("A", "A")])
def test_what_is_no_command_is_a_code_still(line, code):
    (given,) = interpret(typed(line, CODE_ASKED, 0.0), CODE_ASKED).values
    assert given.value.text == code


@pytest.mark.parametrize(("line", "code"), [("alfa echo 4", "AE4"), ("lot kilo mike 12", "KM12"), ("AECHO4", "AECHO4")])
def test_digits_may_stand_beside_alphabet_words(line, code):
    # Taken letter by letter, "alfa echo 4" was the code AECHO4.
    (given,) = interpret(typed(line, CODE_ASKED, 0.0), CODE_ASKED).values
    assert given.value.text == code


@pytest.mark.parametrize("line", ["hello there", "sorry", "pause", "Undo", "lot hello", "john smith", "go to room"])
def test_words_are_no_code_and_are_refused_with_how_to_spell_one(line):
    # Letter by letter, "hello there" was the code HELLOTHERE; common practice, no source.
    (given,) = interpret(typed(line, CODE_ASKED, 0.0), CODE_ASKED).values
    assert given.value == NeedsAsking(HowToSay.SPELL_ONE_BY_ONE)


@pytest.mark.parametrize(
    ("line", "code"),
    [("AB", "AB"), ("ab", "AB"), ("KMX", "KMX"), ("k m x", "KMX"), ("lot kilo mike", "KM"), ("x9z", "X9Z")],
)
def test_letters_in_capitals_or_one_by_one_are_a_code(line, code):
    (given,) = interpret(typed(line, CODE_ASKED, 0.0), CODE_ASKED).values
    assert given.value.text == code


def test_words_that_may_be_a_cry_are_left_to_be_one():
    lit = replace(CODE_ASKED, controls=CODE_ASKED.controls | {Control.CRY})
    assert typed("my fingers tingle", lit, 0.0) is None
