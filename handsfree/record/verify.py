"""Is this record whole and unaltered? Reads only."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.record.carried_procedure import read_carried
from handsfree.record.chain_checking import RecordFault
from handsfree.record.chained_file import LARGEST_FILE
from handsfree.record.clips import clip_fault
from handsfree.record.contents import Record
from handsfree.record.end_mark import end_fault, trusted_end_fault
from handsfree.record.file_lock import is_written
from handsfree.record.folding import fold
from handsfree.record.forms.form_reader import NewerFormError
from handsfree.record.line_checking import RECORD_FILE, LinesRead, read_lines
from handsfree.record.own_lines import ATTESTED, SEALED, AttestedLine, SignableLine
from handsfree.record.record_line import RecordLine
from handsfree.record.signing import message_to_sign, signature_is_good
from handsfree.regular_files import read_within

Contradictions = Callable[[Record], Sequence[RecordFault]]
"""Given a record: what it states otherwise than follows from what was heard."""
_FIRST_SIGNED_END = 2
"""The form from which on a note of the end is signed; a record that ends in an older one has none that is."""


class RecordState(StrEnum):
    """State of a record. NEWER stands in lists only: `verify` raises for what it cannot read."""

    OPEN = "open"
    INTERRUPTED = "interrupted"
    COMPLETE = "complete"
    ATTESTED = "attested"
    BROKEN = "broken"
    NEWER = "newer"


@dataclass(frozen=True, slots=True)
class Verification:
    """Outcome of a check.

    Attributes:
        state: What the record is.
        lines: Whole lines on file.
        head_hash: SHA-256 of the last line; compare it with a printed report.
        faults: What is wrong, with the line number.
        record: The contents, or None where it is broken.
    """

    state: RecordState
    lines: int
    head_hash: str
    faults: tuple[RecordFault, ...]
    record: Record | None

    @property
    def fine(self) -> bool:
        """Whether the record is closed and nothing is wrong with it."""
        return self.state in (RecordState.COMPLETE, RecordState.ATTESTED)

    def contradicted_by(self, faults: Sequence[RecordFault]) -> "Verification":
        """The outcome with what a replay found besides."""
        return replace(self, state=RecordState.BROKEN, faults=(*self.faults, *faults)) if faults else self


def record_file(path: Path) -> Path:
    """The file of a record, given the file or its folder.

    Raises:
        RecordError: There is none.
    """
    try:
        found = path / RECORD_FILE if path.is_dir() else path
        found.lstat()
    except (FileNotFoundError, NotADirectoryError) as error:
        raise RecordError(f"{path} holds no record; give a record folder or its {RECORD_FILE}") from error
    except OSError as error:
        raise RecordError(f"cannot read {path}: {error.strerror}") from error
    return found


def verify(path: Path, *, trusted_key: str | None = None, noted_head: str | None = None) -> Verification:
    """Check a record: form, chain, count, signatures, and the sound beside it.

    Args:
        path: A record folder, or its file.
        trusted_key: The public key that must have attested the record and signed every line after that and the note of
            the end, hexadecimal; any or none where None. Whoever rewrites a whole record can sign it with a key of
            their own, so a record from elsewhere proves nothing without this.
        noted_head: A head hash that was printed or written down: a line of the record must have it.

    Raises:
        NewerFormError: It is of a form that this program does not know.
        RecordError: There is no record, or it cannot be read.
    """
    return verify_with_lines(path, trusted_key=trusted_key, noted_head=noted_head)[0]


def verify_with_lines(
    path: Path, *, trusted_key: str | None = None, noted_head: str | None = None
) -> tuple[Verification, LinesRead]:
    """As `verify`, with the lines that were checked."""
    file = record_file(path)
    try:
        content = read_within(file.parent, file.name, LARGEST_FILE)
    except OSError as error:
        raise RecordError(f"cannot read {file}: {error.strerror}") from error
    reading = read_lines(content)
    if reading.newer:
        raise NewerFormError(f"{file}: {reading.faults[0]}")
    faults = list(reading.faults)
    record = None
    if not faults:
        record = fold(reading)
        faults += _signature_faults(reading)
        cut = end_fault(file.parent, reading) if file.name == RECORD_FILE else None
        faults += [cut] if cut is not None else []
        if trusted_key is not None:
            faults += _trust_faults(reading, file.parent, trusted_key.lower())
        if noted_head is not None and all(line.hash != noted_head.lower() for line in reading.good):
            what = "no line has the head hash that was noted: lines were cut from the end, or the record written anew"
            faults.append(RecordFault(0, what))
    if record is not None:
        carried, changed = read_carried(file.parent, record.header.carried_sha256)
        record = replace(record, carried=carried)
        faults += [RecordFault(1, changed)] if changed else []
        for seq, sha256 in record.clips:
            wrong = clip_fault(file.parent, sha256) if sha256 not in record.deleted_clips else None
            if wrong is not None:
                faults.append(RecordFault(seq + 1, wrong))
    state = RecordState.BROKEN if faults else _state(reading, file)
    if state is RecordState.INTERRUPTED:
        faults += _unfinished(reading)
    return Verification(state, len(reading.lines), reading.head, tuple(faults), record), reading


def refuse_contradicted(path: Path, record: Record, contradicted: Contradictions) -> None:
    """Keep a record whose values do not follow from its words from being amended, signed or passed on.

    Raises:
        RecordError: Something in it does not; names the first.
    """
    faults = contradicted(record)
    if faults:
        more = "" if len(faults) == 1 else f" and {len(faults) - 1} more"
        raise RecordError(
            f"{path} is broken: what it states does not follow from what was heard: {faults[0]}{more}"
            " (`handsfree verify --all` lists every fault)"
        )


def _signature_faults(reading: LinesRead) -> list[RecordFault]:
    """Signatures that are none; of whose key they are is another question."""
    return [
        RecordFault(line.seq + 1, "the signature is wrong")
        for line, stated in reading.pairs
        if isinstance(stated, SignableLine)
        and (stated.is_signed or isinstance(stated, AttestedLine))
        and not _is_signed_well(line, stated)
    ]


def _is_signed_well(line: RecordLine, stated: SignableLine) -> bool:
    return signature_is_good(stated.public_key, stated.signature, message_to_sign(line))


def _trust_faults(reading: LinesRead, folder: Path, key: str) -> list[RecordFault]:
    """What keeps a record from being attested by the holder of a key, with every line after it signed by them too."""
    pairs = reading.pairs
    later: list[tuple[RecordLine, SignableLine]] = []
    for line, stated in reversed(pairs):
        if not isinstance(stated, SignableLine):
            nobody = RecordFault(0, "nobody with the key to be trusted has attested the record")
            return [*_of_others(later, key), nobody]
        if isinstance(stated, AttestedLine) and stated.public_key == key and _is_signed_well(line, stated):
            break
        later.insert(0, (line, stated))
    unsigned = [
        RecordFault(line.seq + 1, "was added after the attestation and is not signed")
        for line, stated in later
        if not stated.is_signed
    ]
    faults = sorted([*unsigned, *_of_others(later, key)], key=lambda fault: fault.line)
    unsigned_end = reading.form < _FIRST_SIGNED_END and pairs[-1][0].kind == ATTESTED
    end = None if unsigned_end else trusted_end_fault(folder, reading, key)
    return [*faults, end] if end is not None else faults


def _of_others(later: list[tuple[RecordLine, SignableLine]], key: str) -> list[RecordFault]:
    what = "is signed by another installation's key than the one to be trusted"
    return [RecordFault(line.seq + 1, what) for line, stated in later if stated.is_signed and stated.public_key != key]


def _state(reading: LinesRead, file: Path) -> RecordState:
    if reading.torn or reading.due:
        return RecordState.OPEN if is_written(file) else RecordState.INTERRUPTED
    last = reading.good[-1].kind
    if last == ATTESTED:
        return RecordState.ATTESTED
    if last == SEALED:
        return RecordState.COMPLETE
    return RecordState.OPEN if is_written(file) else RecordState.INTERRUPTED


def _unfinished(reading: LinesRead) -> list[RecordFault]:
    number = len(reading.lines)
    if reading.torn:
        return [RecordFault(number + 1, f"the last line is cut after {len(reading.torn)} bytes")]
    if reading.due:
        return [RecordFault(number, f"the file ends {reading.due} facts before the end of the last event")]
    return [RecordFault(number, "the record ends without being closed")]
