"""All records of a store as long tables, each record once and replayed first."""

import json
from dataclasses import dataclass

from handsfree.application.replaying import replay
from handsfree.errors import RecordError
from handsfree.export.long_tables import LIGHT, READINGS, light_rows, readings_rows, table, table_schema
from handsfree.record.contents import Record
from handsfree.record.copies import Copies, without_copies
from handsfree.record.port import RecordSource
from handsfree.record.store import Filter, Summary
from handsfree.record.verify import RecordState


@dataclass(frozen=True, slots=True)
class StoreTables:
    """What was made of a store.

    Attributes:
        files: Text of each file, by its name.
        records: How many records are in them.
        readings: How many readings.
        zones: How many zones of light.
        copies: Copies that were not counted.
        left_out: Records that are not in them, with the reason.
    """

    files: dict[str, str]
    records: int
    readings: int
    zones: int
    copies: Copies
    left_out: tuple[str, ...]


def store_tables(source: RecordSource, wanted: Filter, *, practice: bool) -> StoreTables:
    """Make the tables of a place.

    Args:
        source: Where the records lie.
        wanted: Which of them.
        practice: Whether practice is taken in.

    Raises:
        RecordError: A folder cannot be read.
        StoreError: A store cannot be used.
    """
    copies = without_copies(source.listed(wanted), source.goes_on_from)
    taken: list[Record] = []
    left_out: list[str] = []
    for item in copies.once:
        found = _readable(source, item)
        if isinstance(found, str):
            left_out.append(f"{item.name}: {found}")
        elif practice or not found.practice:
            taken.append(found)
    readings = [row for record in taken for row in readings_rows(record)]
    zones = [row for record in taken for row in light_rows(record)]
    files = {
        "readings.csv": table(READINGS, readings),
        "light.csv": table(LIGHT, zones),
        "readings.schema.json": _schema(table_schema(READINGS, ("record", "entry"))),
        "light.schema.json": _schema(table_schema(LIGHT, ("record", "zone"))),
    }
    return StoreTables(files, len(taken), len(readings), len(zones), copies, tuple(left_out))


def _schema(described: dict[str, object]) -> str:
    return json.dumps(described, indent=2, ensure_ascii=False) + "\n"


def _readable(source: RecordSource, item: Summary) -> Record | str:
    """A record, or why it is left out."""
    try:
        found = source.checked(item.name)
    except RecordError as error:
        return str(error)
    if found.record is None or found.state is RecordState.BROKEN:
        return f"broken, {found.faults[0]}"
    faults = replay(found.record).faults
    return f"does not follow from what was heard, {faults[0]}" if faults else found.record
