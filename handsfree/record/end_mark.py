"""The note of the end: count and hash of the last seal, in a file beside the record.

It shows a record that was cut back to an earlier seal, as long as the note was not cut back with it. Signed, nobody
without the key can write one for another end; only an earlier copy of both can be put back, which a noted head shows.

It is written beside the old note before the lines, and put in its place after them: a crash between leaves both.
"""

import contextlib
import json
import os
from dataclasses import dataclass
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from handsfree.errors import RecordError
from handsfree.record.chain_checking import ChainRead, RecordFault
from handsfree.record.private_files import open_private, sync_folder
from handsfree.record.record_line import RecordLine, canonical
from handsfree.record.signing import public_hex, signature_is_good
from handsfree.regular_files import read_within, rename_within, unlink_within

END_FILE = "record.end"
_NEW = f"{END_FILE}.new"
_LARGEST = 4096
"""Bytes of a note. Chosen here, no source: some ten times what is written."""


@dataclass(frozen=True, slots=True)
class NotedEnd:
    """What the note says.

    Attributes:
        lines: How many lines were sealed.
        head: SHA-256 of the last of them.
        public_key: Key of who signed it, hexadecimal; "" where nobody did.
        signature: Ed25519 over the note without this member, hexadecimal; "" where nobody did.
    """

    lines: int
    head: str
    public_key: str = ""
    signature: str = ""

    @property
    def message(self) -> bytes:
        """Canonical bytes of what is signed."""
        return canonical({"lines": self.lines, "head": self.head, "public_key": self.public_key})

    def names_last_of(self, reading: ChainRead) -> bool:
        """Whether it was written for the end that a file has."""
        return (self.lines, self.head) == (len(reading.lines), reading.head)

    def signed_by(self, public_key: str) -> bool:
        """Whether the holder of a key signed it."""
        return self.public_key == public_key and signature_is_good(public_key, self.signature, self.message)


def prepare_end(folder: Path, line: RecordLine, key: Ed25519PrivateKey | None) -> bool:
    """Write the note for a seal that is about to be written. A failure is no fault: the record itself counts.

    Returns:
        Whether it was written.
    """
    mark = NotedEnd(line.seq + 1, line.hash, public_hex(key) if key is not None else "")
    noted: dict[str, int | str] = {"lines": mark.lines, "head": mark.head}
    if key is not None:
        noted |= {"public_key": mark.public_key, "signature": key.sign(mark.message).hex()}
    try:
        handle = open_private(folder / _NEW, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        with os.fdopen(handle, "wb") as file:
            file.write(canonical(dict(noted)))
            file.flush()
            os.fsync(file.fileno())
        sync_folder(folder)
    except (OSError, RecordError):
        drop_prepared(folder)
        return False
    return True


def settle_end(folder: Path) -> None:
    """Put the note in the place of the one before, now that the seal is on the disk."""
    try:
        rename_within(folder, _NEW, END_FILE)
    except OSError:
        drop_prepared(folder)


def drop_prepared(folder: Path) -> None:
    """Take away a note for a seal that was not written."""
    with contextlib.suppress(OSError):
        unlink_within(folder, _NEW)


def settle_left(folder: Path, reading: ChainRead) -> None:
    """Settle a note that a crash left beside the one before: its seal is on the disk, or it is taken away."""
    with contextlib.suppress(FileNotFoundError):
        mark = _read(folder, _NEW)
        if mark is not None and mark.names_last_of(reading):
            settle_end(folder)
        else:
            drop_prepared(folder)


def end_fault(folder: Path, reading: ChainRead) -> RecordFault | None:
    """Whether the record still holds what was sealed last, as far as the note beside it tells."""
    try:
        noted = _read(folder, END_FILE)
    except FileNotFoundError:
        return None
    if noted is None:
        return RecordFault(0, f"{END_FILE} cannot be read")
    if not 1 <= noted.lines <= len(reading.lines):
        what = f"{noted.lines} lines were sealed and {len(reading.lines)} are left: cut off"
        return RecordFault(len(reading.lines) + 1, what)
    line = reading.lines[noted.lines - 1]
    if line is None or line.hash != noted.head:
        return RecordFault(noted.lines, "is not the line that was sealed")
    return None


def trusted_end_fault(folder: Path, reading: ChainRead, public_key: str) -> RecordFault | None:
    """Whether the holder of a key noted just the end that a record has."""
    marks: list[NotedEnd] = []
    for name in (END_FILE, _NEW):
        with contextlib.suppress(FileNotFoundError):
            mark = _read(folder, name)
            marks += [mark] if mark is not None else []
    if not marks:
        return RecordFault(0, f"{END_FILE} is missing: lines may have been cut from the end")
    named = [mark for mark in marks if mark.names_last_of(reading)]
    if not named:
        return RecordFault(0, f"{END_FILE} does not name the last line")
    if not any(mark.signed_by(public_key) for mark in named):
        what = f"{END_FILE} is not signed by the key to be trusted: lines may have been cut from the end"
        return RecordFault(0, what)
    return None


def _read(folder: Path, name: str) -> NotedEnd | None:
    """A note; None where it is none.

    Raises:
        FileNotFoundError: It is not there.
    """
    try:
        noted = json.loads(read_within(folder, name, _LARGEST))
        mark = NotedEnd(noted["lines"], noted["head"], noted.get("public_key", ""), noted.get("signature", ""))
    except FileNotFoundError:
        raise
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    texts = (mark.head, mark.public_key, mark.signature)
    return mark if type(mark.lines) is int and all(isinstance(text, str) for text in texts) else None


def read_end_note(folder: Path) -> bytes | None:
    """The bytes of the note beside a record; None where there is none that can be read."""
    try:
        return read_within(folder, END_FILE, _LARGEST)
    except OSError:
        return None
