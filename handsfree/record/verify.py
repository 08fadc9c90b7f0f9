"""Is this record whole and unaltered? Reads only."""

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.record.chain_checking import RecordFault
from handsfree.record.chained_file import LARGEST_FILE
from handsfree.record.clips import clip_fault
from handsfree.record.contents import Record
from handsfree.record.file_lock import is_written
from handsfree.record.files import end_fault
from handsfree.record.folding import fold
from handsfree.record.forms.form_reader import NewerFormError
from handsfree.record.line_checking import RECORD_FILE, LinesRead, read_lines
from handsfree.record.own_lines import ATTESTED, SEALED, AttestedLine
from handsfree.record.signing import message_to_sign, signature_is_good
from handsfree.regular_files import read_within


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


def verify(path: Path, *, trusted_key: str | None = None) -> Verification:
    """Check a record: form, chain, count, signatures, and the sound beside it.

    Args:
        path: A record folder, or its file.
        trusted_key: The public key that must have signed, hexadecimal; any where None. Whoever rewrites a whole record
            can sign it with a key of their own, so a record from elsewhere proves nothing without this.

    Raises:
        NewerFormError: It is of a form that this program does not know.
        RecordError: There is no record, or it cannot be read.
    """
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
        faults += _signature_faults(reading, trusted_key)
        cut = end_fault(file.parent, reading) if file.name == RECORD_FILE else None
        faults += [cut] if cut is not None else []
    if record is not None:
        for seq, sha256 in record.clips:
            what = clip_fault(file.parent, sha256) if sha256 not in record.deleted_clips else None
            if what is not None:
                faults.append(RecordFault(seq + 1, what))
    state = RecordState.BROKEN if faults else _state(reading, file)
    if state is RecordState.INTERRUPTED:
        faults += _unfinished(reading)
    return Verification(state, len(reading.lines), reading.head, tuple(faults), record)


def _signature_faults(reading: LinesRead, trusted_key: str | None) -> list[RecordFault]:
    faults: list[RecordFault] = []
    for line, stated in reading.pairs:
        if not isinstance(stated, AttestedLine):
            continue
        if not signature_is_good(stated.public_key, stated.signature, message_to_sign(line)):
            faults.append(RecordFault(line.seq + 1, "the signature is wrong"))
        elif trusted_key is not None and stated.public_key != trusted_key.lower():
            what = "signed by another installation's key than the one to be trusted"
            faults.append(RecordFault(line.seq + 1, what))
    return faults


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
