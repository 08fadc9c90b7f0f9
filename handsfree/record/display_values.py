"""What a record states, as every reader sees it: values, corrections, zones, who, when. Pure.

Reasons stay codes here: they are put into words where the sentences are. Identifiers of steps mean nothing here either:
what a reading is about is told by its value and by what its field is called.
"""

from collections.abc import Callable, Iterator
from decimal import Decimal
from enum import StrEnum
from typing import assert_never

from handsfree.model.facts import (
    KeptValue,
    OperatorDeclared,
    RoleDeclared,
    StatedReading,
)
from handsfree.model.light import RunEnd
from handsfree.model.reading_facts import ComputedFrom
from handsfree.model.readings import (
    Absent,
    Between,
    Beyond,
    Exact,
    Option,
    SpelledText,
    SpokenDate,
    value_text,
)
from handsfree.model.reasons import Grounds, Severity
from handsfree.model.step_names import NO_NAMES, StepNames
from handsfree.record.contents import Amended, Amendment, Record, RecordedReading, TurnedStep
from handsfree.record.display_text import local_text, plain, tenths, unit_text, with_unit
from handsfree.record.stops_account import runs_of, strays_of

ValueWords = Callable[[KeptValue, str | None], str]
"""Puts a value with its UCUM unit into words."""


def standing_readings(record: Record) -> tuple[RecordedReading, ...]:
    """The readings that no later one took the place of."""
    return tuple(reading for reading in record.readings if reading.superseded_by is None)


def figures(value: Exact) -> str:
    """A number with as many decimals as were spoken: "one point zero" is 1.0."""
    places = value.decimals
    if places < 1 or value.value != round(value.value, places):
        return value_text(value)
    return f"{value.value:.{places}f}"


def display_value(value: KeptValue, unit: str | None) -> str:
    """A value in one short phrase with its unit as it is printed: "18°", "50 to 60 s", "no value (not-performed)"."""
    number = _number(value)
    return _words(value) if number is None else with_unit(number, unit)


def ucum_value(value: KeptValue, unit: str | None) -> str:
    """The same with its unit in UCUM, for text that leaves this tool: "18 deg"."""
    number = _number(value)
    if number is None:
        return _words(value)
    return f"{number} {unit}" if unit and unit_text(unit) else number


def _number(value: KeptValue) -> str | None:
    match value:
        case Exact():
            return figures(value)
        case Between(low=low, high=high):
            return f"{value_text(Exact(low))} to {value_text(Exact(high))}"
        case Beyond(comparator=comparator, limit=limit):
            return f"{comparator} {value_text(Exact(limit))}"
        case Absent() | Option() | SpelledText() | SpokenDate():
            return None
        case _:
            assert_never(value)


def _words(value: KeptValue) -> str:
    match value:
        case Absent(said=Decimal() as said):
            return f"no value (said and refused: {value_text(Exact(said))})"
        case Absent(reason=reason):
            return f"no value ({reason})"
        case Option(value=chosen):
            return plain(chosen)
        case _:
            return value_text(value)


def computed_words(reading: StatedReading, names: StepNames = NO_NAMES) -> str:
    """How a value was computed: "mean of first blade 40, second blade 42 Cel"; "" where somebody said it.

    Of one that could not be computed, what was missing for it.

    Args:
        reading: The reading.
        names: What the procedure calls its steps and fields; their identifiers, as words, where they are left out.
    """
    computed = reading.computed
    if computed is None:
        return ""
    if isinstance(reading.value, Absent) and computed.inputs:
        lacking = (
            f"{_from(one, names)} is {'missing' if isinstance(one.value, Absent) else 'no single number'}"
            for one in computed.inputs
            if not isinstance(one.value, Exact)
        )
        return f"no value, because {' and '.join(lacking)}"
    if computed.how == "elapsed":
        return f"time from {' to '.join(names.stage(one.stage) for one in computed.inputs)}"
    given = ", ".join(f"{_from(one, names)} {ucum_value(one.value, one.unit)}" for one in computed.inputs)
    return f"{computed.how} of {given}" if given else f"{computed.how}, of which nothing is known"


def shown_value(reading: StatedReading, shown: ValueWords, names: StepNames = NO_NAMES) -> str:
    """The value of a reading; of one that could not be computed, what is missing for it."""
    lacks = isinstance(reading.value, Absent) and reading.computed is not None
    return computed_words(reading, names) if lacks else shown(reading.value, reading.unit)


def _from(one: ComputedFrom, names: StepNames) -> str:
    """Where a value comes from: its step, with its field where that does not tell it; or the field alone."""
    if names.is_alone(one.stage, one.field):
        return names.reading(one.stage, one.field)
    place, label = names.stage(one.stage), names.label(one.stage, one.field)
    told = one.stage.rpartition("@")[2].isdecimal() or label in place
    return place if told else f"{place}: {label}"


def numbered_step(reading: StatedReading) -> str:
    """The step of a reading; of one that is repeated with its number, "bolt@7", as its stage is called."""
    return reading.stage if reading.stage.rpartition("@")[2].isdecimal() else reading.step


def changed(amendment: Amendment, shown: Callable[[KeptValue], str] = value_text) -> tuple[str, str]:
    """What an amendment changed, in words: before and after; empty where it says only that a note was read.

    Args:
        amendment: The amendment.
        shown: Puts a value into words; as it is stored where left out, so without its unit.
    """
    named = list(_members(amendment.now, shown))
    was = dict(_members(amendment.was, shown))
    return ", ".join(f"{name} {was.get(name, 'none')}" for name, _ in named), ", ".join(map(" ".join, named))


def changed_with_unit(record: Record, amendment: Amendment, shown: ValueWords = ucum_value) -> tuple[str, str]:
    """The same as a reader sees it: a number with the unit of the reading that was amended."""
    units = (one.stands.unit for one in record.readings if one.recorded.seq == amendment.entry)
    unit = next(units, None)
    return changed(amendment, lambda value: shown(value, unit))


def _members(amended: Amended, shown: Callable[[KeptValue], str]) -> Iterator[tuple[str, str]]:
    if amended.side is not None:
        yield "side", amended.side
    if amended.text is not None:
        yield "text", amended.text
    if amended.value is not None:
        yield "value", shown(amended.value)


_WOULD_BE = {Severity.AMBER: "flagged", Severity.STOP: "a stop", Severity.RED: "red"}


def amended_flag(reading: RecordedReading, words: Callable[[Grounds], str]) -> str:
    """What a correction makes of the class of a reading: "amended, would be red: refill is over two".

    Args:
        reading: The reading.
        words: Puts grounds into words; they name the limit.

    Returns:
        "" where no correction touched it, and where nothing flags it, before or since.
    """
    told = [class_anew(reading, words)]
    if reading.stale:
        told.append("computed from a value that was amended, not computed anew: its procedure was not at hand")
    told += [turned_words(one, of=reading.stands.step) for one in reading.turned]
    return "; ".join(one for one in told if one)


def turned_words(turned: TurnedStep, of: str = "") -> str:
    """What a correction makes of a step: "since an amendment, X should have been done".

    Args:
        turned: The step.
        of: The step that it is told at.
    """
    if turned.wanted:
        return f"since an amendment, {turned.name} should have been done"
    return f"since an amendment, {'its step' if of == turned.step else turned.name} should not count"


def class_anew(reading: RecordedReading, words: Callable[[Grounds], str]) -> str:
    """What a correction makes of the class of a reading."""
    anew, amended = reading.anew, bool(reading.amendments)
    if anew is None:
        return "amended, not judged: its procedure was not at hand" if amended else ""
    since = "amended" if amended else "held against an amended value"
    if anew.value is not None:
        was = display_value(reading.recorded.fact.value, reading.recorded.fact.unit)
        since = f"was {was}, computed anew from an amended value"
    if anew.severity is Severity.NONE and anew.value is not None:
        return since
    if anew.severity is Severity.NONE:
        return f"{since}, would not be flagged" if reading.stands.severity is not Severity.NONE else ""
    why = f": {words(anew.grounds)}" if anew.grounds is not None else ""
    return f"{since}, would be {_WOULD_BE[anew.severity]}{why}"


def first_taken(reading: RecordedReading, shown: ValueWords = ucum_value) -> str:
    """The flagged value before one that was taken again: "first 3 s"; "" where there was none."""
    return f"first {shown(reading.first.value, reading.first.unit)}" if reading.first is not None else ""


class LabelPart(StrEnum):
    """What the label of a device tells, by its GS1 name."""

    LOT = "lot"
    SERIAL = "serial"
    GTIN = "gtin"
    EXPIRY = "expiry"


def label_part(reading: StatedReading) -> LabelPart | None:
    """Which part of a device's label a reading is: its field goes by that name or label, as it does for a scanner."""
    names = {reading.field, *reading.label.split()}
    match reading.value:
        case SpokenDate():
            return LabelPart.EXPIRY if LabelPart.EXPIRY in names else None
        case SpelledText():
            return next((part for part in LabelPart if part in names and part is not LabelPart.EXPIRY), None)
        case _:
            return None


def operator_words(record: Record) -> str:
    """Who worked: code and role by the last answers as amended, in the order of the answers; "" where nobody said."""
    words = {OperatorDeclared: record.operator, RoleDeclared: plain(record.role)}
    said = dict.fromkeys(type(declared.fact) for declared in record.of(OperatorDeclared, RoleDeclared))
    return ", ".join(words[kind] for kind in said)


def zone_name(record: Record, zone: str) -> str:
    """Name of a zone, by its identifier: that of the device profile where the closing statement tells it."""
    labels = {total.zone: total.label for total in record.zones if total.label != total.zone}
    return labels.get(zone, plain(zone))


def outcome(record: Record) -> str:
    """How the visit ended: as its closing statement has it, or "not closed"."""
    return record.closing.fact.outcome if record.closing is not None else "not closed"


def outcome_words(record: Record) -> str:
    """How the visit ended, for readers: "completed with overrides"."""
    return plain(outcome(record))


def light_cut_lines(record: Record) -> tuple[str, ...]:
    """What is said, wherever light is told, of a run of light in which the record ends; empty where there is none."""
    cut = record.light_cut
    if cut is None:
        return ()
    told = f"{tenths(cut.lit_s)} s up to the last sign of life, in no sum; it may have been longer"
    return (f"the record ends with the light on, {zone_name(record, cut.zone)}: {told}",)


def stray_lines(record: Record) -> Iterator[tuple[int, str]]:
    """Light outside a zone, each with the number of its entry; its seconds are in no sum of a zone."""
    for stray in strays_of(record):
        place = plain(stray.stage)
        if stray.seconds is None:
            yield stray.seq, f"light outside a zone at {place}: nobody said when it went off"
        elif stray.seconds:
            yield stray.seq, f"light outside a zone at {place}: {tenths(stray.seconds)} s, credited to nothing"
        else:
            yield stray.seq, f"light on was said at {place}; then that there was none"


def interrupted_lines(record: Record) -> Iterator[tuple[int, str]]:
    """Runs that a break cut short, each with the number of its entry: how long they went on nobody heard."""
    for run in runs_of(record):
        if run.end is RunEnd.INTERRUPTED:
            told = f"{tenths(run.credited_s)} s are counted, when it went off is not on record"
            said = "; light off was said after it" if run.off_said else ""
            yield run.seq, f"the light on {zone_name(record, run.zone)} was on at a break: {told}{said}"


def due_lines(record: Record) -> tuple[str, ...]:
    """When this visit was due and how late it began, and when the next one is, in local time."""
    lines = []
    if record.lateness is not None and record.started is not None:
        due, late_s = record.lateness
        late = f"{late_s / 60:.0f} min late" if late_s >= 60 else "not late"
        lines.append(f"due {local_time(record, due)}, begun {local_time(record, record.started.wall)}, {late}")
    if record.due:
        lines.append(f"next check due {local_time(record, record.due)} local time")
    return tuple(lines)


def local_time(record: Record, stamp: str, *, seconds: bool = False) -> str:
    """A stamp as the clocks on the wall showed it at the start of the visit: "2026-11-25 11:00"."""
    offset_minutes = record.started.local_offset_minutes if record.started is not None else 0
    return local_text(stamp, offset_minutes, seconds=seconds)
