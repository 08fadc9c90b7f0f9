"""Readings as CSV (RFC 4180): one row a reading, replaced and amended ones too. Pure."""

import csv
import io

from handsfree.record.contents import Record
from handsfree.record.entries import Entry, as_decimal, changed, entries, of_record

COLUMNS = (
    "record_id",
    "practice",
    "entry",
    "status",
    "superseded_by",
    "at",
    "phase",
    "step",
    "field",
    "label",
    "side",
    "timing",
    "type",
    "value",
    "unit",
    "comparator",
    "low",
    "high",
    "absent",
    "class",
    "class_reason",
    "amended_from",
    "amended_by",
    "amended_reason",
    "words",
    "probability",
    "runner_up",
    "spoken_from_s",
    "spoken_to_s",
    "clip_sha256",
)


def to_csv(record: Record) -> str:
    """The readings of a record; the same record always gives the same text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for entry in entries(record):
        writer.writerow([_plain(cell) for cell in _row(record, entry)])
    return out.getvalue()


def _row(record: Record, entry: Entry) -> list[str]:
    first = entry.amendments[0] if entry.amendments else None
    last = entry.amendments[-1] if entry.amendments else None
    return [
        of_record(record, "record_id"),
        "practice" if record.practice else "",
        str(entry.number),
        entry.status,
        "" if entry.superseded_by is None else str(entry.superseded_by),
        entry.at,
        entry.phase,
        entry.step,
        entry.field,
        entry.label,
        entry.side,
        entry.timing,
        entry.kind,
        entry.value,
        entry.unit,
        entry.comparator,
        entry.low,
        entry.high,
        entry.absent,
        entry.flag,
        entry.flag_reason,
        "" if first is None else changed(first)[0],
        "" if last is None else last.by,
        "" if last is None else last.reason,
        entry.words,
        entry.probability,
        entry.runner_up,
        entry.spoken_from_s,
        entry.spoken_to_s,
        entry.clip_sha256,
    ]


def _plain(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula; comparators and negative numbers stay as they are."""
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t") and as_decimal(cell) is None else cell
