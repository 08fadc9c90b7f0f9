"""In which ways the readings of a record were confirmed: in words, and counted."""

from collections import Counter
from collections.abc import Mapping

from handsfree.model.reading_facts import ReadBackWay
from handsfree.record.contents import Record

READ_BACK_WORDS: Mapping[ReadBackWay, str] = {
    "affirmed": "affirmed",
    "echo": "said once",
    "going_on": "said back, no objection",
    "computed": "computed",
}
"""How a reading was confirmed, for a reader."""


def count_ways(record: Record) -> Mapping[ReadBackWay, int]:
    """How many readings that stand were confirmed in each way."""
    return Counter(one.recorded.fact.read_back for one in record.readings if one.superseded_by is None)


def ways_confirmed(record: Record) -> tuple[str, ...]:
    """One line that says so; none where the record has no readings."""
    counted = count_ways(record)
    parts = [f"{counted[way]} {words}" for way, words in READ_BACK_WORDS.items() if counted[way]]
    return (f"readings confirmed: {', '.join(parts)}",) if parts else ()
