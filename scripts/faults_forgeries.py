"""Forgeries by somebody who knows the form: whatever needs no key is made right again, or signed with another one."""

import contextlib
import random
import shutil
from collections.abc import Callable
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from faults_corruptions import ALWAYS, FILE_KINDS, Change, Claims, Kind, put_odd
from faults_records import OTHER_KEY, Records, correct
from forgery import changed, forged, lines_of, own_line, values_changed

from handsfree.errors import RecordError
from handsfree.record.amendments import attest
from handsfree.record.end_mark import END_FILE
from handsfree.record.own_lines import AMENDED, ATTESTED, EVENT, OWN_KINDS, SEALED
from handsfree.record.record_line import RecordLine

Lines = list[RecordLine]
KEY_OR_HEAD: Claims = (False, True, True)
KEY_ALONE: Claims = (False, True, False)
HEAD_ALONE: Claims = (False, False, True)
NOT_BY_ITSELF: Claims = (None, True, True)
"""The guide says of the record alone nothing."""
_KINDS: list[Kind] = []


def kind(name: str, claimed: Claims, *, amended: bool = False) -> Callable[[Change], Change]:
    """Put a kind on the list."""

    def listed(change: Change) -> Change:
        _KINDS.append(Kind(name, change, claimed, amended))
        return change

    return listed


def _forge(name: str, claimed: Claims) -> Callable[[Callable[[Lines, random.Random], None]], None]:
    """A kind that makes every hash right again, and leaves the attestation away or makes one with another key."""

    def listed(edit: Callable[[Lines, random.Random], None]) -> None:
        def change(folder: Path, rng: random.Random, _: Records) -> None:
            def made(lines: Lines) -> None:
                del lines[next(seq for seq, line in enumerate(lines) if line.kind == SEALED) + 1 :]
                edit(lines, rng)

            forged(folder, made)
            if rng.random() < 0.5:
                with contextlib.suppress(RecordError):  # where even the chain shows it
                    attest(folder, OTHER_KEY, by="surgeon")

        kind(name, claimed)(change)

    return listed


def _seqs(lines: Lines, wanted: str, holding: str = "") -> list[int]:
    return [seq for seq, line in enumerate(lines) if line.kind == wanted and holding in str(line.data)]


def _end_of_batch(lines: Lines, lead: int) -> int:
    return next(seq for seq in range(lead + 1, len(lines)) if lines[seq].kind in OWN_KINDS)


def _lead(lines: Lines, seq: int) -> int:
    return max(number for number in range(seq) if lines[number].kind == EVENT)


@_forge("hashes right: a stored value changed", ALWAYS)
def _(lines: Lines, rng: random.Random) -> None:
    seq = rng.choice(_seqs(lines, "reading_confirmed", "'type': 'exact'"))
    old = str(dict(lines[seq].data)["value"]["value"])
    new = old[:-1] + str((int(old[-1]) + rng.randint(1, 9)) % 10)
    lines[seq] = values_changed(lines[seq], f'"value":"{old}"', f'"value":"{new}"')


@_forge("hashes right: a value changed in command and facts", ALWAYS)
def _(lines: Lines, rng: random.Random) -> None:
    old, new = '"value":"1.4"', f'"value":"1.{rng.choice("012356789")}"'
    for seq, line in enumerate(lines):
        if old.encode() in line.raw:
            lines[seq] = values_changed(line, old, new)


@_forge("hashes right: words changed that a command came from", ALWAYS)
def _(lines: Lines, rng: random.Random) -> None:
    new = rng.choice(("one", "two", "three", "five", "six", "seven", "eight", "nine"))
    for seq, line in enumerate(lines):
        if b"one point four" in line.raw or b'"one","point","four"' in line.raw:
            changes = (('"one","point","four"', f'"one","point","{new}"'), ("one point four", f"one point {new}"))
            for old, now in (pair for pair in changes if pair[0].encode() in line.raw):
                lines[seq] = values_changed(lines[seq], old, now)


@_forge("hashes right: a fact taken out", ALWAYS)
def _(lines: Lines, rng: random.Random) -> None:
    facts = [seq for seq, line in enumerate(lines) if line.kind not in OWN_KINDS and line.kind != "visit_closed"]
    del lines[rng.choice(facts)]


@_forge("hashes right: an event taken out with its facts", ALWAYS)
def _(lines: Lines, rng: random.Random) -> None:
    lead = rng.choice(_seqs(lines, EVENT)[:-1])
    del lines[lead : _end_of_batch(lines, lead)]


@_forge("hashes right: an event with its facts put in again", ALWAYS)
def _(lines: Lines, rng: random.Random) -> None:
    lead = rng.choice(_seqs(lines, EVENT)[:-1])
    batch = lines[lead : _end_of_batch(lines, lead)]
    at = rng.choice([seq for seq in _seqs(lines, EVENT) if seq >= lead])
    lines[at:at] = batch


@_forge("hashes right: a reading put in without an event", ALWAYS)
def _(lines: Lines, rng: random.Random) -> None:
    seq = rng.choice(_seqs(lines, "reading_confirmed"))
    lead = own_line(EVENT, lines[seq].at, event=None, clip_sha256=None)
    at = rng.choice([number for number in (*_seqs(lines, EVENT), len(lines) - 1) if number > seq])
    lines[at:at] = [lead, lines[seq]]


@_forge("hashes right: the words of a command changed for another's", ALWAYS)
def _(lines: Lines, rng: random.Random) -> None:
    spoken = [seq for seq in _seqs(lines, EVENT, "command_spoken") if "affirm" in str(lines[seq].data["event"])]
    seq = rng.choice(spoken)
    new = rng.choice(("negative", "say again", "wait", "status report", "resume"))
    words = ",".join(f'"{word}"' for word in new.split())
    lines[seq] = values_changed(lines[seq], '["affirmative"]', f"[{words}]")


@_forge("hashes right: stamps moved", NOT_BY_ITSELF)
def _(lines: Lines, rng: random.Random) -> None:
    first, minute = rng.randrange(1, len(lines) - 2), rng.randrange(10, 60)
    for seq in range(first, len(lines)):
        at = f"{lines[seq].at[:14]}{minute}{lines[seq].at[16:]}"
        moved = (
            values_changed(lines[seq], lines[seq].at, at) if lines[seq].at.encode() in _data(lines[seq]) else lines[seq]
        )
        lines[seq] = RecordLine(moved.seq, moved.prev, at, moved.kind, moved.data)


def _data(line: RecordLine) -> bytes:
    return line.raw.partition(b'"data":')[2]


@_forge("hashes right: members of the first line changed", NOT_BY_ITSELF)
def _(lines: Lines, rng: random.Random) -> None:
    member, value = rng.choice(
        (
            ("title", "Another title"),
            ("record_id", "another"),
            ("patient_reference", "DEMO-0002"),
            ("program", "9.9.9"),
            ("build", "another"),
            ("practice", False),
            ("started", "2026-11-24T10:00:00.000Z"),
            ("versions", {"wording": "expert"}),
            ("retention", "until_attested"),
        )
    )
    lines[0] = changed(lines[0], **{member: value})


@_forge("hashes right: another number of the form", NOT_BY_ITSELF)
def _(lines: Lines, rng: random.Random) -> None:
    lines[0] = changed(lines[0], form=rng.choice((0, 1, 3, 99, -1, 2**40)))


@kind("told otherwise throughout: words, commands and facts alike", KEY_OR_HEAD)
def _(folder: Path, rng: random.Random, records: Records) -> None:
    shutil.rmtree(folder)
    shutil.copytree(rng.choice(records.otherwise), folder)
    if rng.random() < 0.5:
        attest(folder, OTHER_KEY, by="surgeon")


@kind("the attestation taken away", KEY_OR_HEAD)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    forged(folder, lambda lines: lines.pop())
    if rng.random() < 0.5:
        (folder / END_FILE).unlink()


@kind("attested by another key instead", KEY_OR_HEAD)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    forged(folder, lambda lines: lines.pop())
    attest(folder, OTHER_KEY, by=rng.choice(("surgeon", "therapist")))


@kind("amended after the attestation without the key", KEY_ALONE)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    key: Ed25519PrivateKey | None = rng.choice((None, OTHER_KEY))
    correct(folder, key)
    if key is not None and rng.random() < 0.5:
        attest(folder, key, by="surgeon")


@kind("closed again after the attestation without the key", KEY_ALONE)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    seal = own_line(SEALED, lines_of(folder)[-1].at, lines=0, head="", public_key="", signature="")
    forged(folder, lambda lines: lines.extend([seal] * rng.randint(1, 3)))


@kind("cut back to the attestation, with a new note of the end", KEY_OR_HEAD, amended=True)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    forged(folder, lambda lines: lines.__delitem__(slice(_seqs(lines, ATTESTED)[0] + 1, None)))
    if rng.random() < 0.5:
        (folder / END_FILE).unlink()


@kind("a signed amendment changed, hashes right", ALWAYS, amended=True)
def _(folder: Path, rng: random.Random, _: Records) -> None:
    def change(lines: Lines) -> None:
        seq = _seqs(lines, AMENDED)[0]
        member = rng.choice(("reason", "by", "signature", "public_key"))
        lines[seq] = changed(lines[seq], **{member: rng.randbytes(32).hex()})

    forged(folder, change)


@kind("the signature of an amendment taken away, hashes right", KEY_OR_HEAD, amended=True)
def _(folder: Path, _rng: random.Random, _: Records) -> None:
    def change(lines: Lines) -> None:
        for seq in range(_seqs(lines, AMENDED)[0], len(lines)):
            lines[seq] = changed(lines[seq], signature="", public_key="")

    forged(folder, change)


@kind("an earlier copy put back whole", HEAD_ALONE, amended=True)
def _(folder: Path, _rng: random.Random, records: Records) -> None:
    shutil.rmtree(folder)
    shutil.copytree(records.attested, folder)


@kind("the note of the end taken away", KEY_ALONE)
def _(folder: Path, _rng: random.Random, _: Records) -> None:
    (folder / END_FILE).unlink()


@kind("the note of the end changed, or another's", (None, True, None), amended=True)
def _(folder: Path, rng: random.Random, records: Records) -> None:
    content = (folder / END_FILE).read_bytes()
    match rng.randrange(4):
        case 0:
            content = (records.attested / END_FILE).read_bytes()
        case 1:
            content = content[: rng.randrange(len(content))]
        case 2:
            at = rng.randrange(len(content))
            content = content[:at] + bytes([content[at] ^ 1 << rng.randrange(8)]) + content[at + 1 :]
        case _:
            content = rng.choice((b"", b"[]", b"{}", b"[" * 4000, b"\xff", b'{"lines":"x","head":0}', b"9" * 5000))
    (folder / END_FILE).write_bytes(content)


@kind("a link, a pipe or a folder in the place of the note of the end", (None, True, None))
def _(folder: Path, rng: random.Random, _: Records) -> None:
    put_odd(folder / END_FILE, rng)


KINDS = (*FILE_KINDS, *_KINDS)
