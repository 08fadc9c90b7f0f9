"""Readings as CSV (RFC 4180): one row a reading, replaced and amended ones too. Pure."""

import csv
import io
from decimal import Decimal, InvalidOperation

from handsfree.export.amounts import as_written
from handsfree.export.export_words import ExportWords
from handsfree.model.facts import KeptValue, StatedReading
from handsfree.model.readings import Absent, Between, Beyond, Exact, plain, value_text
from handsfree.model.reasons import Severity
from handsfree.record.account_words import ReasonWords
from handsfree.record.confirmation import entry_way, how_confirmed
from handsfree.record.contents import Record, RecordedReading
from handsfree.record.display_values import amended_flag, changed, computed_words, figures, numbered_step

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
    "amended_class",
    "amended_class_reason",
    "entry_way",
    "how_confirmed",
)


def to_csv(record: Record, words: ExportWords) -> str:
    """The readings of a record; the same record always gives the same text.

    Args:
        record: The record.
        words: Of them the reason of a flag.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for reading in record.readings:
        cells = (
            _record_cells(record, reading)
            | _reading_cells(reading.stands, words)
            | _amendment_cells(reading, words.reason)
        )
        writer.writerow([spreadsheet_safe(cells.get(name, "")) for name in COLUMNS])
    return out.getvalue()


def _record_cells(record: Record, reading: RecordedReading) -> dict[str, str]:
    later = reading.superseded_by
    return {
        "record_id": record.header.record_id,
        "practice": "practice" if record.practice else "",
        "entry": str(reading.recorded.seq),
        "status": "superseded" if later is not None else "amended" if reading.amendments else "current",
        "superseded_by": "" if later is None else str(later),
        "at": reading.recorded.at,
        "clip_sha256": reading.recorded.clip_sha256 or "",
        "probability": ""
        if _is_unscored(reading.recorded.fact)
        else as_written(reading.recorded.fact.heard.probability),
        "entry_way": entry_way(record, reading).value,
        "how_confirmed": how_confirmed(reading).value,
    }


def _is_unscored(fact: StatedReading) -> bool:
    return fact.heard.typed or fact.computed is not None


def _reading_cells(stands: StatedReading, words: ExportWords) -> dict[str, str]:
    heard = stands.heard
    return value_cells(stands.value) | {
        "phase": stands.phase,
        "step": numbered_step(stands),
        "field": stands.field,
        "label": stands.label,
        "side": stands.side or "",
        "timing": stands.timing or "",
        "unit": stands.unit or "",
        "class": "" if stands.severity is Severity.NONE else stands.severity,
        "class_reason": words.reason(stands.grounds) if stands.grounds is not None else "",
        "words": computed_words(stands, words.phrases.names) or heard.text,
        "runner_up": heard.runner_up or "",
        "spoken_from_s": as_written(heard.spoken_from_s),
        "spoken_to_s": as_written(heard.spoken_to_s),
    }


def value_cells(value: KeptValue) -> dict[str, str]:
    """The parts of a value, as text."""
    cells = {"type": value.type}
    match value:
        case Absent(reason=reason):
            return cells | {"absent": reason.value}
        case Between(low=low, high=high):
            return cells | {"low": plain(low), "high": plain(high)}
        case Beyond(comparator=comparator, limit=limit):
            return cells | {"comparator": comparator, "value": plain(limit)}
        case Exact() as exact:
            return cells | {"value": figures(exact)}
        case _:
            return cells | {"value": value_text(value)}


def _amendment_cells(reading: RecordedReading, words: ReasonWords) -> dict[str, str]:
    cells = {"amended_class_reason": amended_flag(reading, words)}
    if reading.anew is not None:
        cells["amended_class"] = reading.anew.severity.value
    if not reading.amendments:
        return cells
    first, last = reading.amendments[0], reading.amendments[-1]
    return cells | {"amended_from": changed(first)[0], "amended_by": last.by, "amended_reason": last.reason}


def spreadsheet_safe(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula; comparators and negative numbers stay as they are."""
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t") and not _is_number(cell) else cell


def _is_number(cell: str) -> bool:
    try:
        return Decimal(cell).is_finite()
    except InvalidOperation:
        return False
