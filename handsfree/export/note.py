"""A plain-text note for pasting into a chart. It states what was recorded and gives no verdict. Pure."""

from collections.abc import Iterable, Iterator
from itertools import groupby

from handsfree.export.amounts import as_written
from handsfree.export.deviations import deviations
from handsfree.export.export_words import ExportWords
from handsfree.model.facts import (
    ItemTaught,
    StepConfirmed,
)
from handsfree.model.light import ZoneStanding
from handsfree.model.reasons import Severity
from handsfree.record.account_words import AccountWords, ReasonWords
from handsfree.record.baseline import compared_with
from handsfree.record.contents import Record, RecordedReading
from handsfree.record.declared_sides import with_declared_sides
from handsfree.record.display_text import capital, one_line, plain
from handsfree.record.display_values import (
    amended_flag,
    changed_with_unit,
    due_lines,
    first_taken,
    interrupted_lines,
    light_cut_lines,
    local_time,
    numbered_step,
    shown_value,
    standing_readings,
    stray_lines,
    ucum_value,
    zone_name,
)
from handsfree.record.first_look import first_look
from handsfree.record.visit_account import account_of

_PRACTICE = "*** PRACTICE - NOT A PATIENT RECORD ***"
_FLAGS = {Severity.AMBER: "CAUTION", Severity.STOP: "STOP", Severity.RED: "RED FLAG"}
_PHASES = {"before": "Before", "during": "During", "after": "After"}


def to_note(record: Record, words: ExportWords) -> str:
    """The record as text; the same record always gives the same text.

    Args:
        record: The record.
        words: Of its reasons, of what was left open, and of whoever answered for something.
    """
    record = with_declared_sides(record)
    readings = standing_readings(record)
    flagged = (
        one
        for one in readings
        if one.severity is not Severity.NONE or one.first is not None or amended_flag(one, words.reason)
    )
    lines = [_PRACTICE, ""] if record.practice else []
    account = account_of(record)
    told = AccountWords(account, words.reason, words.phrases)
    look = first_look(told)
    lines += _heading(told)
    lines.append(f"How it stands: {'; '.join(look.statuses)}")
    lines += _section("Look at this first", look.texts())
    lines += _section("Open when the visit ended", map(words.reason, account.open_items))
    lines += _section("Flagged readings", (_flagged(one, words) for one in flagged))
    lines += _section("Stops, skips, overrides, interruptions", _deviations(record, words))
    for phase, title in _PHASES.items():
        lines += _section(title, _steps((one for one in readings if one.stands.phase == phase), words))
    lines += _section("Light per zone, as the words on and off tell it, at the beam's centre", _zones(record))
    lines += _section("Confirmed by affirmative", _confirmed(record))
    lines += _section("Explained to the patient", _taught(record))
    lines += _section("Notes as dictated, unverified", (one.text for one in record.notes if not one.verified))
    lines += _section("Notes that a person has read and verified", (one.text for one in record.notes if one.verified))
    lines += _section("Corrected later", _amendments(record))
    lines += _closing(record)
    lines += ["", _PRACTICE] if record.practice else []
    return "\n".join(map(one_line, lines)) + "\n"


def _heading(told: AccountWords) -> list[str]:
    account = told.account
    record = account.record
    started, closing, header = record.started, record.closing, record.header
    lines = [
        f"Procedure: {header.title or header.procedure}",
        f"Patient reference: {record.patient_reference or 'none given'}",
    ]
    if started is not None:
        offset = started.local_offset_minutes
        sign = "-" if offset < 0 else "+"
        zone = f"UTC{sign}{abs(offset) // 60:02}:{abs(offset) % 60:02}"
        begun = local_time(record, started.wall, seconds=True)
        lines.append(f"Started: {begun} local time ({zone}; {started.wall})")
    if closing is not None:
        lines.append(f"Ended: {local_time(record, closing.at, seconds=True)} local time")
    lines.append(f"Outcome: {plain(account.outcome)}")
    lines += [f"{name}: {value}" for name, value in (("Side", record.side), ("Size", record.size)) if value]
    lines += [capital(line) for line in due_lines(record)]
    approval = told.not_approved() or told.approval()
    return [*lines, approval] if approval else lines


def _section(title: str, items: Iterable[str]) -> list[str]:
    listed = [f"- {item}" for item in items]
    return ["", title, *listed] if listed else []


def _flagged(reading: RecordedReading, words: ExportWords) -> str:
    stands = reading.stands
    side = f", {stands.side}" if stands.side is not None else ""
    reason = f": {words.reason(stands.grounds)}" if stands.grounds is not None else ""
    told = amended_flag(reading, words.reason)
    anew = f" ({told})" if told else ""
    if reading.first is not None:
        anew += f" ({first_taken(reading)}, flagged; taken again)"
    flag = "" if stands.severity is Severity.NONE else f"{_FLAGS[stands.severity]} "
    place = f"{plain(numbered_step(stands))}{side}"
    return f"{flag}{place}, {_value(reading, words)}{reason}{anew}  (entry {reading.recorded.seq})"


def _value(reading: RecordedReading, words: ExportWords) -> str:
    return f"{reading.stands.label} {shown_value(reading.stands, ucum_value, words.phrases.names)}"


def _steps(readings: Iterable[RecordedReading], words: ExportWords) -> Iterator[str]:
    """One line a step and side: what was read together stands together."""
    for (step, side), group in groupby(readings, key=lambda one: (numbered_step(one.stands), one.stands.side)):
        listed = list(group)
        values = "; ".join(f"{_value(one, words)}{_remarks(one, words.reason)}" for one in listed)
        first, last = listed[0].recorded.seq, listed[-1].recorded.seq
        numbers = f"entry {first}" if first == last else f"entries {first} to {last}"
        yield f"{plain(step)}{f', {side}' if side is not None else ''}: {values}  ({numbers})"


def _remarks(reading: RecordedReading, words: ReasonWords) -> str:
    severity = reading.stands.severity
    flag = "" if severity is Severity.NONE else f" [{_FLAGS[severity]}]"
    told = amended_flag(reading, words)
    amended = f" [{told}]" if told else " (amended)" if reading.amendments else ""
    return f"{flag}{amended}{f' ({first_taken(reading)}, taken again)' if reading.first is not None else ''}"


_STANDINGS = {ZoneStanding.SHORT: ", short of its target", ZoneStanding.REACHED: "", ZoneStanding.OVER: ", over target"}


def _zones(record: Record) -> Iterator[str]:
    for zone in record.zones:
        lit, possible = as_written(zone.lit_s), as_written(zone.possible_s)
        text = f"{zone_name(record, zone.zone)}: {lit} s of {as_written(zone.target_s)} s asked for"
        text += _STANDINGS[zone.standing]
        text += f" in {zone.runs} {'run' if zone.runs == 1 else 'runs'}, {as_written(zone.dose_j_cm2)} J/cm2"
        yield text if possible == lit else f"{text}; possibly lit up to {possible} s"
    yield from light_cut_lines(record)
    yield from (told for _, told in (*interrupted_lines(record), *stray_lines(record)))


def _deviations(record: Record, words: ExportWords) -> Iterator[str]:
    for one, told in deviations(record, words):
        yield f"{local_time(record, one.at, seconds=True)[11:]} {told}  (entry {one.seq})"
    for item in record.interruptions:
        yield f"the program ended and was resumed after {as_written(item.gap_s)} s"


def _confirmed(record: Record) -> list[str]:
    steps = dict.fromkeys(plain(one.fact.stage) for one in record.of(StepConfirmed))
    return ["; ".join(steps)] if steps else []


def _taught(record: Record) -> list[str]:
    taught = (one.fact for one in record.of(ItemTaught))
    return [*dict.fromkeys(f"{one.said}{' (said back)' if one.teach_back else ''}" for one in taught)]


def _amendments(record: Record) -> list[str]:
    return [
        f"entry {item.entry}: {' -> '.join(changed_with_unit(record, item))}, by {item.by}, {item.at}: {item.reason}"
        for item in record.amendments
    ]


def _closing(record: Record) -> list[str]:
    header = record.header
    attested = record.attestations[-1] if record.attestations else None
    made_with = "; ".join(f"{name} {value}" for name, value in sorted(header.versions.items()))
    recalls = header.recall_list
    lines = ["", f"Recorded by {made_with or 'an unnamed version'}"]
    lines.append(f"Recall list: {recalls.sha256 if recalls is not None else 'none was used'}")
    if header.baseline is not None:
        compared = header.baseline
        taken = "Compared" if compared_with(record) is not None else "Not compared, as it is of another,"
        lines.append(f"{taken} with record {compared.record_id} of {compared.day}, head {compared.head}")
    if attested is not None and record.attested:
        lines.append(f"Attested by {attested.by}, key {attested.public_key}")
        if attested.because:
            lines.append(f"Attested with items left open: {attested.because}")
    elif attested is not None:
        lines.append("Amended after it was attested; to be attested again")
    else:
        lines.append("Not attested")
    lines.append(f"Record {header.record_id}: {record.lines} lines, head {record.head}")
    lines.append("No time-stamp of a third party: the tool works offline.")
    lines.append("The instructions supplied with the product, local rules and a licensed practitioner decide.")
    return lines
