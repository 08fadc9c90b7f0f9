"""Folds a record into what is read in a minute: open and flagged things first, then readings, light, teaching."""

from collections.abc import Iterator

from handsfree.exposure.ledger import EXPOSURE_LABEL
from handsfree.model.effects import Json
from handsfree.record.contents import Fact, Record, RecordedReading
from handsfree.record.entries import changed, due_lines, open_items, taken_first
from handsfree.report.light_summary import light_attention, light_lines

CAUTION = (
    "This is a record of what was said and timed. It gives no verdict: firmness, skin and circulation are judged by "
    "the clinician; the product's own instructions and local rules win."
)


def summary_lines(record: Record, state: str) -> Iterator[str]:
    """A readable summary.

    Args:
        record: The folded record.
        state: State that verification found ("complete", "interrupted", …).
    """
    started = record.started
    begun = started.wall if started is not None else "unknown"
    practice = "PRACTICE - " if record.practice else ""
    yield f"{practice}{record.header.get('procedure')}, record {record.header.get('record_id')}"
    yield f"begun {begun}, {state}, {record.lines} lines, head {record.head}"
    yield from due_lines(record)
    yield ""
    yield from _attention(record)
    yield "READINGS"
    yield from (f"  {line}" for line in map(_reading_line, record.readings) if line)
    yield ""
    light = list(light_lines(record))
    if light:
        yield f"LIGHT ({EXPOSURE_LABEL}; says nothing about the flank of the limb)"
        yield from (f"  {line}" for line in light)
        yield ""
    yield from _told(record)
    yield CAUTION


def _attention(record: Record) -> Iterator[str]:
    lines = [f"stop word: {fact.data.get('word')} at {_at(fact)}" for fact in record.of_kind("stop_word_heard")]
    lines += [
        f"{fact.data.get('latch')} latch: {fact.data.get('reason')} ({fact.data.get('stage')})"
        for fact in record.of_kind("latch_set")
    ]
    lines += [
        f"lifted by {fact.data.get('role')}: {fact.data.get('reason')} ({fact.data.get('set_for')})"
        for fact in record.of_kind("latch_lifted")
    ]
    lines += light_attention(record)
    lines += [
        f"read-back refused and said again: {_pairs(fact.data.get('values'))} ({fact.data.get('stage')})"
        for fact in record.of_kind("read_back_disputed")
    ]
    lines += [f"skipped: {fact.data.get('step')}, {fact.data.get('reason')}" for fact in record.of_kind("step_skipped")]
    lines += [f"interrupted: {fact.data.get('gap_s')} s" for fact in record.of_kind("session_interrupted")]
    lines += [
        f"flagged {reading.data.get('class')}: {reading.data.get('class_reason')} ({reading.data.get('stage')})"
        for reading in record.readings
        if reading.superseded_by is None and reading.data.get("class") not in {"none", None}
    ]
    lines += [
        f"taken again: {reading.data.get('label')} {taken_first(reading)}, {reading.first.get('class_reason')}; "
        f"then {reading.data.get('value')} ({reading.data.get('stage')})"
        for reading in record.readings
        if reading.first is not None
    ]
    for amendment in record.amendments:
        before, after = changed(amendment)
        if after:
            lines.append(f"amended by {amendment.by}: {before} → {after}, not judged anew (entry {amendment.entry})")
    closing = record.closing
    if closing is None:
        lines.append("the session was not closed")
    lines += [f"open: {item}" for item in open_items(record)]
    if lines:
        yield "FIRST"
        yield from (f"  {line}" for line in lines)
        yield ""


def _reading_line(reading: RecordedReading) -> str:
    if reading.superseded_by is not None:
        return ""
    data = reading.data
    unit = data.get("unit")
    shown = f" {unit}" if unit not in {None, "1", "{score}"} else ""
    timing = f" [{data.get('timing')}]" if data.get("timing") else ""
    asked = ", asked and affirmed" if data.get("asked") else ""
    first = taken_first(reading)
    corrected = reading.amendments or (reading.fact.kind == "reading_amended" and not first)
    amended = " (amended)" if corrected else f" ({first}, taken again)" if first else ""
    return (
        f"{data.get('stage')}.{data.get('field')}: {data.get('value')}{shown}{timing}{amended}"
        f'   heard "{data.get("heard")}", {_percent(data.get("probability"))}{asked}'
    )


def _told(record: Record) -> Iterator[str]:
    taught = record.of_kind("item_taught")
    if taught:
        yield "TAUGHT"
        for fact in taught:
            back = "said back" if fact.data.get("teach_back") else "told"
            yield f"  {fact.data.get('said')} ({back})"
        yield ""
    if record.notes:
        yield "NOTES"
        for note in record.amended_notes:
            verified = "verified" if note.data.get("verified") is True else "not verified"
            yield f"  {note.data.get('text')} ({verified})"
        yield ""


def _at(fact: Fact) -> str:
    return f"{_one(fact.data.get('spoken_from_s'))} s"


def _pairs(value: Json) -> str:
    return ", ".join(f"{name} {text}" for name, text in value.items()) if isinstance(value, dict) else str(value)


def _number(value: Json) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _one(value: Json) -> str:
    return f"{_number(value):.1f}"


def _percent(value: Json) -> str:
    return f"{_number(value):.0%}"
