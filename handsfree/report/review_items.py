"""What a reviewer should look at first: open, stopped, flagged, changed, unverified. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from handsfree.model.facts import (
    AnyFact,
    CommandRefused,
    DeviceLost,
    GapsAccepted,
    HoldKept,
    HoldLifted,
    HoldSet,
    LightTurnedOff,
    MoreLightAsked,
    ReadBackDisputed,
    StepOverridden,
    StepSkipped,
    StopWordHeard,
    VisitContinued,
    VisitEndedEarly,
    ZoneLeft,
)
from handsfree.model.light import RunEnd, ZoneStanding
from handsfree.model.open_items import (
    OpenReading,
)
from handsfree.model.readings import Absent
from handsfree.model.reasons import Severity
from handsfree.model.refusals import ReasonMayNotLift, Refusal, RefusalCode, RoleMayNotLift
from handsfree.record.account_parts import Attested
from handsfree.record.account_words import AccountWords
from handsfree.record.code_phrases import CODES_ALONE, CodePhrases
from handsfree.record.contents import Record, RecordedReading
from handsfree.record.display_text import capital, clock_text, duration_text, percent, plain
from handsfree.record.display_values import (
    amended_flag,
    changed_with_unit,
    display_value,
    first_taken,
    interrupted_lines,
    light_cut_lines,
    stray_lines,
    turned_words,
    zone_name,
)
from handsfree.record.moments import Moments
from handsfree.record.verify import RecordState, Verification
from handsfree.record.visit_account import VisitAccount, account_of
from handsfree.report.answered_words import answered_words
from handsfree.report.fact_words import grounds_words, place_words, values_words
from handsfree.session.prompts.reason_words import reason_words


class ReviewLevel(StrEnum):
    """Kinds of attention, the most urgent first; the value is what the page says."""

    OPEN = "Open"
    STOP = "Stopped"
    FLAG = "Flagged"
    LISTEN = "Listen"
    CHANGED = "Changed"
    NOTE = "Not verified"


@dataclass(frozen=True, slots=True)
class ReviewItem:
    """One thing to look at.

    Attributes:
        level: How urgent.
        what: What it is, in words.
        where: Where in the visit, in words, or "".
        at: Session time as text, or "".
        entry: Line that it is about, or None.
        clip: Hash of its sound, or "".
        count: How many items it stands for.
    """

    level: ReviewLevel
    what: str
    where: str = ""
    at: str = ""
    entry: int | None = None
    clip: str = ""
    count: int = 1


def attention(found: Verification, record: Record, phrases: CodePhrases = CODES_ALONE) -> tuple[ReviewItem, ...]:
    """Everything that asks for a look, the most urgent first; of equals the earliest first.

    Args:
        found: Verification of the record.
        record: The record.
        phrases: What its procedure calls roles and reasons.
    """
    moments = Moments.of(record)
    account = account_of(record)
    items = [
        *_open(found, AccountWords(account, reason_words, phrases)),
        *_stopped(record, moments, phrases),
        *_flagged(account, moments, phrases),
        *_doubtful(moments, account.doubtful),
        *_changed(account, moments),
        *_notes(record, moments),
    ]
    order = list(ReviewLevel)
    return tuple(sorted(items, key=lambda item: order.index(item.level)))


def _open(found: Verification, words: AccountWords) -> Iterator[ReviewItem]:
    record = words.account.record
    if found.state is RecordState.BROKEN:
        for fault in found.faults:
            yield ReviewItem(ReviewLevel.OPEN, f"The record is broken: {fault}")
    if record.closing is None:
        yield ReviewItem(ReviewLevel.OPEN, "The session was not closed; what follows is what was recorded until then.")
    for told in light_cut_lines(record):
        entry = record.light_cut.seq if record.light_cut is not None else None
        yield ReviewItem(ReviewLevel.OPEN, f"{capital(told)}.", entry=entry)
    for entry, told in (*interrupted_lines(record), *stray_lines(record)):
        yield ReviewItem(ReviewLevel.FLAG, f"{capital(told)}.", entry=entry)
    yield from _left_open(words)


def _left_open(words: AccountWords) -> Iterator[ReviewItem]:
    """Open items as the visit was closed with them, those of a kind together."""
    kinds: dict[str, list[str]] = {}
    for item in words.account.open_items:
        kind, what = words.open_item(item)
        kinds.setdefault(kind, []).append(what)
    for kind, named in kinds.items():
        yield ReviewItem(ReviewLevel.OPEN, f"{kind}: {', '.join(named)}" if any(named) else kind, count=len(named))


def _stopped(record: Record, moments: Moments, phrases: CodePhrases) -> Iterator[ReviewItem]:
    for recorded in record.facts:
        fact = recorded.fact
        what = _stop_words(record, fact, phrases)
        if what:
            clip = recorded.clip_sha256 if isinstance(fact, StopWordHeard | HoldLifted) else None
            at, place = clock_text(moments.at_s(recorded)), place_words(record, fact)
            yield ReviewItem(ReviewLevel.STOP, what, place, at, recorded.seq, clip or "")


def _stop_words(record: Record, fact: AnyFact, phrases: CodePhrases) -> str:
    """What stopped a visit or let it go on; "" for other facts."""
    match fact:
        case StopWordHeard(word=word, heard=heard):
            lit = ", while lit" if fact.while_lit else ""
            misheard = f' (heard "{heard.text}", {percent(heard.probability)})' if heard.text != word else ""
            return f'Stop word "{word}"{lit}{misheard}'
        case HoldSet(hold=hold, grounds=grounds):
            return f"{capital(hold)} hold: {reason_words(grounds)}"
        case HoldLifted(grounds=grounds):
            who = f"{phrases.lifted_by(fact)}, {phrases.lifted_because(fact)}"
            return f"Hold lifted by {who}: {reason_words(grounds)}"
        case HoldKept(grounds=grounds):
            return f"Hold kept, the value had not been misheard: {reason_words(grounds)}"
        case CommandRefused(reason=RoleMayNotLift(role=role)):
            return f"Override refused: not by {phrases.role(role)}"
        case CommandRefused(reason=ReasonMayNotLift(reason=reason)):
            return f"Override refused: not for {phrases.override_reason(reason)}"
        case CommandRefused(reason=Refusal(code=RefusalCode.NEVER_LIFTED)):
            return "Override refused: the procedure lets nobody lift this"
        case CommandRefused(reason=Refusal(code=RefusalCode.OPERATORS_OWN_CODE)):
            return "Override refused: the operator's own code was given for another person"
        case CommandRefused(reason=Refusal(code=RefusalCode.ANOTHER_PERSON)):
            return "Override refused: the code of the second person of the step was given"
        case CommandRefused(reason=Refusal(code=RefusalCode.NO_PERSONS_CODE)):
            return "Override refused: what was given for another person's code is none"
        case VisitEndedEarly():
            return answered_words(record, fact, phrases)
        case VisitContinued(gap_s=gap_s):
            return f"Interrupted for {duration_text(gap_s)}; resumed"
        case DeviceLost(what=what):
            return f"The {what} was lost"
        case _:
            return ""


_GRADES = {Severity.AMBER: "Caution", Severity.STOP: "Stop value", Severity.RED: "Red flag"}


def _flagged(account: VisitAccount, moments: Moments, phrases: CodePhrases) -> Iterator[ReviewItem]:
    record, words = account.record, AccountWords(account, reason_words, phrases)
    for reading in account.standing:
        stands, entry = reading.stands, reading.recorded.seq
        place, at = plain(stands.stage), clock_text(moments.at_s(reading.recorded))
        gap = OpenReading(stands.stage, stands.field)
        if isinstance(stands.value, Absent) and gap not in record.open_items:
            why = plain(stands.value.reason).replace("-", " ")
            yield ReviewItem(ReviewLevel.FLAG, f"No value for {stands.label}: {why}", place, entry=entry)
        if reading.first is not None:
            first, then = first_taken(reading, display_value), display_value(stands.value, stands.unit)
            why = f"{first} ({grounds_words(reading.first)}), then {then}"
            yield ReviewItem(ReviewLevel.FLAG, f"Taken again: {stands.label} {why}", place, at, entry)
        if stands.severity is not Severity.NONE:
            what = f"{_GRADES[stands.severity]}: {grounds_words(stands)}"
            yield ReviewItem(ReviewLevel.FLAG, what, place, at, entry, reading.recorded.clip_sha256 or "")
        if told := amended_flag(reading, reason_words):
            yield ReviewItem(ReviewLevel.FLAG, f"{stands.label} {told}", place, entry=entry)
    for standing in (ZoneStanding.OVER, ZoneStanding.SHORT):
        if told := words.off_target(standing):
            yield ReviewItem(ReviewLevel.FLAG, f"Light {told[:1].lower()}{told[1:]}")
    for recorded in record.facts:
        what = _left_out(record, recorded.fact, phrases)
        if what:
            place, at = place_words(record, recorded.fact), clock_text(moments.at_s(recorded))
            yield ReviewItem(ReviewLevel.FLAG, what, place, at, recorded.seq)


def _left_out(record: Record, fact: AnyFact, phrases: CodePhrases) -> str:
    """What of the procedure was left out or answered for, in words; "" for other facts."""
    match fact:
        case StepSkipped(reason=reason):
            return f"Skipped: {phrases.skip_reason(reason)}"
        case StepOverridden(role=role, reason=reason):
            return f"Overridden by {phrases.role(role)}: {phrases.override_reason(reason)}"
        case MoreLightAsked(zone=zone):
            return f"More light was asked for: {zone_name(record, zone)}"
        case ReadBackDisputed(values=values):
            return f"Read-back refused and said again: {values_words(values)}"
        case LightTurnedOff(zone=zone, end=RunEnd.OFF_MISSED):
            name = zone_name(record, zone)
            return f"Light off was not heard: {name}, seconds counted up to the last sign of it"
        case GapsAccepted() | ZoneLeft():
            return answered_words(record, fact, phrases)
        case _:
            return ""


def _doubtful(moments: Moments, doubtful: tuple[RecordedReading, ...]) -> Iterator[ReviewItem]:
    told: set[tuple[str, str]] = set()
    for reading in doubtful:
        stands, recorded = reading.stands, reading.recorded
        heard = stands.heard
        if (stands.stage, heard.text) in told:
            continue
        told.add((stands.stage, heard.text))
        asked = ", asked about and affirmed" if stands.asked else ""
        what = f'Heard with doubt: "{heard.text}" ({percent(heard.probability)}{asked})'
        at = clock_text(moments.at_s(recorded))
        yield ReviewItem(ReviewLevel.LISTEN, what, plain(stands.stage), at, recorded.seq, recorded.clip_sha256 or "")


def _changed(account: VisitAccount, moments: Moments) -> Iterator[ReviewItem]:
    record = account.record
    for recorded in account.corrected:
        fact = recorded.fact
        old, new = display_value(fact.old_value, fact.unit), display_value(fact.value, fact.unit)
        what = f"Corrected during the visit: {fact.label} {old} → {new}"
        at = clock_text(moments.at_s(recorded))
        yield ReviewItem(ReviewLevel.CHANGED, what, plain(fact.stage), at, recorded.seq)
    for left in account.withdrawn:
        at = clock_text(moments.at_s(left))
        what = "Answered, then left out: what its condition hangs on was corrected"
        yield ReviewItem(ReviewLevel.CHANGED, what, plain(left.fact.stage), at, left.seq)
    for turned in account.turned:
        yield ReviewItem(ReviewLevel.CHANGED, capital(turned_words(turned)))
    for amendment in account.amendments:
        before, after = changed_with_unit(record, amendment, display_value)
        what = f"Amended by {amendment.by}: {before} → {after}. {amendment.reason}"
        yield ReviewItem(ReviewLevel.CHANGED, what, f"entry {amendment.entry}", entry=amendment.entry)
    if account.attested is Attested.AMENDED_SINCE:
        yield ReviewItem(ReviewLevel.CHANGED, "Amended after it was attested; to be attested again")


def _notes(record: Record, moments: Moments) -> Iterator[ReviewItem]:
    for note in record.notes:
        if not note.verified:
            recorded = note.recorded
            at, place = clock_text(moments.at_s(recorded)), plain(recorded.fact.stage)
            clip = recorded.clip_sha256 or ""
            yield ReviewItem(ReviewLevel.NOTE, f"Note: {note.text}", place, at, recorded.seq, clip)
