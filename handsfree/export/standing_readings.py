"""The readings that stand, and what else every export shares. Pure."""

from collections.abc import Callable

from handsfree.model.open_items import OpenItem
from handsfree.model.reasons import Grounds
from handsfree.record.contents import Record, RecordedReading

ReasonWords = Callable[[Grounds | OpenItem], str]
"""Puts a reason into words; the sentences are not known here."""


def standing(record: Record) -> tuple[RecordedReading, ...]:
    """The readings that no later one replaced, in the order of confirmation."""
    return tuple(one for one in record.readings if one.superseded_by is None)


def as_written(amount: float) -> str:
    """An amount as the record writes it: 6 for 6.0."""
    return str(int(amount)) if amount == int(amount) else str(amount)
