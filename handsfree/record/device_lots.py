"""Lots of the devices of a visit: as they stand, and as they were named at any time, for a recall. Pure."""

from handsfree.model.facts import KeptValue, LabelScanned
from handsfree.model.readings import SpelledText
from handsfree.record.contents import Record
from handsfree.record.display_values import LabelPart, label_part, standing_readings


def lots_standing(record: Record) -> tuple[str, ...]:
    """Lots as they stand, with later corrections."""
    said = (one.stands for one in standing_readings(record) if label_part(one.stands) is LabelPart.LOT)
    return tuple(dict.fromkeys(filter(None, (_text(one.value) for one in said))))


def lots_named(record: Record) -> tuple[str, ...]:
    """Every lot that a record names: as it stands, as it was confirmed first, as it was amended, as it was scanned."""
    found = list(lots_standing(record))
    for reading in record.readings:
        if label_part(reading.recorded.fact) is LabelPart.LOT:
            found.append(_text(reading.recorded.fact.value))
            found += [_text(one.now.value) for one in reading.amendments if one.now.value is not None]
    found += [one.fact.lot for one in record.of(LabelScanned) if one.fact.lot is not None]
    return tuple(dict.fromkeys(filter(None, found)))


def _text(value: KeptValue) -> str:
    return value.text if isinstance(value, SpelledText) else ""
