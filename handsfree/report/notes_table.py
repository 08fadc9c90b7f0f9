"""Tables of a report: what was taught, and dictated notes with what they were before. Pure."""

from dataclasses import dataclass

from handsfree.model.facts import ItemTaught
from handsfree.record.contents import Record
from handsfree.record.display_text import clock_text, plain
from handsfree.record.moments import Moments
from handsfree.report.readings_table import ReplacedValue, amended_words


@dataclass(frozen=True, slots=True)
class Taught:
    """An item that was taught.

    Attributes:
        said: What was told.
        back: Whether the patient said it back.
        at: Session time as text.
    """

    said: str
    back: bool
    at: str


def taught(record: Record) -> tuple[Taught, ...]:
    """Teaching given."""
    moments = Moments.of(record)
    return tuple(
        Taught(one.fact.said, one.fact.teach_back, clock_text(moments.at_s(one))) for one in record.of(ItemTaught)
    )


@dataclass(frozen=True, slots=True)
class Note:
    """A dictated note.

    Attributes:
        entry: Line that an amendment names.
        text: As it stands.
        verified: Who has read it, or "".
        broken_off: Whether a stop word or a crash cut it.
        earlier: What it was before, oldest first.
        where: Step.
        at: Session time as text.
    """

    entry: int
    text: str
    verified: str
    broken_off: bool
    earlier: tuple[ReplacedValue, ...]
    where: str
    at: str


def notes(record: Record) -> tuple[Note, ...]:
    """Dictated notes as they stand."""
    moments = Moments.of(record)
    found = []
    for note in record.notes:
        by = [amendment.by for amendment in note.amendments if amendment.now.verified]
        earlier = [
            ReplacedValue(amendment.was.text, amended_words(amendment))
            for amendment in note.amendments
            if amendment.was.text is not None
        ]
        found.append(
            Note(
                entry=note.recorded.seq,
                text=note.text,
                verified=by[-1] if note.verified and by else "",
                broken_off=note.recorded.fact.broken_off,
                earlier=tuple(earlier),
                where=plain(note.recorded.fact.stage),
                at=clock_text(moments.at_s(note.recorded)),
            )
        )
    return tuple(found)
