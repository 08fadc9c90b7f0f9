"""A plain-text note for pasting into a chart. It states what was recorded and gives no verdict. Pure."""

from collections.abc import Iterable, Iterator
from itertools import groupby

from handsfree.record.contents import Fact, Record
from handsfree.record.entries import (
    Entry,
    as_text,
    changed,
    current,
    declared,
    due_lines,
    light_cut,
    local_time,
    of_record,
    open_items,
    outcome,
    versions,
)

_PRACTICE = "*** PRACTICE - NOT A PATIENT RECORD ***"
_FLAGS = {"amber": "CAUTION", "stop": "STOP", "red": "RED FLAG"}
_PHASES = {"before": "Before", "during": "During", "after": "After"}


def to_note(record: Record) -> str:
    """The record as text; the same record always gives the same text."""
    entries = current(record)
    lines = [_PRACTICE, ""] if record.practice else []
    lines += _heading(record)
    lines += _section("Open when the visit ended", open_items(record))
    lines += _section("Flagged readings", (_flagged(entry) for entry in entries if entry.flag or entry.first))
    lines += _section("Stops, skips, overrides, interruptions", _deviations(record))
    for phase, title in _PHASES.items():
        lines += _section(title, _steps(entry for entry in entries if entry.phase == phase))
    lines += _section("Readings", _steps(entry for entry in entries if entry.phase not in _PHASES))
    lines += _section("Light per zone, as the words on and off tell it, at the beam's centre", _zones(record))
    lines += _section("Confirmed by affirmative", _confirmed(record))
    lines += _section("Explained to the patient", _taught(record))
    lines += _section("Notes as dictated, unverified", _notes(record, verified=False))
    lines += _section("Notes that a person has read and verified", _notes(record, verified=True))
    lines += _section("Corrected later", _amendments(record))
    lines += _closing(record)
    lines += ["", _PRACTICE] if record.practice else []
    return "\n".join(lines) + "\n"


def _heading(record: Record) -> list[str]:
    started, closing = record.started, record.closing
    lines = [
        f"Procedure: {of_record(record, 'title') or of_record(record, 'procedure')}",
        f"Patient reference: {of_record(record, 'patient_reference') or 'none given'}",
    ]
    if started is not None:
        offset = started.local_offset_minutes
        sign = "-" if offset < 0 else "+"
        zone = f"UTC{sign}{abs(offset) // 60:02}:{abs(offset) % 60:02}"
        lines.append(f"Started: {local_time(record, started.wall)} local time ({zone}; {started.wall})")
    if closing is not None:
        lines.append(f"Ended: {local_time(record, closing.at)} local time")
    lines.append(f"Outcome: {outcome(record)}")
    for name, value in (
        ("Side", declared(record, "side_declared", "side")),
        ("Size", declared(record, "size_chosen", "size")),
    ):
        lines += [f"{name}: {value}"] if value else []
    lines += [f"{line[:1].upper()}{line[1:]}" for line in due_lines(record)]
    unapproved = [as_text(fact.data, "unapproved", "; ") for fact in record.of_kind("session_started")]
    lines += [f"Approved by nobody, not for clinical use: {names}" for names in unapproved if names]
    return lines


def _section(title: str, items: Iterable[str]) -> list[str]:
    listed = [f"- {item}" for item in items]
    return ["", title, *listed] if listed else []


def _words(name: str) -> str:
    return name.replace("_", " ").replace("@", ", ")


def _flagged(entry: Entry) -> str:
    side = f", {entry.side}" if entry.side else ""
    reason = f": {entry.flag_reason}" if entry.flag_reason else ""
    anew = " (amended since, not flagged anew)" if entry.amendments else ""
    if entry.first:
        anew += f" ({entry.first}, flagged; taken again)"
    flag = f"{_FLAGS[entry.flag]} " if entry.flag else ""
    return f"{flag}{_words(entry.step)}{side}, {_value(entry)}{reason}{anew}  (entry {entry.number})"


def _value(entry: Entry) -> str:
    return f"{entry.label} {entry.shown}"


def _steps(entries: Iterable[Entry]) -> Iterator[str]:
    """One line a step and side: what was read together stands together."""
    for (step, side), group in groupby(entries, key=lambda entry: (entry.step, entry.side)):
        listed = list(group)
        values = "; ".join(
            _value(entry)
            + (f" [{_FLAGS[entry.flag]}]" if entry.flag else "")
            + (" (amended)" if entry.amendments else "")
            + (f" ({entry.first}, taken again)" if entry.first else "")
            for entry in listed
        )
        first, last = listed[0].number, listed[-1].number
        numbers = f"entry {first}" if first == last else f"entries {first} to {last}"
        yield f"{_words(step)}{', ' + side if side else ''}: {values}  ({numbers})"


def _zones(record: Record) -> Iterator[str]:
    for zone in record.zones:
        data = zone.data
        name = as_text(data, "label") or _words(as_text(data, "zone"))
        target, dose, runs = (as_text(data, member) for member in ("target_s", "dose_j_cm2", "runs"))
        text = f"{name}: {as_text(data, 'lit_s') or '0'} s"
        text += f" of {target} s asked for" if target else ""
        text += f" in {runs} {'run' if runs == '1' else 'runs'}" if runs else ""
        text += f", {dose} J/cm2" if dose else ""
        if as_text(data, "possible_s") not in ("", as_text(data, "lit_s")):
            text += f"; possibly lit up to {as_text(data, 'possible_s')} s"
        yield text
    yield from light_cut(record)


def _deviations(record: Record) -> Iterator[str]:
    for fact in record.facts:
        words = _deviation(fact)
        if words:
            yield f"{local_time(record, fact.at)[11:]} {words}  (entry {fact.seq})"
    for item in record.interruptions:
        yield f"the program ended and was resumed after {as_text(item, 'gap_s')} s"


def _deviation(fact: Fact) -> str:
    def said(name: str) -> str:
        return _words(as_text(fact.data, name))

    match fact.kind:
        case "latch_set":
            kind = "red flag" if said("latch") == "red" else "held"
            return f"{kind} at {said('stage')}: {said('reason')}. Told: {as_text(fact.data, 'action')}"
        case "latch_lifted":
            who = f"by {said('role')}: {said('reason')}" if said("role") else f"by {said('reason') or 'a new answer'}"
            return f"lifted {who} (it was held because {said('set_for')})"
        case "stop_word_heard":
            return f"stop word {said('word')}" + (" in the light" if fact.data.get("while_lit") is True else "")
        case "step_skipped":
            return f"skipped {said('step') or said('stage')}: {said('reason')}"
        case "step_overridden":
            return f"overridden {said('stage')} by {said('role')}: {said('reason')}"
        case "gaps_accepted":
            return f"missing values accepted by {said('role')}: {said('reason')}"
        case "session_stopped":
            return f"visit ended early at {said('stage')} by {said('role')}: {said('reason')}"
        case _:
            return ""


def _confirmed(record: Record) -> list[str]:
    steps = dict.fromkeys(_words(as_text(fact.data, "stage")) for fact in record.of_kind("step_confirmed"))
    return ["; ".join(steps)] if steps else []


def _taught(record: Record) -> list[str]:
    items = dict.fromkeys(
        f"{as_text(fact.data, 'said')}{' (said back)' if fact.data.get('teach_back') is True else ''}"
        for fact in record.of_kind("item_taught")
    )
    return [*items]


def _notes(record: Record, *, verified: bool) -> list[str]:
    return [
        as_text(note.data, "text") for note in record.amended_notes if (note.data.get("verified") is True) is verified
    ]


def _amendments(record: Record) -> list[str]:
    return [
        f"entry {item.entry}: {' -> '.join(changed(item))}, by {item.by}, {item.at}: {item.reason}"
        for item in record.amendments
    ]


def _closing(record: Record) -> list[str]:
    attested = record.attestation
    made_with = "; ".join(f"{name} {value}" for name, value in sorted(versions(record).items()))
    recalls = record.header.get("recall_list")
    lines = ["", f"Recorded by {made_with or 'an unnamed version'}"]
    lines.append(f"Recall list: {as_text(recalls, 'sha256') if isinstance(recalls, dict) else 'none was used'}")
    compared = record.header.get("baseline")
    if isinstance(compared, dict):
        lines.append(f"Compared with record {as_text(compared, 'record_id')} of {as_text(compared, 'day')}, "
                     f"head {as_text(compared, 'head')}")  # fmt: skip
    if attested is not None and record.attested:
        lines.append(f"Attested by {attested.get('by')}, key {attested.get('public_key')}")
        if attested.get("because"):
            lines.append(f"Attested with items left open: {as_text(attested, 'because')}")
    elif attested is not None:
        lines.append("Amended after it was attested; to be attested again")
    else:
        lines.append("Not attested")
    lines.append(f"Record {of_record(record, 'record_id')}: {record.lines} lines, head {record.head}")
    lines.append("No time-stamp of a third party: the tool works offline.")
    lines.append("The instructions supplied with the product, local rules and a licensed practitioner decide.")
    return lines
