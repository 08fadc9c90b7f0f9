"""One view of readings for every export. Pure."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal, InvalidOperation

from handsfree.model.effects import Json
from handsfree.record.contents import Amendment, Record, RecordedReading

UNITS_BY_SUFFIX = {
    "_mw_cm2": "mW/cm2",
    "_j_cm2": "J/cm2",
    "_w_m2": "W/m2",
    "_deg": "deg",
    "_nm": "nm",
    "_mm": "mm",
    "_cm": "cm",
    "_c": "Cel",
    "_s": "s",
}
"""How the names of measured members end, and the UCUM unit that the ending stands for."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A reading as an export sees it.

    Attributes:
        number: Sequence number of the entry in the record; what an amendment names.
        at: RFC 3339 UTC stamp of the confirmation.
        phase: "before", "during", "after" or "".
        step: Step of the procedure.
        field: Field of the step.
        label: What the field is called aloud.
        side: "left", "right" or "".
        timing: "baseline", "during", "after" or "".
        kind: What the value is: "exact", "between", "beyond", "option", "spelledtext", "spokendate", "absent".
        value: The value without unit and comparator, with the decimals that were spoken; "" for a range or an absence.
        unit: UCUM unit or "".
        comparator: "<", ">" or "".
        low: Lower end of a range, or "".
        high: Upper end of a range, or "".
        absent: HL7 data-absent-reason code, or "".
        flag: "amber", "stop", "red" or "".
        flag_reason: Why, in words, or "".
        words: What was heard.
        probability: Estimated probability of the meaning, or "".
        runner_up: What else it may have been, or "".
        spoken_from_s: Session time, seconds, or "".
        spoken_to_s: Session time, seconds, or "".
        clip_sha256: Hash of its sound, or "".
        status: "current", "amended" or "superseded".
        superseded_by: Number of the entry that replaced it, or None.
        amendments: Later corrections.
    """

    number: int
    at: str
    phase: str
    step: str
    field: str
    label: str
    side: str
    timing: str
    kind: str
    value: str
    unit: str
    comparator: str
    low: str
    high: str
    absent: str
    flag: str
    flag_reason: str
    words: str
    probability: str
    runner_up: str
    spoken_from_s: str
    spoken_to_s: str
    clip_sha256: str
    status: str
    superseded_by: int | None
    amendments: tuple[Amendment, ...]
    first: str = ""

    @property
    def number_value(self) -> Decimal | None:
        """The value as a number, where it is a measurement."""
        return as_decimal(self.value) if self.kind in ("exact", "beyond") else None

    @property
    def shown(self) -> str:
        """The value in one short phrase."""
        unit = f" {self.unit}" if self.unit and self.unit not in ("1", "{score}") else ""
        if self.absent:
            return f"no value ({self.absent})"
        if self.kind == "option":
            return self.value.replace("_", " ")
        if self.low or self.high:
            return f"{self.low} to {self.high}{unit}"
        return f"{self.comparator}{' ' if self.comparator else ''}{self.value}{unit}"


def as_decimal(text: str) -> Decimal | None:
    """The text as a finite number, or None."""
    try:
        number = Decimal(text)
    except InvalidOperation:
        return None
    return number if number.is_finite() else None


def entries(record: Record) -> tuple[Entry, ...]:
    """Every reading of a record in the order of confirmation, replaced ones too."""
    return tuple(_entry(reading) for reading in record.readings)


def current(record: Record) -> tuple[Entry, ...]:
    """The readings that stand."""
    return tuple(entry for entry in entries(record) if entry.superseded_by is None)


def _entry(reading: RecordedReading) -> Entry:
    data, fact = reading.data, reading.fact
    kind, value = as_text(data, "type"), as_text(data, "value")
    low, high = between(value) if kind == "between" else ("", "")
    status = "amended" if reading.amendments else "current"
    return Entry(
        number=fact.seq,
        at=fact.at,
        phase=as_text(data, "phase"),
        step=as_text(data, "step"),
        field=as_text(data, "field"),
        label=as_text(data, "label") or as_text(data, "field").replace("_", " "),
        side=as_text(data, "side"),
        timing=as_text(data, "timing"),
        kind=kind,
        value="" if kind in ("absent", "between") else _figures(value.lstrip("<>"), data),
        unit=as_text(data, "unit"),
        comparator=as_text(data, "comparator"),
        low=low,
        high=high,
        absent=value if kind == "absent" else "",
        flag=as_text(data, "class").replace("none", ""),
        flag_reason=as_text(data, "class_reason"),
        words=as_text(data, "heard"),
        probability=as_text(data, "probability"),
        runner_up=as_text(data, "runner_up"),
        spoken_from_s=as_text(data, "spoken_from_s"),
        spoken_to_s=as_text(data, "spoken_to_s"),
        clip_sha256=fact.clip_sha256 or "",
        status="superseded" if reading.superseded_by is not None else status,
        superseded_by=reading.superseded_by,
        amendments=reading.amendments,
        first=taken_first(reading),
    )


def between(text: str) -> tuple[str, str]:
    """Both ends of a recorded range such as "50-60" or "-5--3"; empty where it is none."""
    found = re.fullmatch(r"(-?[0-9.]+)-(-?[0-9.]+)", text)
    return (found[1], found[2]) if found is not None else ("", "")


def _figures(value: str, data: Mapping[str, Json]) -> str:
    """A number with as many decimals as were spoken: "one point zero" is 1.0, which the record keeps as 1 and 1."""
    number, decimals = as_decimal(value), data.get("decimals")
    if number is None or type(decimals) is not int or decimals < 1:
        return value
    return f"{number:.{decimals}f}" if number == round(number, decimals) else value


def as_text(data: Mapping[str, Json], name: str, between: str = " ") -> str:
    """One member as text: "" where it is not given, the items of a list with `between` in between."""
    value = data.get(name)
    if value is None:
        return ""
    if isinstance(value, list):
        return between.join(str(item) for item in value)
    return f"{value:g}" if isinstance(value, float) and value == int(value) else str(value)


def measured(data: Mapping[str, Json]) -> tuple[tuple[str, Decimal, str], ...]:
    """Members of a fact that are measurements: name without unit, number, UCUM unit; sorted by name."""
    found = []
    for name, value in sorted(data.items()):
        if isinstance(value, bool) or value is None:
            continue
        suffix = next((item for item in UNITS_BY_SUFFIX if name.endswith(item)), "")
        number = as_decimal(str(value)) if suffix else None
        if number is not None:
            found.append((name.removesuffix(suffix), number, UNITS_BY_SUFFIX[suffix]))
    return tuple(found)


def changed(amendment: Amendment) -> tuple[str, str]:
    """What an amendment changed, in words: before and after. Members that follow from the value are left out."""
    shown = [name for name in sorted(amendment.now) if name in ("value", "side", "text")]
    before = ", ".join(f"{name} {as_text(amendment.was, name)}" for name in shown)
    return before, ", ".join(f"{name} {as_text(amendment.now, name)}" for name in shown)


def of_record(record: Record, name: str) -> str:
    """One member of the header as text, "" where it is not given."""
    return as_text(record.header, name)


def versions(record: Record) -> dict[str, str]:
    """Program, procedure and profile versions, by name."""
    given = record.header.get("versions")
    return {str(name): str(value) for name, value in given.items()} if isinstance(given, dict) else {}


def open_items(record: Record) -> tuple[str, ...]:
    """What was left open at the end."""
    listed = record.closing.data.get("open_items") if record.closing is not None else None
    return tuple(str(item) for item in listed) if isinstance(listed, list) else ()


def light_cut(record: Record) -> tuple[str, ...]:
    """What is said, wherever light is told, of a run of light in which the record ends; empty where there is none."""
    cut = record.light_cut
    if cut is None:
        return ()
    where = cut.zone.replace("_", " ")
    told = f"{cut.lit_s:.1f} s up to the last sign of life, in no sum; it may have been longer"
    return (f"the record ends with the light on, {where}: {told}",)


def due_lines(record: Record) -> tuple[str, ...]:
    """When this visit was due and how late it began, and when the next one is, in local time."""
    lines = []
    if record.lateness is not None and record.started is not None:
        due, late_s = record.lateness
        begun = local_time(record, record.started.wall)[:-3]
        late = f"{late_s / 60:.0f} min late" if late_s >= 60 else "not late"
        lines.append(f"due {local_time(record, due)[:-3]}, begun {begun}, {late}")
    if record.due:
        lines.append(f"next check due {local_time(record, record.due)[:-3]} local time")
    return tuple(lines)


def taken_first(reading: RecordedReading) -> str:
    """The flagged value before one that was taken again: "first 3 s"; "" where there was none."""
    if reading.first is None:
        return ""
    return f"first {_entry(RecordedReading(reading.fact, reading.first)).shown}"


def local_time(record: Record, stamp: str) -> str:
    """A stamp as the clocks on the wall showed it at the start of the visit: "2026-11-25 11:00:05"."""
    offset = timedelta(minutes=record.started.local_offset_minutes if record.started is not None else 0)
    return f"{datetime.fromisoformat(stamp) + offset:%Y-%m-%d %H:%M:%S}"


def declared(record: Record, kind: str, name: str) -> str:
    """What the last fact of a kind states under a name: the side of the visit, the size."""
    facts = record.of_kind(kind)
    return as_text(facts[-1].data, name) if facts else ""


def outcome(record: Record) -> str:
    """How the session ended: "completed", "stopped", or "not closed"."""
    return as_text(record.closing.data, "outcome") if record.closing is not None else "not closed"
