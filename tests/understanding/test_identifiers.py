"""GS1 element strings and device dates.

Source of all strings: GS1 General Specifications; the number 6291041500213 is GS1's own worked check-digit example.
"""

from datetime import date

import pytest

from handsfree.model.commands import ScanLabel
from handsfree.model.reasons import ScanFault, ScanFaultCode
from handsfree.understanding.dates import month_end
from handsfree.understanding.identifiers import gs1_date, read_gs1

TODAY = date(2026, 11, 25)
GTIN = "0106291041500213"


@pytest.mark.parametrize(
    "text",
    [
        "]d2" + GTIN + "17271231" + "10A213B1\x1d21SN123",
        GTIN + "17271231" + "10A213B1\x1d21SN123",
        "(01)06291041500213(17)271231(10)A213B1(21)SN123",
    ],
)
def test_a_whole_label(text):
    assert read_gs1(text, TODAY) == ScanLabel(
        gtin="06291041500213", lot="A213B1", serial="SN123", expiry=date(2027, 12, 31)
    )


def test_a_wrong_check_digit_is_a_fault():
    # The library alone returns the element and goes on.
    label = read_gs1("0106291041500214" + "17271231", TODAY)
    assert label.faults == (ScanFault(ScanFaultCode.CHECK_DIGIT),)


def test_a_missing_separator_is_suspected():
    # The library alone reads lot "A213B121SN123".
    label = read_gs1(GTIN + "17271231" + "10A213B121SN123", TODAY)
    assert label.lot == "A213B121SN123"
    assert label.faults == (ScanFault(ScanFaultCode.GLUED),)


def test_a_lot_in_brackets_cannot_be_glued():
    assert read_gs1("(01)06291041500213(10)A213B121SN123", TODAY).faults == ()


@pytest.mark.parametrize(
    "text",
    [
        GTIN + "17271301",  # month 13
        GTIN + "17270230",  # 30 February
        "01062910415002",  # cut short
        "(17)271231(99",
        "hello",
        GTIN + "10" + "A" * 21,  # AI (10) holds at most 20 characters
        "17271231" + "17281231",  # one field, two values
    ],
)
def test_faulty_labels_say_so(text):
    assert read_gs1(text, TODAY).faults


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("271231", date(2027, 12, 31)),
        ("280200", date(2028, 2, 29)),
        ("760101", date(2076, 1, 1)),
        ("770101", date(1977, 1, 1)),
    ],
)
def test_century_and_day_nought(text, day):
    # Source: GS1 General Specifications 7.12, worked for the year 2026 (rule from memory, values computed by hand).
    assert gs1_date(text, TODAY) == day


def test_century_turns_forward_late_in_a_century():
    # Source: the same rule: 50 to 99 years back is the next century.
    assert gs1_date("040101", date(2096, 1, 1)) == date(2104, 1, 1)


def test_month_end_in_century_years():
    # Source: Gregorian calendar: 2000 is a leap year, 2100 is not.
    assert month_end(2000, 2).day == 29
    assert month_end(2100, 2).day == 28
