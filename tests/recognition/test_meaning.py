"""Which tags mean the same. Source of the equal pairs: the interpreter, which reads both to the same value."""

from decimal import Decimal

import pytest

from handsfree.model.commands import DateSlot, NumberSlot
from handsfree.recognition.same_meaning import same_meaning_key
from handsfree.understanding.dates import read_date
from handsfree.understanding.numbers import read_number

SLOT = NumberSlot("x", (), "cm", Decimal(0), Decimal(999), 1)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("tens:20", "digit:1"), ("digit:2", "digit:1")),
        (("digit:1", "hundred", "tens:70", "digit:5"), ("digit:1", "digit:7", "digit:5")),
        (("digit:1", "hundred", "and", "digit:5"), ("digit:1", "digit:0", "digit:5")),
        (("digit:2", "hundred"), ("digit:2", "digit:0", "digit:0")),
        (("tens:20", "digit:1", "point", "digit:5"), ("digit:2", "digit:1", "point", "digit:5")),
    ],
)
def test_equal_numbers(one: tuple[str, ...], other: tuple[str, ...]) -> None:
    assert same_meaning_key(one) == same_meaning_key(other)
    assert read_number(one, SLOT) == read_number(other, SLOT)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("tens:20", "tens:20", "digit:7"), ("digit:2", "digit:0", "digit:2", "digit:7")),
        (("teen:19", "tens:90"), ("digit:1", "digit:9", "digit:9", "digit:0")),
    ],
)
def test_equal_years(one: tuple[str, ...], other: tuple[str, ...]) -> None:
    slot = DateSlot("expiry", (), month_only=True)
    first, second = (("month:3", *year) for year in (one, other))
    assert same_meaning_key(first) == same_meaning_key(second)
    assert read_date(first, slot) == read_date(second, slot)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("digit:1", "tens:80"), ("digit:1", "digit:8", "digit:0")),
        (("tens:20", "digit:1", "digit:5"), ("digit:2", "digit:1", "digit:5")),
        (("tens:20", "tens:20", "digit:7"), ("digit:2", "digit:0", "digit:2", "digit:7")),
        (("month:3", "tens:20", "tens:20", "digit:6"), ("month:3", "digit:2", "digit:0", "digit:2", "digit:7")),
        (("digit:5",), ("digit:0", "digit:5")),
        (("digit:1", "digit:5"), ("digit:1", "point", "digit:5")),
        (("slot:a", "digit:1"), ("slot:b", "digit:1")),
        (("control:stop",), ("control:wait",)),
    ],
)
def test_different_meanings(one: tuple[str, ...], other: tuple[str, ...]) -> None:
    assert same_meaning_key(one) != same_meaning_key(other)
