"""How values are said back: in another form than they were heard, so that a mishearing is noticed.

Numbers are said as a number, then digit by digit, then with unit and direction: "eighteen, one eight, degrees
extension" (read-back of "fifteen, one five": ISMP newsletter 24 January 2001; Pennsylvania Patient Safety Advisory,
June 2006). Codes are said in the spelling alphabet of ICAO Annex 10 Vol II 5.2.1.3.
"""

import unicodedata
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from math import ceil

from handsfree.definition.form import Number, StepField
from handsfree.definition.profile_form import Band
from handsfree.model.readings import (
    Absent,
    AbsentReason,
    Between,
    Beyond,
    Exact,
    Option,
    SpelledText,
    SpokenDate,
    SpokenValue,
    plain,
)
from handsfree.understanding.dates import MONTHS

_SMALL = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"),
    *("ten", "eleven", "twelve", "thirteen", "fourteen"),
    *("fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_SIGNS = {"-": "hyphen", ".": "point", "/": "slash", "_": "underscore"}
_ALPHABET = {
    "A": "alfa",
    "B": "bravo",
    "C": "charlie",
    "D": "delta",
    "E": "echo",
    "F": "foxtrot",
    "G": "golf",
    "H": "hotel",
    "I": "india",
    "J": "juliett",
    "K": "kilo",
    "L": "lima",
    "M": "mike",
    "N": "november",
    "O": "oscar",
    "P": "papa",
    "Q": "quebec",
    "R": "romeo",
    "S": "sierra",
    "T": "tango",
    "U": "uniform",
    "V": "victor",
    "W": "whiskey",
    "X": "x-ray",
    "Y": "yankee",
    "Z": "zulu",
}
UNITS = {
    "cm": "centimeters",
    "mm": "millimeters",
    "[in_i]": "inches",
    "s": "seconds",
    "min": "minutes",
    "deg": "degrees",
    "Cel": "degrees Celsius",
    "K": "kelvins",
    "%": "percent",
    "mW/cm2": "milliwatts per square centimeter",
    "m": "meters",
    "kg": "kilograms",
    "[lb_av]": "pounds",
    "g": "grams",
    "mL": "milliliters",
    "L": "liters",
    "h": "hours",
    "mm[Hg]": "millimeters of mercury",
    "/min": "per minute",
    "{score}": "",
    "1": "",
}
"""Spoken names of UCUM units."""
_ABSENT = {
    AbsentReason.NOT_PERFORMED: "not done",
    AbsentReason.ASKED_UNKNOWN: "cannot be assessed",
    AbsentReason.ASKED_DECLINED: "declined",
    AbsentReason.NOT_APPLICABLE: "not applicable",
    AbsentReason.ERROR: "no value",
}


def unit_words(number: Number) -> str:
    """What the unit of a number is called aloud: as the file says, else as it is called here, else as it is written."""
    return number.spoken if number.spoken is not None else UNITS.get(number.unit, number.unit)


def cardinal(value: int) -> str:
    """A whole number below a million in words."""
    if value < 0:
        return f"minus {cardinal(-value)}"
    if value < 20:
        return _SMALL[value]
    if value < 100:
        tens, rest = divmod(value, 10)
        return _TENS[tens] + (f" {_SMALL[rest]}" if rest else "")
    size, name = (1000, "thousand") if value >= 1000 else (100, "hundred")
    count, rest = divmod(value, size)
    return f"{cardinal(count)} {name}" + (f" {cardinal(rest)}" if rest else "")


def duration_words(seconds: float) -> str:
    """A length of time in its largest whole unit, rounded down."""
    for size, name in ((86_400, "day"), (3_600, "hour"), (60, "minute"), (1, "second")):
        count = min(int(seconds) // size, 999_999)
        if count:
            return f"{cardinal(count)} {name}{'' if count == 1 else 's'}"
    return "less than a second"


def time_left_words(seconds: float) -> str:
    """A length of time in hours, minutes and seconds, the two largest of them, rounded up to a second."""
    left = max(0, ceil(seconds))
    parts = []
    for size, name in ((3_600, "hour"), (60, "minute"), (1, "second")):
        count, left = divmod(left, size)
        if count:
            parts.append(f"{cardinal(min(count, 999_999))} {name}{'' if count == 1 else 's'}")
    return " ".join(parts[:2]) or "nothing"


def digits(text: str) -> str:
    """Digits, point and sign one by one."""
    names = {"-": "minus", ".": "point"}
    return " ".join(names[c] if c in names else _SMALL[int(c)] for c in text)


def number(value: Decimal) -> str:
    """A number in words."""
    whole, _, part = plain(value).partition(".")
    sign = "minus " if whole.startswith("-") else ""
    return sign + cardinal(abs(int(whole))) + (f" point {digits(part)}" if part else "")


def number_twice(value: Decimal) -> str:
    """A number in words and, where that adds something, digit by digit."""
    text = plain(value)
    words, one_by_one = number(value), digits(text)
    return words if words == one_by_one else f"{words}, {one_by_one}"


def spelled(text: str) -> str:
    """A code in the spelling alphabet, in groups of three. Only a scan has small letters and signs."""
    words = [_spelled_one(c) for c in text]
    return ", ".join(" ".join(words[start : start + 3]) for start in range(0, len(words), 3))


def _spelled_one(character: str) -> str:
    if character in _ALPHABET:
        return _ALPHABET[character]
    if character.upper() in _ALPHABET:
        return f"small {_ALPHABET[character.upper()]}"
    if character in "0123456789":
        return digits(character)
    return _SIGNS.get(character) or unicodedata.name(character, "sign").lower()


def spoken_date(day: date, *, month_only: bool = False) -> str:
    """A date; a month means its last day."""
    year = digits(str(day.year))
    if month_only:
        return f"the end of {MONTHS[day.month - 1]}, {year}"
    return f"{cardinal(day.day)} {MONTHS[day.month - 1]}, {year}"


def value_words(field: StepField, value: SpokenValue, band: Band | None = None, *, short: bool = False) -> str:
    """One value as it is read back.

    Short leaves the unit out, never the direction, and says a number once, digit by digit: that is how fifteen and
    fifty differ.
    """
    unit = unit_words(field.number) if field.number is not None and not short else ""
    said = " ".join(part for part in (unit, band.direction if band is not None else "") if part)
    tail = f", {said}" if said else ""
    match value:
        case Exact(value=amount):
            return (digits(plain(amount)) if short else number_twice(amount)) + tail
        case Between(low=low, high=high):
            return f"{number(low)} to {number(high)}{tail}"
        case Beyond(comparator=comparator, limit=limit):
            return f"{'less' if comparator == '<' else 'more'} than {number(limit)}{tail}"
        case Option(value=chosen):
            return (field.options or {})[chosen][0]
        case SpelledText(text=text):
            return spelled(text)
        case SpokenDate(value=day, month_only=month_only):
            return spoken_date(day, month_only=month_only)
        case Absent(said=Decimal() as refused):
            return f"no value, {digits(plain(refused))} refused"
        case Absent(reason=reason):
            return _ABSENT[reason]
        case _:
            raise TypeError(f"{type(value).__name__} is no value to be kept")


def group_words(
    values: Sequence[tuple[StepField, SpokenValue, Band | None]], *, short: bool = False, named: bool = False
) -> str:
    """Several values in one sentence: what has the same answer is named together.

    Args:
        values: Each field with its value and its band.
        short: For those who know the step: "all three absent" where every field has the same answer, no units.
        named: Whether each is named all the same, because nobody was asked for just these.
    """
    said: dict[str, list[str]] = {}
    for number, (field, value, band) in enumerate(values):
        words = value_words(field, value, band, short=short)
        # Numbers are never put together: each is heard with its own label.
        key = words if isinstance(value, Option | Absent) else f"{number} {words}"
        said.setdefault(key, [words]).append(field.label)
    if short and not named and len(said) == 1 and len(values) > 1:
        words = next(iter(said.values()))[0]
        return f"{'both' if len(values) == 2 else f'all {cardinal(len(values))}'} {words}"
    return "; ".join(f"{_listed(labels)} {words}" for words, *labels in said.values())


def _listed(labels: Sequence[str]) -> str:
    return f"{', '.join(labels[:-1])} and {labels[-1]}" if len(labels) > 1 else labels[0]
