"""A day at a glance, folded from the records of a store. Pure but for reading them."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.model.facts import GapsAccepted, HoldLifted, ZoneLeft
from handsfree.record.code_phrases import CODES_ALONE
from handsfree.record.contents import Record
from handsfree.record.declared_sides import with_declared_sides
from handsfree.record.display_text import duration_text, one_line, plain, tenths
from handsfree.record.display_values import (
    LabelPart,
    amended_flag,
    display_value,
    label_part,
    local_time,
    operator_words,
    outcome_words,
    standing_readings,
    zone_name,
)
from handsfree.record.moments import Moments
from handsfree.record.store import Filter, checked, list_records
from handsfree.record.verify import RecordState, Verification
from handsfree.report.daily_light import light_seconds_by_day
from handsfree.report.holds_lifted import lifted_by, standing_holds
from handsfree.report.page import dress, environment
from handsfree.report.review_items import light_off_target
from handsfree.session.prompts.reason_words import reason_words


@dataclass(frozen=True, slots=True)
class DayVisit:
    """One visit of a day.

    Attributes:
        name: Folder of the record inside the store.
        began: Local time, hours and minutes; "" where it cannot be read.
        procedure: Identifier of the procedure.
        operator: Code or role as read back, or "".
        patient: Patient reference, or "".
        lasted: Duration in words.
        state: RecordState of the record.
        outcome: How it ended.
        practice: Whether it is practice.
        open_items: What was left open.
        unverified: How many notes nobody has verified.
        amended: Readings that a later correction would flag, or that were not judged since.
        due: Local date and time at which the next check is due, or "".
        told: What was overridden, accepted without a value or left, by whom, and zones below or over their target.
    """

    name: str
    began: str
    procedure: str
    operator: str
    patient: str
    lasted: str
    state: str
    outcome: str
    practice: bool
    open_items: tuple[str, ...]
    unverified: int
    amended: tuple[str, ...] = ()
    due: str = ""
    told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Lot:
    """A device that was used.

    Attributes:
        lot: Lot as read back.
        expiry: Expiry as read back, or "".
        visits: Names of the visits.
    """

    lot: str
    expiry: str
    visits: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Day:
    """A day of a store.

    Attributes:
        day: Local calendar day, ISO 8601.
        visits: Visits by beginning.
        light: Operator and summed light-on seconds, practice left out.
        lots: Devices by lot, practice left out.
        unreadable: Records of no known day: their lines are broken, of a newer form, or cannot be read.
    """

    day: str
    visits: tuple[DayVisit, ...]
    light: tuple[tuple[str, float], ...]
    lots: tuple[Lot, ...]
    unreadable: tuple[str, ...]


def day_of(store: Path, day: date) -> Day:
    """Fold the visits of one local day.

    Args:
        store: Folder whose subfolders are records.
        day: The day, by the clock where each visit began.

    Raises:
        RecordError: The folder cannot be read.
    """
    # A local day touches three days in UTC; a record that cannot be read has no day at all and is never left out.
    first, last = max(day.toordinal() - 1, 1), min(day.toordinal() + 1, date.max.toordinal())
    near = {date.fromordinal(number).isoformat() for number in range(first, last + 1)}
    found: list[tuple[str, Verification, Record]] = []
    unreadable = []
    for item in list_records(store, Filter()):
        if item.started and item.started[:10] not in near:
            continue
        try:
            verified = checked(store, item.name)
        except RecordError:  # gone since it was listed, of a newer form, or not to be opened at all
            unreadable.append(one_line(item.name))
            continue
        if verified.record is None:
            unreadable.append(one_line(item.name))
        elif _local_day(verified.record) == day.isoformat():
            found.append((one_line(item.name), verified, with_declared_sides(verified.record)))
    light = light_seconds_by_day(record for _, _, record in found)
    return Day(
        day.isoformat(),
        tuple(_visit(name, verified, record) for name, verified, record in found),
        tuple(sorted((operator, seconds) for (when, operator), seconds in light.items() if when == day.isoformat())),
        _lots(found),
        tuple(unreadable),
    )


def _local_day(record: Record) -> str:
    return record.started.today if record.started is not None else record.header.started[:10]


def _visit(name: str, found: Verification, record: Record) -> DayVisit:
    faults = tuple(map(str, found.faults)) if found.state is RecordState.BROKEN else ()
    left = tuple(map(reason_words, record.open_items))
    if record.closing is None:
        held = (f"{one.fact.hold} hold not lifted: {reason_words(one.fact.grounds)}" for one in standing_holds(record))
        left = ("not closed", *held)
    return DayVisit(
        name=name,
        began=local_time(record, record.started.wall)[-5:] if record.started is not None else "",
        procedure=record.header.procedure,
        operator=operator_words(record),
        patient=record.patient_reference,
        lasted=duration_text(Moments.of(record).end_s),
        state=found.state.value,
        outcome=outcome_words(record),
        practice=record.practice,
        open_items=tuple(plain(item) for item in (*faults, *left)),
        unverified=sum(not note.verified for note in record.notes),
        amended=tuple(
            f"{one.stands.label} {told} (entry {one.recorded.seq})"
            for one in standing_readings(record)
            if (told := amended_flag(one, reason_words))
        ),
        due=local_time(record, record.due) if record.due else "",
        told=tuple(plain(one) for one in (*_overrides(record), *light_off_target(record))),
    )


def _overrides(record: Record) -> Iterator[str]:
    """Who answered for what; by codes, because no procedure is at hand for a day of them."""
    for one in record.facts:
        match one.fact:
            case HoldLifted(role=str(), grounds=grounds):
                yield f"Overridden by {lifted_by(one.fact, CODES_ALONE)}: {reason_words(grounds)}"
            case GapsAccepted(role=role, code=code):
                yield f"Missing values accepted by {CODES_ALONE.person(role, code)}"
            case ZoneLeft(zone=zone, role=role, code=code):
                yield f"Zone left open by {CODES_ALONE.person(role, code)}: {zone_name(record, zone)}"


def _lots(found: list[tuple[str, Verification, Record]]) -> tuple[Lot, ...]:
    used: dict[tuple[str, str], list[str]] = {}
    for name, _, record in found:
        if record.practice:
            continue
        told = {
            label_part(one.stands): display_value(one.stands.value, one.stands.unit)
            for one in standing_readings(record)
        }
        if lot := told.get(LabelPart.LOT):
            used.setdefault((lot, told.get(LabelPart.EXPIRY, "")), []).append(name)
    return tuple(Lot(lot, expiry, tuple(visits)) for (lot, expiry), visits in sorted(used.items()))


def day_lines(day: Day) -> Iterator[str]:
    """The day as text, open things first; no word of a record starts a line of it."""
    yield from map(one_line, _lines(day))


def _lines(day: Day) -> Iterator[str]:
    yield f"{day.day}: {len(day.visits)} visits"
    for name in day.unreadable:
        yield f"  BROKEN, of no known day: {name}"
    for visit in day.visits:
        for item in visit.open_items:
            yield f"  OPEN {visit.began} {visit.procedure}: {item} ({visit.name})"
        for item in visit.amended:
            yield f"  AMENDED {visit.began} {visit.procedure}: {item} ({visit.name})"
        for item in visit.told:
            yield f"  FLAGGED {visit.began} {visit.procedure}: {item} ({visit.name})"
    yield ""
    yield "VISITS"
    for visit in day.visits:
        marks = ["PRACTICE"] if visit.practice else []
        marks += [f"{len(visit.open_items)} open"] if visit.open_items else []
        marks += [f"{visit.unverified} notes not verified"] if visit.unverified else []
        marks += [f"next due {visit.due}"] if visit.due else []
        words = (visit.began, visit.procedure, visit.operator, visit.patient, visit.lasted, visit.outcome, visit.state)
        yield "  " + "  ".join((*filter(None, words), *marks, visit.name))
    yield ""
    yield "LIGHT-ON SECONDS BY OPERATOR (as spoken, practice left out)"
    yield from (f"  {operator}: {tenths(seconds)} s" for operator, seconds in day.light)
    yield ""
    yield "DEVICES BY LOT (practice left out)"
    yield from (f"  {one.lot}  expiry {one.expiry or 'not stated'}: {', '.join(one.visits)}" for one in day.lots)


def day_page(day: Day) -> str:
    """The day as one self-contained page."""
    return environment().get_template("day.html.jinja").render(dress=dress(), day=day)
