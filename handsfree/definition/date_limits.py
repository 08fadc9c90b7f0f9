"""Days that a procedure file names by the day of the visit: "today", "today - 2 years", "today + 30 days". Pure."""

import re
from calendar import monthrange
from datetime import date, timedelta
from typing import Annotated

from pydantic import StringConstraints

_FORM = r"today( [+-] [1-9][0-9]{0,3} (day|month|year)s?)?"
DayFromToday = Annotated[str, StringConstraints(pattern=f"^{_FORM}$")]
"""A day by the day of the visit."""
_PARTS = re.compile(_FORM.replace("( [+-] [1-9][0-9]{0,3} (", r"(?: ([+-]) ([0-9]+) ("))
_ANY_DAY = date(2024, 6, 15)


def day_of(limit: str, today: date) -> date:
    """The day that a limit means in a visit of `today`; months and years count by the calendar.

    Args:
        limit: A `DayFromToday`.
        today: Local date of the visit.

    Returns:
        The day; the first or last that a calendar has, where it would lie outside.
    """
    found = _PARTS.fullmatch(limit)
    assert found is not None  # noqa: S101 - the form of the file says so
    sign, count, unit = found.groups()
    if sign is None:
        return today
    amount = int(count) if sign == "+" else -int(count)
    if unit == "day":
        return today + timedelta(days=amount)
    months = today.year * 12 + today.month - 1 + (amount if unit == "month" else amount * 12)
    year, month = divmod(months, 12)
    if not date.min.year <= year <= date.max.year:
        return date.max if amount > 0 else date.min
    return date(year, month + 1, min(today.day, monthrange(year, month + 1)[1]))


def is_before(limit: str, other: str) -> bool:
    """Whether one limit always lies before another, by a day in the middle of a month."""
    return day_of(limit, _ANY_DAY) < day_of(other, _ANY_DAY)
