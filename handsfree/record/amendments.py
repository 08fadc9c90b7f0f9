"""What may still be done to a closed record: amend, delete its sound, attest. Each only adds lines."""

import re
from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from handsfree.clock import Clock
from handsfree.errors import RecordError, UsageError
from handsfree.model.effects import Json
from handsfree.model.readings import AbsentReason, Side
from handsfree.record.clips import CLIPS_FOLDER, Retention
from handsfree.record.codec import RecordLine
from handsfree.record.contents import Fact, Record
from handsfree.record.journal import Journal
from handsfree.record.lines import AMENDED, ATTESTED, CLIP_DELETED
from handsfree.record.signing import message_to_sign, public_hex
from handsfree.record.verify import Verification, verify

AMENDABLE_KINDS = frozenset({"reading_confirmed", "reading_amended", "note_taken"})
AMENDABLE_MEMBERS = frozenset({"value", "side", "text", "verified"})
ValueFault = Callable[[Mapping[str, Json], tuple[Decimal, ...], str], str]
"""Given an entry as it stands, the numbers of a new value and its text: what is wrong with it, or ""."""
_NUMBER = re.compile(r"([<>]?)(-?[0-9]+(?:\.([0-9]+))?)(?:-(-?[0-9]+(?:\.[0-9]+)?))?")


def _closed(folder: Path) -> tuple[Verification, Record]:
    found = verify(folder)
    if not found.fine or found.record is None:
        what = found.faults[0] if found.faults else f"it is {found.state}"
        raise RecordError(f"{folder} is not a closed record without faults: {what}")
    return found, found.record


def amend(
    folder: Path,
    entry: int,
    changes: Mapping[str, Json],
    *,
    by: str,
    reason: str,
    clock: Clock | None = None,
    value_fault: ValueFault | None = None,
) -> int:
    """Correct an entry by adding a line; the entry stays as it was.

    Args:
        folder: A closed record.
        entry: Sequence number of a reading or note.
        changes: New members, of those that the entry has.
        by: Role of who corrects.
        reason: Why, in words.
        clock: For the stamp.
        value_fault: Holds a new value against the limits of the procedure, where that is at hand.

    Returns:
        Sequence number of the amendment.

    Raises:
        RecordError: The record is not closed or has faults.
        UsageError: There is no such entry, nothing would change, or a value does not fit.
    """
    if not by.strip() or not reason.strip():
        raise UsageError("an amendment needs a role and a reason")
    _, record = _closed(folder)
    fact = next((item for item in record.facts if item.seq == entry), None)
    if fact is None or fact.kind not in AMENDABLE_KINDS:
        known = ", ".join(str(item.seq) for item in record.facts if item.kind in AMENDABLE_KINDS)
        raise UsageError(f"entry {entry} is not a reading or note; these are: {known or 'none'}")
    now = _standing(record, fact)
    _check_changes(now, changes)
    if "value" in changes:
        changes = dict(changes) | _members_of_value(now, str(changes["value"]))
        fault = value_fault(now, _amounts(str(changes["value"])), str(changes["value"])) if value_fault else ""
        if fault:
            raise UsageError(fault)
    if "text" in changes and now.get("verified") is True:
        changes = {"verified": False} | dict(changes)  # who verified it has read another text
    data: dict[str, Json] = {
        "entry": entry,
        "was": {name: now.get(name) for name in changes},
        "now": dict(changes),
        "by": by.strip(),
        "reason": reason.strip(),
    }
    with Journal.reopen_closed(folder, clock=clock) as journal:
        return journal.append_later(AMENDED, data)


def _standing(record: Record, fact: Fact) -> dict[str, Json]:
    data = dict(fact.data)
    for amendment in record.amendments:
        if amendment.entry == fact.seq:
            data |= amendment.now
    return data


def _check_changes(now: Mapping[str, Json], changes: Mapping[str, Json]) -> None:
    for name, value in changes.items():
        if name not in AMENDABLE_MEMBERS or name not in now:
            fit = ", ".join(sorted(AMENDABLE_MEMBERS & set(now)))
            raise UsageError(f"{name!r} cannot be amended; these can: {fit}")
        if name == "verified" and not isinstance(value, bool):
            raise UsageError("a note is verified or it is not; true or false would be right")
        if name == "side" and value not in (Side.LEFT, Side.RIGHT):
            raise UsageError(f"{value!r} is no side; left or right would be right")
    if all(now[name] == value for name, value in changes.items()):
        raise UsageError("nothing would change")


def _members_of_value(now: Mapping[str, Json], text: str) -> dict[str, Json]:
    """The members that a new value of a reading brings with it, written as sessions write them."""
    if text in list(AbsentReason):
        return {"type": "absent", "value": text, "comparator": None, "decimals": None}
    if now.get("unit") is not None:
        return _members_of_number(now, text)
    if now.get("type") == "spokendate":
        try:
            return {"value": date.fromisoformat(text).isoformat()}
        except ValueError as error:
            raise UsageError(f"{text!r} is no date; year-month-day would be right (2027-12-31)") from error
    return {"type": "option" if now.get("type") == "absent" else now.get("type"), "value": text}


def _members_of_number(now: Mapping[str, Json], text: str) -> dict[str, Json]:
    found = _NUMBER.fullmatch(text)
    if found is None or (found[1] and found[4]) or (found[4] and Decimal(found[4]) <= Decimal(found[2])):
        raise UsageError(
            f"the entry is a number in {now['unit']} and {text!r} is none; 1.5, <2, >10 or 50-60 would be right"
        )
    comparator, number, part, end = found.groups()
    if end is not None:
        return {"type": "between", "value": text, "comparator": None, "decimals": None}
    if comparator:
        return {"type": "beyond", "value": text, "comparator": comparator, "decimals": None}
    return {"type": "exact", "value": number, "comparator": None, "decimals": len(part or "")}


def _amounts(text: str) -> tuple[Decimal, ...]:
    found = _NUMBER.fullmatch(text)
    return tuple(Decimal(number) for number in (found[2], found[4]) if number) if found is not None else ()


def delete_clips(folder: Path, *, reason: str, clock: Clock | None = None) -> int:
    """Delete the sound of a closed record; which sound and why is written first.

    Returns:
        How many clips were deleted.

    Raises:
        RecordError: The record is not closed, has faults or cannot be written.
    """
    _, record = _closed(folder)
    kept = sorted({sha256 for _, sha256 in record.clips} - record.deleted_clips)
    if kept:
        with Journal.reopen_closed(folder, clock=clock) as journal:
            hashes: list[Json] = [*kept]
            journal.append_later(CLIP_DELETED, {"clips_sha256": hashes, "reason": reason})
    try:
        # All of the folder: a crash may have left sound that no line names.
        for path in (folder / CLIPS_FOLDER).glob("*.flac"):
            path.unlink()
    except OSError as error:
        raise RecordError(
            f"cannot delete sound in {folder / CLIPS_FOLDER}: {error.strerror}; delete it by hand"
        ) from error
    return len(kept)


def attest(
    folder: Path,
    key: Ed25519PrivateKey,
    *,
    by: str,
    retention: Retention | None = None,
    open_items_because: str = "",
    clock: Clock | None = None,
) -> str:
    """Close a record for good: count and head hash, signed by this installation.

    Args:
        folder: A closed record.
        key: Key of this installation.
        by: Role of who attests.
        retention: `UNTIL_ATTESTED` deletes the sound first; None for what the record was begun with.
        open_items_because: Why what was left open stays so, where a visit ended early; it and the items are signed.
        clock: For the stamp.

    Returns:
        The head hash after attestation, for the printed report.

    Raises:
        RecordError: The record is not closed, has faults, open items and no reason for them, or is attested already.
        UsageError: No role is given, or a reason for open items where there are none.
    """
    if not by.strip():
        raise UsageError("an attestation needs a role")
    _, record = _closed(folder)
    if record.attested:
        raise RecordError(f"{folder} is attested already and was not amended since")
    open_items = record.closing.data.get("open_items") if record.closing is not None else None
    because = open_items_because.strip()
    if open_items and not because:
        raise RecordError(f"{folder} has open items and is attested only with a reason for them: {_listed(open_items)}")
    if because and not open_items:
        raise UsageError(f"{folder} has no open items; leave out the reason for them")
    if (retention or record.header.get("retention")) == Retention.UNTIL_ATTESTED:
        delete_clips(folder, reason="kept until attested", clock=clock)
    with Journal.reopen_closed(folder, clock=clock) as journal:
        seq, prev = journal.next_line
        data: dict[str, Json] = {"by": by.strip(), "lines": seq + 1, "head": prev, "public_key": public_hex(key)}
        if open_items:
            data |= {"open_items": open_items, "because": because}
        at = journal.now()
        signature = key.sign(message_to_sign(RecordLine(seq, prev, at, ATTESTED, data)))
        journal.append_later(ATTESTED, data | {"signature": signature.hex()}, at=at)
    return verify(folder).head_hash


def _listed(items: Json) -> str:
    return ", ".join(str(item) for item in items) if isinstance(items, list) else str(items)
