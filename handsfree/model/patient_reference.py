"""What may stand for a patient: a code of the site, never a name and never a date of birth. Pure.

No published list says what a code must not look like; the rules here are common practice, no source.
"""

import re
from collections.abc import Iterator
from datetime import date
from enum import StrEnum

DEFAULT_PATTERN = r"(?=.*[0-9])[A-Z0-9](?:[A-Z0-9]|[-/.](?=[A-Z0-9])){2,31}"
"""Capitals, digits and single separators inside, 3 to 32 characters, at least one digit. A convention of ours."""
_MONTHS = ("JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC")
_DAY_AND_MONTH = re.compile(
    rf"[0-9]{{1,2}}(?:{'|'.join(_MONTHS)})[A-Z]*[0-9]{{2,4}}|(?:{'|'.join(_MONTHS)})[A-Z]*[0-9]{{5,6}}"
)
_FIRST_YEAR = 1900


class ReferenceFault(StrEnum):
    """Why a text is no patient reference."""

    LIKE_A_NAME = "like_a_name"
    LIKE_A_BIRTH_DATE = "like_a_birth_date"
    NOT_OF_THIS_SITE = "not_of_this_site"


def bare_code(text: str) -> str:
    """Letters and digits alone, upper case: two references are the same if these are."""
    return "".join(character for character in text.upper() if character.isalnum())


def reference_fault(text: str, pattern: str, today: date) -> ReferenceFault | None:
    """Why a text may not stand for a patient; None if it may.

    Args:
        text: As spelled, typed or scanned.
        pattern: Regular expression that the whole text must match.
        today: No birth date lies after it.
    """
    if not any(character.isdigit() for character in text):
        return ReferenceFault.LIKE_A_NAME
    # Six digits alone are a usual code; where a site says by a pattern of its own that they are, they are taken as one.
    if _like_a_date(bare_code(text), today, six_digits=pattern == DEFAULT_PATTERN):
        return ReferenceFault.LIKE_A_BIRTH_DATE
    return None if re.fullmatch(pattern, text) else ReferenceFault.NOT_OF_THIS_SITE


def _like_a_date(code: str, today: date, *, six_digits: bool) -> bool:
    """Whether a whole code reads as a day from 1900 to today, in any usual order, or names a month between digits."""
    if _DAY_AND_MONTH.fullmatch(code):
        return True
    if not code.isdecimal() or len(code) not in ({6, 8} if six_digits else {8}):
        return False
    return any(_is_day(year, month, day, today) for year, month, day in _readings(code))


def _readings(code: str) -> Iterator[tuple[int, int, int]]:
    """Year, month and day of the digits: year first, day first, month first."""
    width = len(code) - 4
    pairs = [(code[:width], code[width : width + 2], code[width + 2 :])]
    pairs += [(code[4:], code[2:4], code[:2]), (code[4:], code[:2], code[2:4])]
    for year, month, day in pairs:
        centuries = (0,) if width == 4 else (1900, 2000)
        yield from ((int(year) + century, int(month), int(day)) for century in centuries)


def _is_day(year: int, month: int, day: int, today: date) -> bool:
    try:
        return date(_FIRST_YEAR, 1, 1) <= date(year, month, day) <= today
    except ValueError:
        return False
