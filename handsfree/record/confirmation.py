"""How a value came to stand in a record: by which way it came in, and what was said to it. Pure.

This is the one place that says so; tables, pages and exports read it here.
"""

from enum import StrEnum

from handsfree.model.facts import LabelScanned, ReadingAmended, ReadingConfirmed, Utterance
from handsfree.record.contents import Record, RecordedReading


class EntryWay(StrEnum):
    """How a value came in."""

    SPOKEN = "spoken"
    TYPED = "typed"
    PRESSED = "pressed"
    SCANNED = "scanned"
    AMENDED = "amended"


class HowConfirmed(StrEnum):
    """What made a value stand.

    An affirmed one was read back and affirmed; an echoed one was said back and the visit went on; a doubted one was
    asked about and affirmed; an amended one was put there afterwards, by a person with a role and a reason.
    """

    AFFIRMED = "affirmed"
    ECHOED = "echoed"
    DOUBT_AFFIRMED = "doubt_affirmed"
    AMENDED = "amended"


def entry_way(record: Record, reading: RecordedReading) -> EntryWay:
    """How the value that stands came in."""
    if any(one.now.value is not None for one in reading.amendments):
        return EntryWay.AMENDED
    return utterance_way(record, reading.recorded.fact.heard)


def utterance_way(record: Record, heard: Utterance) -> EntryWay:
    """How an utterance came in."""
    if heard.pressed:
        return EntryWay.PRESSED
    if not heard.typed:
        return EntryWay.SPOKEN
    scanned = any(_same_utterance(one.fact.heard, heard) for one in record.of(LabelScanned))
    return EntryWay.SCANNED if scanned else EntryWay.TYPED


def _same_utterance(one: Utterance, other: Utterance) -> bool:
    return (one.text, one.spoken_from_s) == (other.text, other.spoken_from_s)


def how_confirmed(reading: RecordedReading) -> HowConfirmed:
    """What made the value that stands stand."""
    if any(one.now.value is not None for one in reading.amendments):
        return HowConfirmed.AMENDED
    fact: ReadingConfirmed | ReadingAmended = reading.recorded.fact
    if fact.asked:
        return HowConfirmed.DOUBT_AFFIRMED
    return HowConfirmed.AFFIRMED if fact.read_back == "affirmed" else HowConfirmed.ECHOED


def score(reading: RecordedReading) -> float | None:
    """Estimated probability that the meaning is right; None of a value that was typed, scanned or amended."""
    if any(one.now.value is not None for one in reading.amendments) or reading.recorded.fact.heard.typed:
        return None
    return reading.recorded.fact.heard.probability
