"""A plain-text note for pasting into a chart. It states what was recorded and gives no verdict. Pure."""

from collections.abc import Iterable, Mapping

from handsfree.export.values import Entry, current, measured, of_record, open_items, outcome, versions
from handsfree.record.replay import Record

_PRACTICE = "*** PRACTICE - NOT A PATIENT RECORD ***"
_FLAGS = {"amber": "  [CAUTION]", "stop": "  [STOP]", "red": "  [RED FLAG]"}
_LATCH_WORDS = {"latch_set": "stopped", "latch_lifted": "stop lifted", "step_skipped": "skipped"}


def to_note(record: Record) -> str:
    """The record as text; the same record always gives the same text."""
    lines = [_PRACTICE, ""] if record.practice else []
    lines += _heading(record)
    lines += _section("Readings", (_reading(entry) for entry in current(record)))
    lines += _section("Light, per zone", (_zone(fact.data) for fact in record.zones))
    lines += _section("Stops, skips, overrides", _deviations(record))
    lines += _section("Notes as dictated, unverified", (f"{note.data.get('text')}" for note in record.notes))
    lines += _section("Corrected later", _amendments(record))
    lines += _section("Open", open_items(record))
    lines += _closing(record)
    lines += ["", _PRACTICE] if record.practice else []
    return "\n".join(lines) + "\n"


def _heading(record: Record) -> list[str]:
    started = record.started
    lines = [
        f"Procedure: {of_record(record, 'procedure')}",
        f"Patient reference: {of_record(record, 'patient_reference') or 'none given'}",
        f"Record: {of_record(record, 'record_id')}",
    ]
    if started is not None:
        offset = started.local_offset_minutes
        sign = "-" if offset < 0 else "+"
        lines.append(f"Started: {started.wall} (local time UTC{sign}{abs(offset) // 60:02}:{abs(offset) % 60:02})")
    lines.append(f"Outcome: {outcome(record)}")
    lines += [f"Interrupted, resumed after {item.get('gap_s')} s" for item in record.interruptions]
    return lines


def _section(title: str, items: Iterable[str]) -> list[str]:
    listed = [f"- {item}" for item in items]
    return ["", title, *listed] if listed else []


def _reading(entry: Entry) -> str:
    where = ", ".join(part for part in (entry.side, entry.timing) if part)
    name = f"{entry.step} {entry.field}" + (f" ({where})" if where else "")
    mark = " (amended)" if entry.amendments else ""
    return f"{name}: {entry.shown}{_FLAGS.get(entry.flag, '')}{mark}  (entry {entry.number})"


def _zone(data: object) -> str:
    members = data if isinstance(data, Mapping) else {}
    figures = ", ".join(f"{name.replace('_', ' ')} {number} {unit}" for name, number, unit in measured(members))
    side = f" ({members['side']})" if members.get("side") else ""
    return f"{members.get('zone')}{side}: {figures or 'no figures'}"


def _deviations(record: Record) -> list[str]:
    found = []
    for fact in record.facts:
        if fact.kind in (*_LATCH_WORDS, "step_overridden"):
            told = _LATCH_WORDS.get(fact.kind, "overridden")
            parts = [f"{name} {fact.data[name]}" for name in sorted(fact.data) if fact.data[name] not in (None, "")]
            found.append(f"{told}: {', '.join(parts)}  (entry {fact.seq})")
    return found


def _amendments(record: Record) -> list[str]:
    return [
        f"entry {item.entry}: {_members(item.was)} -> {_members(item.now)}, by {item.by}, {item.at}: {item.reason}"
        for item in record.amendments
    ]


def _members(data: object) -> str:
    return ", ".join(f"{name} {value}" for name, value in sorted(data.items())) if isinstance(data, Mapping) else ""


def _closing(record: Record) -> list[str]:
    attested = record.attestation
    lines = ["", "Recorded by " + ", ".join(f"{name} {value}" for name, value in sorted(versions(record).items()))]
    if attested is not None and record.attested:
        lines.append(f"Attested by {attested.get('by')}, key {attested.get('public_key')}")
    elif attested is not None:
        lines.append("Amended after it was attested; to be attested again")
    else:
        lines.append("Not attested")
    lines.append(f"{record.lines} lines, head {record.head}")
    lines.append("No time-stamp of a third party: the tool works offline.")
    lines.append("The instructions supplied with the product, local rules and a licensed practitioner decide.")
    return lines
