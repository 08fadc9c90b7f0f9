"""Many records in long tables for analysis: one row a reading, one row a zone of light; each with its schema. Pure.

The schemas are Table Schemas (specs.frictionlessdata.io/table-schema), from memory: name, type and meaning of every
column, and that an empty cell is none.
"""

import csv
import io
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from handsfree.export.amounts import as_written
from handsfree.export.table import spreadsheet_safe, value_cells
from handsfree.model.reasons import Severity
from handsfree.record.account_parts import RunAccount, ZoneAccount
from handsfree.record.account_words import ended_early_words
from handsfree.record.confirmation import EntryWay, HowConfirmed, entry_way, how_confirmed, score
from handsfree.record.contents import Record, RecordedReading
from handsfree.record.display_values import computed_words, numbered_step
from handsfree.record.visit_account import VisitAccount, account_of

ColumnType = Literal["string", "number", "integer", "boolean", "datetime"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table.

    Attributes:
        name: Its name.
        type: Type of its cells.
        about: What it says.
        listed: All that can stand in it; empty for anything.
    """

    name: str
    type: ColumnType
    about: str
    listed: tuple[str, ...] = ()


_OF_THE_RECORD = (
    Column("record", "string", "Identifier of the record; every copy of it has the same"),
    Column("procedure", "string", "Identifier of the procedure"),
    Column("practice", "boolean", "Whether it was practice, no patient's visit"),
    Column(
        "outcome", "string", "How the visit ended", ("completed", "completed_with_overrides", "stopped", "not closed")
    ),
    Column("operator", "string", "Code of whoever worked, else the role"),
    Column("room", "string", "Where, as the site calls it"),
    Column("patient", "string", "Reference of the patient, a code of the site"),
)
READINGS = (
    *_OF_THE_RECORD,
    Column("entry", "integer", "Line of the record; with record it names the row"),
    Column("time", "datetime", "When it was confirmed, RFC 3339 UTC"),
    Column("step", "string", "Step of the procedure"),
    Column("side", "string", "Side of the body", ("left", "right")),
    Column("phase", "string", "Phase of the procedure", ("before", "during", "after")),
    Column("timing", "string", "When in the visit a finding was taken", ("baseline", "during", "after")),
    Column("field", "string", "Field of the step"),
    Column("status", "string", "Whether it stands", ("current", "amended", "superseded")),
    Column("type", "string", "Kind of value"),
    Column("value", "string", "The value as text; a chosen option, a code, a date, or the figures of a number"),
    Column("number", "number", "The value, where it is one number"),
    Column("comparator", "string", "Where the number is only a limit", ("<", "<=", ">=", ">")),
    Column("low", "number", "Lower end of a range"),
    Column("high", "number", "Upper end of a range"),
    Column("absent", "string", "Why there is no value (HL7 data-absent-reason)"),
    Column("unit", "string", "UCUM unit of a number"),
    Column("flag", "string", "The graver of the class in the visit and since a correction", ("amber", "stop", "red")),
    Column("override", "string", "Who lifted the hold that it set, and why, by codes: role:reason"),
    Column("entry_way", "string", "How the value that stands came in", tuple(EntryWay)),
    Column("how_confirmed", "string", "What made it stand", tuple(HowConfirmed)),
    Column("score", "number", "Probability, 0 to 1, that the meaning is right; empty for what was typed or amended"),
    Column("words", "string", "The words that were heard or typed"),
)
LIGHT = (
    *_OF_THE_RECORD,
    Column("time", "datetime", "When the visit was closed, else when the light last went off, RFC 3339 UTC"),
    Column("zone", "string", "Zone; with record it names the row"),
    Column("lit_s", "number", "Credited seconds of light"),
    Column("possible_s", "number", "Seconds for which it may have been lit"),
    Column("target_s", "number", "Seconds asked for"),
    Column("off_target_s", "number", "Seconds over the target; negative where they are missing"),
    Column("standing", "string", "How it stands to its target, by the profile", ("short", "reached", "over")),
    Column("dose_j_cm2", "number", "Summed light-on exposure at the beam's centre, J/cm2; it says nothing about cure"),
    Column("runs", "integer", "Runs of light"),
    Column("early_ends", "integer", "Runs that a stop, a cry or a break ended"),
    Column("ended_by", "string", "What ended these"),
)
Cell = str | int | float | bool | None


def readings_rows(record: Record) -> Iterator[dict[str, Cell]]:
    """Every reading of a record, replaced ones too."""
    account = account_of(record)
    common = _common(account)
    for reading in record.readings:
        stands, later = reading.stands, reading.superseded_by
        cells = value_cells(stands.value)
        is_number = cells["type"] in {"exact", "beyond"}
        yield common | {
            "entry": reading.recorded.seq,
            "time": reading.recorded.at,
            "step": numbered_step(stands),
            "side": stands.side,
            "phase": stands.phase,
            "timing": stands.timing,
            "field": stands.field,
            "status": "superseded" if later is not None else "amended" if reading.amendments else "current",
            "type": cells["type"],
            "value": cells.get("value"),
            "number": cells.get("value") if is_number else None,
            "comparator": cells.get("comparator"),
            "low": cells.get("low"),
            "high": cells.get("high"),
            "absent": cells.get("absent"),
            "unit": stands.unit,
            "flag": reading.severity if reading.severity is not Severity.NONE else None,
            "override": _override(account, reading),
            "entry_way": entry_way(record, reading),
            "how_confirmed": how_confirmed(reading),
            "score": score(reading),
            "words": computed_words(stands) or stands.heard.text,
        }


def light_rows(record: Record) -> Iterator[dict[str, Cell]]:
    """Every zone of a record, where there was light."""
    account = account_of(record)
    if not account.runs:
        return
    common = _common(account)
    for zone in account.zones:
        yield common | _zone(account, zone)


def _common(account: VisitAccount) -> dict[str, Cell]:
    record = account.record
    return {
        "record": record.header.record_id,
        "procedure": record.header.procedure,
        "practice": account.practice,
        "outcome": account.outcome,
        "operator": record.operator,
        "room": record.header.room,
        "patient": record.patient_reference,
    }


def _override(account: VisitAccount, reading: RecordedReading) -> str | None:
    """Who lifted a hold that a reading set; by codes, because phrases differ between versions of a procedure."""
    stands = reading.stands
    if stands.grounds is None:
        return None
    lifted = (one.lifted for one in account.holds if (one.stage, one.grounds) == (stands.stage, stands.grounds))
    told = [f"{one.role}:{one.reason}" for one in lifted if one is not None and one.role is not None]
    return ", ".join(dict.fromkeys(told)) or None


def _zone(account: VisitAccount, zone: ZoneAccount) -> dict[str, Cell]:
    early = [run for run in zone.runs if run.early]
    closing = account.record.closing
    return {
        "time": closing.at if closing is not None else account.runs[-1].at,
        "zone": zone.zone,
        "lit_s": zone.lit_s,
        "possible_s": zone.possible_s,
        "target_s": zone.target_s,
        "off_target_s": round(zone.off_s, 3),
        "standing": zone.standing,
        "dose_j_cm2": zone.dose_j_cm2,
        "runs": len(zone.runs),
        "early_ends": len(early),
        "ended_by": ", ".join(map(_ended_by, early)) or None,
    }


def _ended_by(run: RunAccount) -> str:
    return ended_early_words(run).strip("“”")


def table(columns: Iterable[Column], rows: Iterable[dict[str, Cell]]) -> str:
    """Rows as CSV (RFC 4180); what is not there is an empty cell."""
    listed = tuple(columns)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([column.name for column in listed])
    for row in rows:
        writer.writerow([_CELLS[column.type](row.get(column.name)) for column in listed])
    return out.getvalue()


def _text(cell: Cell) -> str:
    return spreadsheet_safe(str(cell)) if cell is not None else ""


def _number(cell: Cell) -> str:
    return as_written(cell) if isinstance(cell, float) else str(cell) if cell is not None else ""


def _truth(cell: Cell) -> str:
    return "true" if cell else "false"


_CELLS: dict[ColumnType, Callable[[Cell], str]] = {
    "string": _text,
    "number": _number,
    "integer": _number,
    "boolean": _truth,
    "datetime": _text,
}


def table_schema(columns: Iterable[Column], key: tuple[str, ...]) -> dict[str, object]:
    """The Table Schema of a table.

    Args:
        columns: Its columns.
        key: Which of them name a row.
    """
    fields: list[dict[str, object]] = []
    for column in columns:
        described: dict[str, object] = {"name": column.name, "type": column.type, "description": column.about}
        if column.type == "boolean":
            described |= {"trueValues": ["true"], "falseValues": ["false"]}
        if column.listed:
            described["constraints"] = {"enum": list(column.listed)}
        fields.append(described)
    return {"fields": fields, "missingValues": [""], "primaryKey": list(key)}
