"""Tags of a spoken date to a calendar day. No part of a date is ever filled in by guess."""

import calendar
from collections.abc import Sequence
from datetime import date, timedelta

from handsfree.model.commands import DateSlot
from handsfree.model.readings import HowToSay, NeedsAsking, SpokenDate

MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
"""Their English names, in order; the grammars know them in small letters."""


def month_end(year: int, month: int) -> date:
    """The last day of a month: until when something that expires in that month may be used.

    Raises:
        ValueError: The month is not 1 … 12 or the year not 1 … 9999.
    """
    return date(year, month, calendar.monthrange(year, month)[1])


def read_date(tags: tuple[str, ...], slot: DateSlot) -> SpokenDate | NeedsAsking:
    """The date of a date's tags.

    Without a month by name, day and month could be swapped, so it is asked for again. Days counted from today are read
    back as the date that they are.
    """
    counted = _from_today(tags, slot)
    if counted is not None:
        return SpokenDate(counted)
    months = [index for index, tag in enumerate(tags) if tag.startswith("month:")]
    if len(months) != 1:
        return NeedsAsking(HowToSay.SAY_MONTH_BY_NAME)
    month = int(tags[months[0]].removeprefix("month:"))
    before, after = _numbers(tags[: months[0]]), _numbers(tags[months[0] + 1 :])
    if before is None or after is None:
        return NeedsAsking(HowToSay.SAY_MONTH_BY_NAME)
    found = _year_and_day(before, after)
    if found is None:
        return NeedsAsking(HowToSay.SAY_MONTH_BY_NAME)
    year, day = found
    if day is None:
        if not slot.month_only:
            return NeedsAsking(HowToSay.SAY_DAY_TOO)
        return SpokenDate(month_end(year, month), month_only=True)
    if {"13", "30"} & {*before, *after}:
        return NeedsAsking(HowToSay.THIRTEEN_OR_THIRTY)
    try:
        return SpokenDate(date(year, month, day))
    except ValueError:
        return NeedsAsking(HowToSay.NO_SUCH_DAY)


def _from_today(tags: tuple[str, ...], slot: DateSlot) -> date | None:
    """The day that was counted from today: "tomorrow", "in two weeks", "next tuesday"; None where none was.

    A weekday is the first one after today; with "last", or where no later day can be, the last one before it.
    """
    named = dict(tag.partition(":")[::2] for tag in tags)
    if slot.today is None or not named.keys() & {"ahead", "count", "weekday"}:
        return None
    if "ahead" in named:
        return slot.today + timedelta(days=int(named["ahead"]))
    if "count" in named:
        days = int(named["count"]) * int(named["days"])
        return slot.today + timedelta(days=-days if "earlier" in named else days)
    weekday, only_past = int(named["weekday"]), slot.latest is not None and slot.latest <= slot.today
    if "earlier" in named or (only_past and "later" not in named):
        return slot.today - timedelta(days=(slot.today.weekday() - weekday) % 7 or 7)
    return slot.today + timedelta(days=(weekday - slot.today.weekday()) % 7 or 7)


def _year_and_day(earlier: Sequence[str], later: Sequence[str]) -> tuple[int, int | None] | None:
    """Four digits are a year; one or two are a day."""
    before, after = "".join(earlier), "".join(later)
    if not before and len(after) == 5 and len(later[0]) > 1:
        return None  # "thirty one nine nine nine": the day would be cut out of a number that was said as one
    if len(before) == 4 and len(after) in (0, 1, 2):
        return int(before), int(after) if after else None
    if len(after) == 4 and len(before) in (0, 1, 2):
        return int(after), int(before) if before else None
    if not before and len(after) in (5, 6):
        return int(after[-4:]), int(after[:-4])
    return None


def _numbers(tags: tuple[str, ...]) -> tuple[str, ...] | None:
    """Digits, teens and tens one after the other, each as it is written; "twenty seven" is one, 27."""
    parts: list[str] = []
    after_tens = False
    for tag in tags:
        kind, _, number = tag.partition(":")
        if kind == "digit" and after_tens and number != "0":
            parts[-1] = parts[-1][:-1] + number
        elif kind in ("digit", "teen", "tens"):
            parts.append(number)
        else:
            return None
        after_tens = kind == "tens"
    return tuple(parts)
