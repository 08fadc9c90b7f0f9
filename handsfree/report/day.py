"""A day at a glance, folded from the records of a store. Pure but for reading them."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from handsfree.errors import RecordError
from handsfree.model.light import ZoneStanding
from handsfree.model.reasons import Severity
from handsfree.record.account_words import AccountWords
from handsfree.record.contents import Record
from handsfree.record.copies import without_copies
from handsfree.record.declared_sides import with_declared_sides
from handsfree.record.display_text import duration_text, one_line, plain, tenths
from handsfree.record.display_values import (
    LabelPart,
    amended_flag,
    display_value,
    label_part,
    local_time,
    operator_words,
)
from handsfree.record.port import RecordSource
from handsfree.record.store import Filter, RecordFolder, Summary
from handsfree.record.verify import RecordState, Verification
from handsfree.report.daily_light import light_seconds_by_day
from handsfree.report.first_screen import account_words
from handsfree.report.page import dress, environment
from handsfree.report.procedure_at_hand import phrases_of, procedure_of
from handsfree.session.prompts.reason_words import reason_words


@dataclass(frozen=True, slots=True)
class DayVisit:
    """One visit of a day.

    Attributes:
        name: Folder of the record inside the store.
        day: Local calendar day, ISO 8601.
        began: Local time, hours and minutes; "" where it cannot be read.
        procedure: Identifier of the procedure.
        operator: Code or role as read back, or "".
        room: Where, or "".
        patient: Patient reference, or "".
        lasted: Duration in words, with and without breaks.
        lasted_s: Seconds, the ones in which the program was not running left out.
        away_s: Seconds in which it was not running.
        waited_s: Seconds in which somebody had said "wait", or had stopped it.
        state: RecordState of the record.
        outcome: How it ended.
        practice: Whether it is practice.
        open_items: What was left open.
        unverified: How many notes nobody has verified.
        red: Red findings that stand.
        overrides: What somebody answered for.
        early_ends: Runs of light that a stop, a cry or a break ended.
        over_target: Zones over their target.
        light: Light-on seconds by local day and operator.
        lot: Lot of the device as read back, or "".
        expiry: Its expiry as read back, or "".
        statuses: How the record stands, in words.
        amended: Readings that a later correction would flag, or that were not judged since.
        due: Local date and time at which the next check is due, or "".
        told: What was stopped, overridden or accepted, by whom; red findings; light off its target.
    """

    name: str
    day: str
    began: str
    procedure: str
    operator: str
    room: str
    patient: str
    lasted: str
    lasted_s: float
    away_s: float
    waited_s: float
    state: str
    outcome: str
    practice: bool
    open_items: tuple[str, ...]
    unverified: int
    red: int
    overrides: int
    early_ends: int
    over_target: int
    light: tuple[tuple[str, str, float], ...]
    lot: str
    expiry: str
    statuses: tuple[str, ...]
    amended: tuple[str, ...] = ()
    due: str = ""
    told: tuple[str, ...] = ()


_VISIT = TypeAdapter(DayVisit)


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
        visits: Visits by beginning, each once.
        light: Operator and summed light-on seconds, practice left out.
        lots: Devices by lot, practice left out.
        unreadable: Records of no known day: their lines are broken, of a newer form, or cannot be read.
        copies: Copies that were not counted, each with the folder that was.
        strangers: Folders that call themselves the same record and say different things; both count.
    """

    day: str
    visits: tuple[DayVisit, ...]
    light: tuple[tuple[str, float], ...]
    lots: tuple[Lot, ...]
    unreadable: tuple[str, ...]
    copies: tuple[tuple[str, str], ...] = ()
    strangers: tuple[tuple[str, str], ...] = ()


def day_of(store: Path, day: date) -> Day:
    """One local day of the records in the subfolders of a folder. See `day_from`."""
    return day_from(RecordFolder(store), day)


def day_from(source: RecordSource, day: date) -> Day:
    """Fold the visits of one local day; what was folded before is taken from the cache of the place.

    Args:
        source: Where the records lie.
        day: The day, by the clock where each visit began.

    Raises:
        RecordError: A folder cannot be read.
        StoreError: A store cannot be used.
    """
    # A local day touches three days in UTC; a record that cannot be read has no day at all and is never left out.
    first, last = max(day.toordinal() - 1, 1), min(day.toordinal() + 1, date.max.toordinal())
    near = Filter(since=date.fromordinal(first).isoformat(), until=date.fromordinal(last).isoformat(), unread=True)
    listed = source.listed(near)
    unreadable = [item.name for item in listed if not item.started]
    copies = without_copies((item for item in listed if item.started), source.goes_on_from)
    once = {item.name: item for item in copies.once}
    found = source.folded(once, partial(fold_visit, source), is_folded_visit)
    unreadable += [name for name in once if name not in found]  # gone since it was listed, or not to be opened
    visits = tuple(
        _as_listed(visit, once[name])
        for name, text in found.items()
        if (visit := _VISIT.validate_json(text)).day == day.isoformat()
    )
    theirs = {visit.name for visit in visits}
    pairs = (copies.copies, copies.strangers)
    told, odd = ([(one_line(a), one_line(b)) for a, b in listed if one_line(b) in theirs] for listed in pairs)
    return Day(
        day.isoformat(), visits, _light(visits, day), _lots(visits), tuple(map(one_line, unreadable)), tuple(told),
        tuple(odd),
    )  # fmt: skip


def is_folded_visit(text: str) -> bool:
    """Whether a text of the index could be a visit of a day."""
    try:
        _VISIT.validate_json(text, strict=True)
    except ValidationError:
        return False
    return True


def _as_listed(visit: DayVisit, item: Summary) -> DayVisit:
    """A visit with what is no property of its file: whether it is being written."""
    return replace(visit, state=item.state)


def fold_visit(source: RecordSource, name: str) -> str | None:
    """A visit of a day as JSON, as a cache keeps it; None where the record cannot be read."""
    try:
        return folded_visit(name, source.checked(name))
    except RecordError:
        return None


def folded_visit(name: str, verified: Verification) -> str | None:
    """A visit of a day as JSON, of a record that was verified; None where it cannot be read."""
    if verified.record is None:
        return None
    record = with_declared_sides(verified.record)
    return _VISIT.dump_json(_visit(one_line(name), verified, record)).decode()


def _local_day(record: Record) -> str:
    return record.started.today if record.started is not None else record.header.started[:10]


def _visit(name: str, found: Verification, record: Record) -> DayVisit:
    words = account_words(record, phrases_of(record, procedure_of(record)))
    account = words.account
    faults = tuple(map(str, found.faults)) if found.state is RecordState.BROKEN else ()
    left = tuple(reason_words(item, words.phrases.names) for item in account.open_items)
    if not account.closed:
        held = (f"{one.hold} hold not lifted: {reason_words(one.grounds)}" for one in account.standing_holds)
        left = ("not closed", *held)
    lot, expiry = _label(words)
    light = light_seconds_by_day([record])
    return DayVisit(
        name=name,
        day=_local_day(record),
        began=local_time(record, record.started.wall)[-5:] if record.started is not None else "",
        procedure=record.header.procedure,
        operator=operator_words(record),
        room=record.header.room,
        patient=record.patient_reference,
        lasted=words.lasted(),
        lasted_s=account.lasted_s,
        away_s=account.away_s,
        waited_s=account.waited_s,
        state=found.state.value,
        outcome=plain(account.outcome),
        practice=account.practice,
        open_items=tuple(plain(item) for item in (*faults, *left)),
        unverified=len(account.unverified),
        red=len(account.flagged(Severity.RED)),
        overrides=len(account.overrides),
        early_ends=len(account.early_ends),
        over_target=len(account.off_target(ZoneStanding.OVER)),
        light=tuple((when, operator, seconds) for (when, operator), seconds in sorted(light.items())),
        lot=lot,
        expiry=expiry,
        statuses=words.statuses(),
        amended=tuple(
            f"{one.stands.label} {told} (entry {one.recorded.seq})"
            for one in account.standing
            if (told := amended_flag(one, reason_words))
        ),
        due=local_time(record, record.due) if record.due else "",
        told=tuple(_told(words)),
    )


def _told(words: AccountWords) -> Iterator[str]:
    """What was stopped, overridden, red, off target."""
    account = words.account
    yield from (f"Stopped: {words.stop(one)}" for one in account.stops)
    yield from (f"Overridden: {words.override(one)}" for one in account.overrides)
    yield from (f"Red finding: {words.flagged(one)}" for one in account.flagged(Severity.RED))
    yield from (f"Light: {told}" for one in (ZoneStanding.OVER, ZoneStanding.SHORT) if (told := words.off_target(one)))
    yield from (told for _, told in words.odd_light())


def _label(words: AccountWords) -> tuple[str, str]:
    """Lot and expiry of the device, as read back."""
    standing = words.account.standing
    told = {label_part(one.stands): display_value(one.stands.value, one.stands.unit) for one in standing}
    return told.get(LabelPart.LOT, ""), told.get(LabelPart.EXPIRY, "")


def _light(visits: tuple[DayVisit, ...], day: date) -> tuple[tuple[str, float], ...]:
    sums: dict[str, float] = {}
    for visit in visits:
        for when, operator, seconds in visit.light:
            if when == day.isoformat():
                sums[operator] = sums.get(operator, 0.0) + seconds
    return tuple(sorted(sums.items()))


def _lots(visits: tuple[DayVisit, ...]) -> tuple[Lot, ...]:
    used: dict[tuple[str, str], list[str]] = {}
    for visit in visits:
        if visit.lot and not visit.practice:
            used.setdefault((visit.lot, visit.expiry), []).append(visit.name)
    return tuple(Lot(lot, expiry, tuple(names)) for (lot, expiry), names in sorted(used.items()))


def day_lines(day: Day) -> Iterator[str]:
    """The day as text, open things first; no word of a record starts a line of it."""
    yield from map(one_line, _lines(day))


def _lines(day: Day) -> Iterator[str]:
    yield f"{day.day}: {len(day.visits)} visits"
    for name in day.unreadable:
        yield f"  BROKEN, of no known day: {name}"
    for one, other in day.strangers:
        yield f"  TWO RECORDS OF ONE NAME that say different things, both counted: {one}, {other}"
    for visit in day.visits:
        for item in visit.open_items:
            yield f"  OPEN {visit.began} {visit.procedure}: {item} ({visit.name})"
        for item in visit.amended:
            yield f"  AMENDED {visit.began} {visit.procedure}: {item} ({visit.name})"
        for item in visit.told:
            yield f"  FLAGGED {visit.began} {visit.procedure}: {item} ({visit.name})"
    for copy, original in day.copies:
        yield f"  COPY, not counted: {copy}, of {original}"
    yield ""
    yield "VISITS"
    for visit in day.visits:
        words = (visit.began, visit.procedure, visit.operator, visit.room, visit.patient, visit.lasted)
        yield "  " + "  ".join((*filter(None, words), visit.outcome, visit.state, *visit_marks(visit), visit.name))
    yield ""
    yield "LIGHT-ON SECONDS BY OPERATOR (as spoken, practice left out)"
    yield from (f"  {operator}: {tenths(seconds)} s" for operator, seconds in day.light)
    yield ""
    yield "DEVICES BY LOT (practice left out)"
    yield from (f"  {one.lot}  expiry {one.expiry or 'not stated'}: {', '.join(one.visits)}" for one in day.lots)
    if day.visits:
        yield ""
        yield f"TIME  {_time_words(day)}"


def _time_words(day: Day) -> str:
    """Total time of the visits of a day, with breaks and without; practice left out."""
    visits = [visit for visit in day.visits if not visit.practice]
    lasted_s, away_s = sum(visit.lasted_s for visit in visits), sum(visit.away_s for visit in visits)
    waited_s = sum(visit.waited_s for visit in visits)
    told = f"{duration_text(lasted_s + away_s)} with breaks, {duration_text(lasted_s - waited_s)} without"
    return f"{told} (program not running {duration_text(away_s)}, waiting {duration_text(waited_s)}; practice left out)"


def visit_marks(visit: DayVisit) -> tuple[str, ...]:
    """What stands out of a visit, counted."""
    counts = (
        (visit.red, "red"),
        (visit.overrides, "overridden"),
        (visit.early_ends, "light ended early"),
        (visit.over_target, "over target"),
        (len(visit.open_items), "open"),
        (visit.unverified, "notes not verified"),
    )
    marks = ["PRACTICE"] if visit.practice else []
    marks += [f"{count} {name}" for count, name in counts if count]
    marks += [one.lower() for one in visit.statuses if one.startswith(("Not approved", "All values typed"))]
    return (*marks, f"next due {visit.due}") if visit.due else tuple(marks)


def day_page(day: Day) -> str:
    """The day as one self-contained page."""
    return environment().get_template("day.html.jinja").render(dress=dress(), day=day, time=_time_words(day))
