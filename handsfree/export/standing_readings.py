"""The readings that stand, and what else every export shares. Pure."""

from handsfree.record.contents import Record, RecordedReading


def standing(record: Record) -> tuple[RecordedReading, ...]:
    """The readings that no later one replaced, in the order of confirmation."""
    return tuple(one for one in record.readings if one.superseded_by is None)


def as_written(amount: float) -> str:
    """An amount as the record writes it: 6 for 6.0."""
    return str(int(amount)) if amount == int(amount) else str(amount)
