"""Folds a record into what is read in a minute: open and flagged things first, then readings, light, teaching."""

from collections.abc import Iterator, Sequence

from handsfree.exposure.ledger import EXPOSURE_LABEL
from handsfree.model.facts import (
    HoldLifted,
    HoldSet,
    ItemTaught,
    ReadBackDisputed,
    ReadingAmended,
    StatedReading,
    StepSkipped,
    StopWordHeard,
    VisitContinued,
)
from handsfree.model.reasons import Severity
from handsfree.model.step_names import StepNames
from handsfree.record.code_phrases import CODES_ALONE, CodePhrases
from handsfree.record.contents import Record, RecordedReading
from handsfree.record.declared_sides import with_declared_sides
from handsfree.record.display_text import duration_text, one_line, percent, tenths
from handsfree.record.display_values import (
    amended_flag,
    changed_with_unit,
    computed_words,
    due_lines,
    first_taken,
    outcome_words,
    shown_value,
    standing_readings,
    ucum_value,
)
from handsfree.report.answered_words import answered_words
from handsfree.report.fact_words import values_words
from handsfree.report.light_summary import light_attention, light_lines
from handsfree.session.prompts.reason_words import reason_words

CAUTION = (
    "This is a record of what was said and timed. It gives no verdict: firmness, skin and circulation are judged by "
    "the clinician; the product's own instructions and local rules win."
)


def summary_lines(
    record: Record, state: str, phrases: CodePhrases = CODES_ALONE, faults: Sequence[str] = ()
) -> Iterator[str]:
    """A readable summary; no word of the record starts a line of it.

    Args:
        record: The folded record.
        state: State that verification found ("complete", "interrupted", …).
        phrases: What the procedure calls roles and reasons.
        faults: What verification found wrong, in words, with the number of the line.
    """
    yield from map(one_line, _lines(with_declared_sides(record), state, phrases, faults))


def _lines(record: Record, state: str, phrases: CodePhrases, faults: Sequence[str]) -> Iterator[str]:
    started = record.started
    begun = started.wall if started is not None else "unknown"
    practice = "PRACTICE - " if record.practice else ""
    yield f"{practice}{record.header.procedure}, record {record.header.record_id}"
    yield f"begun {begun}, {state}, {record.lines} lines, head {record.head}"
    if record.closing is not None:
        yield f"outcome: {outcome_words(record)}"
    yield from (f"{state.upper()}: {fault}" for fault in faults)
    if faults:
        yield "What follows is what can be read; it may not be all that was recorded."
    yield from due_lines(record)
    yield ""
    yield from _attention(record, phrases)
    yield "READINGS"
    yield from (f"  {_reading_line(reading, phrases.names)}" for reading in standing_readings(record))
    yield ""
    light = list(light_lines(record))
    if light:
        yield f"LIGHT ({EXPOSURE_LABEL}; says nothing about the flank of the limb)"
        yield from (f"  {line}" for line in light)
        yield ""
    yield from _told(record)
    yield CAUTION


def _attention(record: Record, phrases: CodePhrases) -> Iterator[str]:
    names = phrases.names
    lines = [
        f"stop word: {one.fact.word} at {tenths(one.fact.heard.spoken_from_s)} s" for one in record.of(StopWordHeard)
    ]
    lines += [
        f"{one.fact.hold} hold: {reason_words(one.fact.grounds.unnumbered)} ({names.stage(one.fact.stage)})"
        for one in record.of(HoldSet)
    ]
    lines += [
        f"lifted by {phrases.lifted_by(one.fact)}: {phrases.lifted_because(one.fact)} "
        f"({reason_words(one.fact.grounds)})"
        for one in record.of(HoldLifted)
    ]
    lines += [told for one in record.facts if (told := answered_words(record, one.fact, phrases))]
    lines += light_attention(record)
    lines += [
        f"read-back refused and said again: {values_words(one.fact.values)} ({names.stage(one.fact.stage)})"
        for one in record.of(ReadBackDisputed)
    ]
    lines += [
        f"skipped: {names.stage(one.fact.stage)}, {phrases.skip_reason(one.fact.reason)}"
        for one in record.of(StepSkipped)
    ]
    lines += [f"interrupted: {duration_text(one.fact.gap_s)}" for one in record.of(VisitContinued)]
    lines += [
        f"flagged {one.stands.severity}: {_why(one.stands)} ({names.stage(one.stands.stage)})"
        for one in standing_readings(record)
        if one.stands.severity is not Severity.NONE
    ]
    lines += [
        f"{one.stands.label} {told} ({names.stage(one.stands.stage)})"
        for one in standing_readings(record)
        if (told := amended_flag(one, reason_words))
    ]
    lines += [
        f"taken again: {one.stands.label} {first_taken(one)}, {_why(one.first)}; "
        f"then {ucum_value(one.stands.value, one.stands.unit)} ({names.stage(one.stands.stage)})"
        for one in record.readings
        if one.first is not None
    ]
    for amendment in record.amendments:
        before, after = changed_with_unit(record, amendment)
        if after:
            lines.append(f"amended by {amendment.by}: {before} → {after} (entry {amendment.entry})")
    if record.closing is None:
        lines.append("the session was not closed")
    lines += [f"open: {reason_words(item, names)}" for item in record.open_items]
    if lines:
        yield "FIRST"
        yield from (f"  {line}" for line in lines)
        yield ""


def _why(reading: StatedReading) -> str:
    """Why a reading is flagged, beside its step; "" where it is not."""
    return reason_words(reading.grounds.unnumbered) if reading.grounds is not None else ""


def _reading_line(reading: RecordedReading, names: StepNames) -> str:
    stands = reading.stands
    timing = f" [{stands.timing}]" if stands.timing is not None else ""
    asked = ", asked and affirmed" if stands.asked else ""
    first = first_taken(reading)
    corrected = reading.amendments or (isinstance(reading.recorded.fact, ReadingAmended) and not first)
    amended = " (amended)" if corrected else f" ({first}, taken again)" if first else ""
    heard = f'heard "{stands.heard.text}", {percent(stands.heard.probability)}{asked}'
    value, how = shown_value(stands, ucum_value, names), computed_words(stands, names) or heard
    return f"{stands.stage}.{stands.field}: {value}{timing}{amended}   {how if how != value else 'computed'}"


def _told(record: Record) -> Iterator[str]:
    taught = record.of(ItemTaught)
    if taught:
        yield "TAUGHT"
        yield from (f"  {one.fact.said} ({'said back' if one.fact.teach_back else 'told'})" for one in taught)
        yield ""
    if record.notes:
        yield "NOTES"
        yield from (f"  {note.text} ({'verified' if note.verified else 'not verified'})" for note in record.notes)
        yield ""
