"""What has come to a record since a page of it was shown, in words. Pure."""

from dataclasses import dataclass

from handsfree.record.contents import Amendment, Record
from handsfree.record.display_values import changed


@dataclass(frozen=True, slots=True)
class PageShown:
    """How far a record went when a page of it was shown.

    Attributes:
        lines: Number of lines.
        deleted: How many clips were deleted.
    """

    lines: int
    deleted: int


def shown_of(record: Record) -> PageShown:
    """How far a record goes now."""
    return PageShown(record.lines, len(record.deleted_clips))


def news(record: Record, since: PageShown) -> tuple[str, ...]:
    """What was added, oldest first, then how much sound is gone; lines of no other meaning are counted."""
    told = [
        (one.seq, f"entry {one.entry}: {amendment_words(one)}") for one in record.amendments if one.seq >= since.lines
    ]
    told += [(one.seq, f"attested by {one.by}") for one in record.attestations if one.seq >= since.lines]
    gone = len(record.deleted_clips) - since.deleted
    if gone > 0:
        told.append((record.lines, f"sound of {gone} utterances deleted"))
    if not told:
        told.append((since.lines, f"{record.lines - since.lines} lines more"))
    return tuple(words for _, words in sorted(told))


def amendment_words(amendment: Amendment) -> str:
    """What one amendment did, who made it and why."""
    before, after = changed(amendment)
    what = f"{before} → {after}" if after else "read and verified"
    return f"{what}, by {amendment.by}, {amendment.at[:16]}Z: {amendment.reason}"


def amended_before(record: Record) -> dict[int, str]:
    """Entries that were amended, each with all its amendments in words."""
    found: dict[int, str] = {}
    for one in record.amendments:
        said = found.get(one.entry)
        found[one.entry] = f"{said}; {amendment_words(one)}" if said else amendment_words(one)
    return found
