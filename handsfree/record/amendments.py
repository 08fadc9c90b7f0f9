"""What may still be done to a closed record: amend, delete its sound, attest. Each only adds lines."""

import re
from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from handsfree.clock import Clock
from handsfree.errors import RecordError, UsageError
from handsfree.model.fact_base import KeptValue
from handsfree.model.facts import StatedReading
from handsfree.model.open_items import OpenItem, OpenReading, OpenStep, OpenZone
from handsfree.model.readings import (
    Absent,
    AbsentReason,
    Between,
    Beyond,
    Exact,
    Option,
    Side,
    SpelledText,
    SpokenDate,
)
from handsfree.record.clips import CLIPS_FOLDER, Retention, remove_clips, unnamed_clips
from handsfree.record.contents import Record, RecordedNote, RecordedReading
from handsfree.record.display_text import one_line
from handsfree.record.journal import Journal, MovedOnError
from handsfree.record.own_lines import Amended, AmendedLine, AttestedLine, ClipDeletedLine, JudgedAnew, TurnedStep
from handsfree.record.verify import Contradictions, Verification, refuse_contradicted, verify

AMENDABLE_MEMBERS = tuple(sorted(item.name for item in fields(Amended)))
ValueFault = Callable[[StatedReading, KeptValue], str]
"""Given a reading as it stands and a new value of it: what is wrong with that, or ""."""


@dataclass(frozen=True, slots=True)
class AmendmentJudged:
    """What a procedure says of a correction.

    Attributes:
        readings: How the corrected reading is classed, and every other one whose class or value changes with it.
        turned: The steps whose condition falls out otherwise since than in the visit.
    """

    readings: tuple[JudgedAnew, ...]
    turned: tuple[TurnedStep, ...] = ()


Judge = Callable[[Record, int, Amended], AmendmentJudged]
"""Given a record, a reading of it and what is corrected: how that is classed, and all whose class changes with it."""
_NUMBER = re.compile(r"([<>]?)(-?[0-9]+(?:\.([0-9]+))?)(?:-(-?[0-9]+(?:\.[0-9]+)?))?")
_MEMBERS = {RecordedReading: ("side", "value"), RecordedNote: ("text", "verified")}


def _words(text: str, what: str) -> str:
    """Words that a person typed, on one line.

    Raises:
        UsageError: They hold what cannot be printed, and a record keeps what it is given.
    """
    said = " ".join(text.split())
    if not said.isprintable():
        raise UsageError(f"{what} holds a character that is not printed, {one_line(said)}; plain words would be right")
    return said


def _closed(folder: Path, shown: str | None = None) -> tuple[Verification, Record]:
    found = verify(folder)
    if shown is not None and found.head_hash != shown:
        raise MovedOnError(f"{folder} has changed since it was shown; nothing was added")
    if not found.fine or found.record is None:
        what = found.faults[0] if found.faults else f"it is {found.state}"
        raise RecordError(f"{folder} is not a closed record without faults: {what}")
    return found, found.record


def amend(
    folder: Path,
    entry: int,
    changes: Amended,
    *,
    by: str,
    reason: str,
    clock: Clock | None = None,
    value_fault: ValueFault | None = None,
    key: Ed25519PrivateKey | None = None,
    shown: str | None = None,
    judge: Judge | None = None,
    contradicted: Contradictions = lambda _: (),
) -> int:
    """Correct an entry by adding a line; the entry stays as it was.

    Args:
        folder: A closed record.
        entry: Sequence number of a reading or note.
        changes: New members, of those that the entry has; see `change_of` for what was typed.
        by: Role of who corrects.
        reason: Why, in words.
        clock: For the stamp.
        value_fault: Holds a new value against what the procedure takes at all, where that is at hand.
        judge: Classes a corrected reading by the limits of the procedure, where that is at hand.
        key: Key of this installation. Without its signature an attested record no longer verifies against the key.
        shown: Head hash of the record as who corrects has seen it, or None for as it is.
        contradicted: Replays the record, where its procedure is at hand.

    Returns:
        Sequence number of the amendment.

    Raises:
        MovedOnError: The record has lines that were not shown.
        RecordError: The record is not closed, has faults or states what does not follow from what was heard.
        UsageError: There is no such entry, nothing would change, or a value does not fit.
    """
    by, reason = _words(by, "the role"), _words(reason, "the reason")
    if not by or not reason:
        raise UsageError("an amendment needs a role and a reason")
    if changes.text is not None:
        changes = replace(changes, text=_words(changes.text, "the text"))
    checked, record = _closed(folder, shown)
    refuse_contradicted(folder, record, contradicted)
    found = _entry(record, entry)
    standing = _standing(found)
    named = [name for name in AMENDABLE_MEMBERS if getattr(changes, name) is not None]
    for name in named:
        _check_member(found, name)
    if all(getattr(changes, name) == getattr(standing, name) for name in named):
        raise UsageError("nothing would change")
    if changes.value is not None and isinstance(found, RecordedReading):
        _check_value(found.stands, changes.value)
        fault = value_fault(found.stands, changes.value) if value_fault is not None else ""
        if fault:
            raise UsageError(fault)
    if changes.text is not None and changes.verified is None and standing.verified is True:
        changes = replace(changes, verified=False)  # who verified it has read another text
    was = {name: getattr(standing, name) for name in AMENDABLE_MEMBERS if getattr(changes, name) is not None}
    judged = judge(record, entry, changes) if judge is not None and isinstance(found, RecordedReading) else None
    line = AmendedLine(
        entry=entry,
        was=Amended(**was),
        now=changes,
        by=by,
        reason=reason,
        judged=judged.readings if judged is not None else None,
        turned=judged.turned if judged is not None else (),
    )
    with Journal.reopen_closed(folder, clock=clock, after=checked.head_hash, key=key) as journal:
        return journal.append_later(line)


def change_of(folder: Path, entry: int, member: str, text: str) -> Amended:
    """A change of one member of an entry, as a person types it.

    Args:
        folder: A closed record.
        entry: Sequence number of a reading or note.
        member: One of `AMENDABLE_MEMBERS`.
        text: The new value as text: 1.5, <2, >10, 50-60, 2027-12-31, an identifier, left, true …

    Raises:
        RecordError: The record is not closed or has faults.
        UsageError: There is no such entry, it has no such member, or the text is none for it.
    """
    _, record = _closed(folder)
    found = _entry(record, entry)
    _check_member(found, member)
    match member:
        case "value" if isinstance(found, RecordedReading):
            return Amended(value=typed_value(found.stands, text))
        case "side":
            if text not in list(Side):
                raise UsageError(f"{text!r} is no side; left or right would be right")
            return Amended(side=Side(text))
        case "verified":
            if text not in ("true", "false"):
                raise UsageError("a note is verified or it is not; true or false would be right")
            return Amended(verified=text == "true")
        case _:
            return Amended(text=text)


def amendments_of(folder: Path, entry: int) -> tuple[int, ...]:
    """Sequence numbers of the amendments of an entry so far.

    Raises:
        RecordError: The record is not closed or has faults.
    """
    _, record = _closed(folder)
    return tuple(one.seq for one in record.amendments if one.entry == entry)


def _entry(record: Record, entry: int) -> RecordedReading | RecordedNote:
    entries: tuple[RecordedReading | RecordedNote, ...] = (*record.readings, *record.notes)
    found = next((item for item in entries if item.recorded.seq == entry), None)
    if found is None:
        known = ", ".join(str(seq) for seq in sorted(item.recorded.seq for item in entries))
        raise UsageError(f"entry {entry} is not a reading or note; these are: {known or 'none'}")
    return found


def _standing(entry: RecordedReading | RecordedNote) -> Amended:
    if isinstance(entry, RecordedReading):
        return Amended(value=entry.stands.value, side=entry.stands.side)
    return Amended(text=entry.text, verified=entry.verified)


def _check_member(entry: RecordedReading | RecordedNote, member: str) -> None:
    fit = _MEMBERS[type(entry)]
    if member not in fit:
        raise UsageError(f"{member!r} cannot be amended; these can: {', '.join(fit)}")


def typed_value(stands: StatedReading, text: str) -> KeptValue:
    """A new value of a reading as a person types it.

    Raises:
        UsageError: It is none of the kind that the reading has.
    """
    if text in list(AbsentReason):
        return Absent(AbsentReason(text))
    if stands.unit is not None:
        return _typed_number(stands.unit, text)
    if isinstance(stands.value, SpokenDate):
        try:
            return SpokenDate(date.fromisoformat(text))
        except ValueError as error:
            raise UsageError(f"{text!r} is no date; year-month-day would be right (2027-12-31)") from error
    return SpelledText(text) if isinstance(stands.value, SpelledText) else Option(text)


def _typed_number(unit: str, text: str) -> KeptValue:
    found = _NUMBER.fullmatch(text)
    if found is None or (found[1] and found[4]) or (found[4] and Decimal(found[4]) <= Decimal(found[2])):
        raise UsageError(f"the entry is a number in {unit} and {text!r} is none; 1.5, <2, >10 or 50-60 would be right")
    comparator, number, part, end = found.groups()
    if end is not None:
        return Between(Decimal(number), Decimal(end))
    return Beyond(comparator, Decimal(number)) if comparator else Exact(Decimal(number), len(part or ""))


def _check_value(stands: StatedReading, value: KeptValue) -> None:
    """A value of another kind is none of this reading; a gap, and what takes the place of one, may be of any."""
    numbers = Exact | Between | Beyond
    if isinstance(value, Absent):
        return
    fits = isinstance(value, numbers) if stands.unit is not None else not isinstance(value, numbers)
    if not fits or (stands.unit is None and not isinstance(stands.value, Absent | type(value))):
        raise UsageError(f"a value of the kind {value.type} is none of this entry")


def delete_clips(folder: Path, *, reason: str, clock: Clock | None = None, key: Ed25519PrivateKey | None = None) -> int:
    """Delete the sound of a closed record; which sound and why is written first.

    Args:
        folder: A closed record.
        reason: Why, in words.
        clock: For the stamp.
        key: Key of this installation, as for `amend`.

    Returns:
        How many clips were deleted.

    Raises:
        RecordError: The record is not closed, has faults or cannot be written.
    """
    return _delete_clips(folder, *_closed(folder), reason=reason, clock=clock, key=key)[0]


def _delete_clips(
    folder: Path,
    found: Verification,
    record: Record,
    *,
    reason: str,
    clock: Clock | None,
    key: Ed25519PrivateKey | None,
) -> tuple[int, str]:
    """Delete the sound of a record that was just verified. Returns how many clips, and the head hash after it."""
    head = found.head_hash
    named = {sha256 for _, sha256 in record.clips}
    try:
        # A crash may have left sound that no line names: the line of its deletion does.
        unnamed = unnamed_clips(folder, named)
        kept = sorted((named - record.deleted_clips).union(unnamed))
        if kept:
            with Journal.reopen_closed(folder, clock=clock, after=head, key=key) as journal:
                journal.append_later(ClipDeletedLine(clips_sha256=tuple(kept), reason=reason))
                head = journal.head
        remove_clips(folder, named.union(unnamed))
    except OSError as error:
        raise RecordError(
            f"cannot delete sound in {folder / CLIPS_FOLDER}: {error.strerror}; delete it by hand"
        ) from error
    return len(kept), head


def attest(
    folder: Path,
    key: Ed25519PrivateKey,
    *,
    by: str,
    retention: Retention | None = None,
    open_items_because: str = "",
    clock: Clock | None = None,
    shown: str | None = None,
    contradicted: Contradictions = lambda _: (),
) -> str:
    """Close a record for good: count and head hash, signed by this installation.

    Args:
        folder: A closed record.
        key: Key of this installation.
        by: Role of who attests.
        retention: `UNTIL_ATTESTED` deletes the sound first; None for what the record was begun with.
        open_items_because: Why what was left open stays so, where a visit ended early; it and the items are signed.
        clock: For the stamp.
        shown: Head hash of the record as who attests has seen it, or None for as it is.
        contradicted: Replays the record, where its procedure is at hand.

    Returns:
        The head hash after attestation, for the printed report.

    Raises:
        MovedOnError: The record has lines that were not shown; its sound is as it was.
        RecordError: The record is not closed, has faults, states what does not follow from what was heard, has open
            items and no reason for them, or is attested already.
        UsageError: No role is given, or a reason for open items where there are none.
    """
    by, because = _words(by, "the role"), _words(open_items_because, "the reason")
    if not by:
        raise UsageError("an attestation needs a role")
    checked, record = _closed(folder, shown)
    head = checked.head_hash
    refuse_contradicted(folder, record, contradicted)
    if record.attested:
        raise RecordError(f"{folder} is attested already and was not amended since")
    open_items = record.open_items
    if open_items and not because:
        raise RecordError(f"{folder} has open items and is attested only with a reason for them: {_listed(open_items)}")
    if because and not open_items:
        raise UsageError(f"{folder} has no open items; leave out the reason for them")
    if (retention or record.header.retention) == Retention.UNTIL_ATTESTED:
        _, head = _delete_clips(folder, checked, record, reason="kept until attested", clock=clock, key=key)
    with Journal.reopen_closed(folder, clock=clock, after=head, key=key) as journal:
        at = journal.now()
        seq, prev = journal.next_line(at)
        line = AttestedLine(by=by, lines=seq + 1, head=prev, open_items=open_items, because=because)
        journal.append_later(line, at=at)
    return verify(folder).head_hash


def _listed(items: tuple[OpenItem, ...]) -> str:
    return ", ".join(f"{item.type.removeprefix('open_').replace('_', ' ')}{_of(item)}" for item in items)


def _of(item: OpenItem) -> str:
    match item:
        case OpenStep(stage=stage):
            return f" {stage}"
        case OpenReading(stage=stage, field=field):
            return f" {stage}.{field}"
        case OpenZone(label=label):
            return f" {label}"
        case _:
            return ""
