"""A scanned label as tags, so that it takes the same way as what is spelled."""

from datetime import date

from handsfree.model.commands import DateSlot, IdentifierSlot, Wanted
from handsfree.understanding.identifiers import looks_scanned, read_gs1

_CENTURY_CENTRE = date(2026, 1, 1)
"""Two-digit years of a scanned expiry fall within 1977 … 2076: wide enough for every label that can still be in use."""


def scanned_tags(text: str, wanted: Wanted) -> tuple[str, ...] | None:
    """Tags for every wanted slot that the label answers.

    A slot named or labelled "gtin" or "serial" takes that number; any other identifier slot, the lot.

    Returns:
        None if the line is no GS1 element string, no slot takes scans, or the label answers none of them.
    """
    identifiers = [slot for slot in wanted.slots if isinstance(slot, IdentifierSlot) and slot.allow_scan]
    if not identifiers or not looks_scanned(text):
        return None
    label = read_gs1(text, _CENTURY_CENTRE)
    tags: tuple[str, ...] = ()
    for slot in identifiers:
        names = {slot.slot, *slot.labels}
        value = label.gtin if "gtin" in names else label.serial if "serial" in names else label.lot
        if label.faults:
            tags += (f"slot:{slot.slot}", f"ask:{label.faults[0]}")
        elif value is not None:
            tags += (f"slot:{slot.slot}", *_characters(value))
    dates = [slot for slot in wanted.slots if isinstance(slot, DateSlot)]
    if len(dates) == 1 and label.expiry is not None and not label.faults:
        day = label.expiry
        tags += (f"slot:{dates[0].slot}", *_characters(f"{day.year:04d}"), f"month:{day.month}")
        tags += _characters(f"{day.day:02d}")
    return tags or None


def _characters(text: str) -> tuple[str, ...]:
    return tuple(f"digit:{c}" if c.isdecimal() else f"letter:{c}" for c in text)
