"""Readings of one record that another is compared with, and how the other keeps them."""

import re
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation

from handsfree.errors import RecordError
from handsfree.model.baseline import Baseline, place
from handsfree.model.effects import Json
from handsfree.model.readings import Between, Beyond, Exact, Option, SpokenValue
from handsfree.record.contents import Record

HEADER = "baseline"
_RANGE = re.compile(r"(-?[0-9.]+)-(-?[0-9.]+)")


def earlier_of(record: Record) -> Baseline:
    """The last confirmed values of a record, later corrections included, that can be compared: numbers and options."""
    values: dict[str, SpokenValue] = {}
    for reading in record.readings:
        data = reading.data
        value = _value(str(data.get("type")), str(data.get("value")))
        if reading.superseded_by is None and value is not None:
            side = data.get("side")
            name = place(str(data.get("step")), str(data.get("field")), str(side) if side is not None else None)
            values[name] = value
    return Baseline(str(record.header.get("record_id")), _day(record), values, record.due)


def as_header(earlier: Baseline, head: str) -> dict[str, Json]:
    """What the header of the later record keeps, so that it replays and resumes without the earlier one.

    Args:
        earlier: From `earlier_of`.
        head: SHA-256 of the last line of the earlier record.
    """
    values: dict[str, Json] = {name: _text(value) for name, value in earlier.values.items()}
    due: dict[str, Json] = {"due": earlier.due} if earlier.due else {}
    return {"record_id": earlier.record_id, "day": earlier.day, "head": head, "values": values, **due}


def from_header(header: Mapping[str, Json]) -> Baseline | None:
    """What a record was begun with; None where it was compared with nothing.

    Raises:
        RecordError: It cannot be read.
    """
    kept = header.get(HEADER)
    if not isinstance(kept, dict):
        return None
    values: dict[str, SpokenValue] = {}
    listed = kept.get("values")
    for name, text in listed.items() if isinstance(listed, dict) else ():
        kind, _, written = str(text).partition(":")
        value = _value(kind, written)
        if value is None:
            raise RecordError(f"the header's {HEADER} holds {name} = {text}, which is no value")
        values[name] = value
    return Baseline(str(kept.get("record_id")), str(kept.get("day")), values, str(kept.get("due") or ""))


def _day(record: Record) -> str:
    """Local date of the start; of a visit that never began, the date of its stamp."""
    return record.started.today if record.started is not None else str(record.header.get("started"))[:10]


def _text(value: SpokenValue) -> str:
    match value:
        case Exact(value=amount):
            return f"exact:{amount}"
        case Between(low=low, high=high):
            return f"between:{low}-{high}"
        case Beyond(comparator=comparator, limit=limit):
            return f"beyond:{comparator}{limit}"
        case Option(value=chosen):
            return f"option:{chosen}"
        case _:
            raise TypeError(f"{type(value).__name__} is no value to compare with")


def _value(kind: str, text: str) -> SpokenValue | None:
    """A value as the record writes it; None for kinds that are not compared, and for what cannot be read."""
    try:
        match kind:
            case "exact":
                return Exact(Decimal(text))
            case "between":
                found = _RANGE.fullmatch(text)
                return Between(Decimal(found[1]), Decimal(found[2])) if found is not None else None
            case "beyond":
                return Beyond(text[:1], Decimal(text[1:])) if text[:1] in ("<", ">") else None
            case "option":
                return Option(text)
            case _:
                return None
    except InvalidOperation:
        return None
