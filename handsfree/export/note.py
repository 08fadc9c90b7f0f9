"""A plain-text note for pasting into a chart. It states what was recorded and gives no verdict. Pure."""

from collections.abc import Iterable, Mapping

from handsfree.export.values import Entry, as_text, changed, current, measured, of_record, open_items, outcome, versions
from handsfree.record.replay import Record

_PRACTICE = "*** PRACTICE - NOT A PATIENT RECORD ***"
_FLAGS = {"amber": "  [CAUTION]", "stop": "  [STOP]", "red": "  [RED FLAG]"}
_DEVIATIONS = {
    "latch_set": "stopped",
    "latch_lifted": "stop lifted",
    "step_skipped": "skipped",
    "step_overridden": "overridden",
    "gaps_accepted": "missing values accepted",
}


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
    unapproved = [as_text(fact.data, "unapproved") for fact in record.of_kind("session_started")]
    lines += [f"Approved by nobody, not for clinical use: {names}" for names in unapproved if names]
    lines += [f"Interrupted, resumed after {item.get('gap_s')} s" for item in record.interruptions]
    return lines


def _section(title: str, items: Iterable[str]) -> list[str]:
    listed = [f"- {item}" for item in items]
    return ["", title, *listed] if listed else []


def _reading(entry: Entry) -> str:
    where = ", ".join(part for part in (entry.side, entry.timing) if part)
    name = f"{entry.step} {entry.field}" + (f" ({where})" if where else "")
    mark = " (amended, not flagged anew)" if entry.amendments else ""
    flag = _FLAGS.get(entry.flag, "")
    reason = f" {entry.flag_reason}" if flag and entry.flag_reason else ""
    return f"{name}: {entry.shown}{flag}{reason}{mark}  (entry {entry.number})"


def _zone(data: object) -> str:
    members = data if isinstance(data, Mapping) else {}
    figures = ", ".join(f"{name.replace('_', ' ')} {number} {unit}" for name, number, unit in measured(members))
    side = f" ({members['side']})" if members.get("side") else ""
    return f"{members.get('zone')}{side}: {figures or 'no figures'}"


def _deviations(record: Record) -> list[str]:
    found = []
    for fact in record.facts:
        if fact.kind in _DEVIATIONS:
            parts = [f"{name} {as_text(fact.data, name)}" for name in sorted(fact.data) if as_text(fact.data, name)]
            found.append(f"{_DEVIATIONS[fact.kind]}: {', '.join(parts)}  (entry {fact.seq})")
    return found


def _amendments(record: Record) -> list[str]:
    return [
        f"entry {item.entry}: {' -> '.join(changed(item))}, by {item.by}, {item.at}: {item.reason}"
        for item in record.amendments
    ]


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
