"""The lines of a chained file, read with their faults, whatever they state. Pure: bytes in, lines and faults out."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Self

from handsfree.errors import RecordError
from handsfree.record.record_line import FIRST_PREV, RecordLine, parse_line


@dataclass(frozen=True, slots=True)
class RecordFault:
    """Something wrong with a record.

    Attributes:
        line: Number of the line in the file, from 1; 0 where it is not about a line.
        what: What is wrong.
    """

    line: int
    what: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.what}" if self.line else self.what


@dataclass(slots=True)
class ChainRead:
    """The lines that a file holds.

    Attributes:
        lines: Lines that could be read, by line number; None where one could not.
        faults: What is wrong inside.
        torn: Bytes after the last line end: what was being written when the program was ended.
        whole: Length of the file in bytes up to and including the last line end.
    """

    lines: list[RecordLine | None] = field(default_factory=list)
    faults: list[RecordFault] = field(default_factory=list)
    torn: bytes = b""
    whole: int = 0

    @classmethod
    def split(cls, content: bytes) -> Self:
        """Read every line of a file; only the form of each is checked."""
        if content.count(b"\n") == content.count(b"\r\n") > 0:
            what = "every line ends in CR LF: a transfer changed the line ends; copy it unchanged"
            return cls(faults=[RecordFault(1, what)])
        pieces = content.split(b"\n")
        torn = pieces.pop()
        reading = cls(torn=torn, whole=len(content) - len(torn))
        for number, raw in enumerate(pieces, start=1):
            try:
                reading.lines.append(parse_line(raw))
            except RecordError as error:
                reading.lines.append(None)
                reading.faults.append(RecordFault(number, str(error)))
        return reading

    @property
    def good(self) -> list[RecordLine]:
        """The lines that could be read."""
        return [line for line in self.lines if line is not None]

    @property
    def head(self) -> str:
        """SHA-256 of the last whole line; 64 zeros for an empty file."""
        good = self.good
        return good[-1].hash if good else FIRST_PREV

    def has(self, kind: str) -> bool:
        """Whether a line is of a kind."""
        return any(line.kind == kind for line in self.good)


def check_chain(reading: ChainRead) -> None:
    """Note faults of order and links. After one the next line is taken at its word, so that one fault is told once."""
    faulty = {fault.line for fault in reading.faults}
    expected_seq: set[int] = {0}
    expected_prev: str | None = FIRST_PREV
    for number, line in enumerate(reading.lines, start=1):
        if line is None:
            expected_seq = {seq + 1 for seq in expected_seq}
            expected_prev = None
            continue
        what = _link_fault(line, expected_seq, None if number in faulty else expected_prev)
        if what is not None:
            reading.faults.append(RecordFault(number, what))
        expected_seq = {line.seq + 1} if line.seq in expected_seq else {line.seq + 1, *(s + 1 for s in expected_seq)}
        expected_prev = None if what is not None or number in faulty else line.hash


def _link_fault(line: RecordLine, expected_seq: set[int], expected_prev: str | None) -> str | None:
    if line.seq not in expected_seq:
        due = min(expected_seq)
        return f"sequence number {line.seq} where {due} was due: lines were dropped, repeated or moved"
    if not _is_stamp(line.at):
        return f"{line.at!r} is no time"
    if expected_prev is not None and line.prev != expected_prev:
        return "does not carry the hash of the line before: one of the two was altered"
    return None


def _is_stamp(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False
