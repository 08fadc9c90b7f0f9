"""What keeps the page of a very long record small: what is left out is counted, and the record holds it. Pure."""

from collections.abc import Collection, Sequence

from handsfree.report.log import EntrySource, LogEntry
from handsfree.report.review_items import ReviewItem, ReviewLevel

MOST_LOG_LINES = 4_000
"""Lines of the log in a page; a fitting has about 1,500. This and what follows were chosen here, no source."""
MOST_ITEMS = 200
"""Items of one kind that are listed to be looked at first."""


def listed(items: Sequence[ReviewItem], level: ReviewLevel) -> tuple[ReviewItem, ...]:
    """The items of one level, the earliest first, as many as a page takes; and how many more there are."""
    found = [item for item in items if item.level is level]
    shown = found[:MOST_ITEMS]
    more = len(found) - len(shown)
    told = [ReviewItem(level, f"{more} more of this kind are not listed for the size of the page", count=0)]
    return (*shown, *(told if more else []))


def shortened(entries: Sequence[LogEntry], linked: Collection[int]) -> tuple[LogEntry, ...]:
    """The log as far as a page takes it: its beginning, its end, and what the rest of the page leads to.

    Args:
        entries: All of it.
        linked: Lines of the record that must stay.

    Returns:
        The entries; where some were left out, one that says how many.
    """
    if len(entries) <= MOST_LOG_LINES:
        return tuple(entries)
    first, last = MOST_LOG_LINES // 2, len(entries) - MOST_LOG_LINES // 2
    shown: list[LogEntry] = []
    left_out = 0
    for number, entry in enumerate(entries):
        if first <= number < last and (entry.anchor is None or entry.anchor not in linked):
            left_out += 1
            continue
        if left_out:
            shown.append(_left_out(left_out))
            left_out = 0
        shown.append(entry)
    return tuple(shown)


def _left_out(count: int) -> LogEntry:
    what = f"{count} lines are left out here for the size of the page; the record holds them"
    return LogEntry("", EntrySource.RECORD, what)
