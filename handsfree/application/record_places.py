"""Where records lie, as a command was told: a folder, or the address of a store of many rooms."""

import contextlib
from collections.abc import Iterator
from pathlib import Path

from handsfree.record.port import RecordSource
from handsfree.record.store import RecordFolder


@contextlib.contextmanager
def records_at(place: Path | str) -> Iterator[RecordSource]:
    """The records of a place.

    Args:
        place: A folder whose subfolders are records, or the address of a store.

    Raises:
        StoreError: The store cannot be used.
    """
    if isinstance(place, Path):
        yield RecordFolder(place)
        return
    from handsfree.store.stored_records import stored_records

    with stored_records(place) as source:
        yield source


@contextlib.contextmanager
def record_at(record: str | Path, place: str | None) -> Iterator[Path]:
    """The folder or file of one record; of a store for a moment, as it was sent.

    Args:
        record: A folder or a file, or in a store an identifier or the name of a folder.
        place: Address of a store, or None.

    Raises:
        StoreError: The store cannot be used.
        UsageError: It has no such record that this role may read.
    """
    if place is None:
        yield Path(record)
        return
    from handsfree.store.stored_records import stored_records

    with stored_records(place) as source, source.at_hand(str(record)) as folder:
        yield folder
