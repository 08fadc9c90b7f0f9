"""A file of lines, read with its faults. Pure: bytes in, lines and faults out."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from handsfree.errors import RecordError
from handsfree.model.effects import Append, Json
from handsfree.record.codec import FIRST_PREV, RecordLine, decode_event, fact_sum, parse_line, with_sum

RECORD_FILE = "record.jsonl"
HEADER = "header"
EVENT = "event"
SEALED = "sealed"
INTERRUPTED = "interrupted"
AMENDED = "amended"
CLIP_DELETED = "clip_deleted"
ATTESTED = "attested"
OWN_KINDS = frozenset({HEADER, EVENT, SEALED, INTERRUPTED, AMENDED, CLIP_DELETED, ATTESTED})
"""Kinds that only the journal writes; a session's facts may not use them."""
CLOSING_FACT = "session_closed"
_AFTER_SEAL = frozenset({AMENDED, CLIP_DELETED, SEALED, ATTESTED})


@dataclass(frozen=True, slots=True)
class RecordFault:
    """Something wrong with a record.

    Attributes:
        line: RecordLine number in the file, from 1; 0 where it is not about a line.
        what: What is wrong.
    """

    line: int
    what: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.what}" if self.line else self.what


@dataclass(slots=True)
class LinesRead:
    """What a file holds.

    Attributes:
        lines: Lines that could be read, by line number; None where one could not.
        faults: What is wrong inside.
        torn: Bytes after the last line end: what was being written when the program was ended.
        whole: Length of the file in bytes up to and including the last line end.
        due: Facts that the last batch announces and the file lacks.
    """

    lines: list[RecordLine | None] = field(default_factory=list)
    faults: list[RecordFault] = field(default_factory=list)
    torn: bytes = b""
    whole: int = 0
    due: int = 0

    @property
    def good(self) -> list[RecordLine]:
        """The lines that could be read."""
        return [line for line in self.lines if line is not None]

    @property
    def head(self) -> str:
        """SHA-256 of the last whole line; 64 zeros for an empty file."""
        good = self.good
        return good[-1].hash if good else FIRST_PREV


def read_lines(content: bytes) -> LinesRead:
    """Read and check every line of a record file: form, order, chain, sums and batches."""
    reading = split_lines(content)
    if reading.lines or not reading.faults:
        _check_batches(reading)
        check_chain(reading)
        reading.faults.sort(key=lambda fault: fault.line)
    return reading


def split_lines(content: bytes) -> LinesRead:
    """Read every line of a file; only their form is checked."""
    if content.count(b"\n") == content.count(b"\r\n") > 0:
        return LinesRead(
            faults=[RecordFault(1, "every line ends in CR LF: a transfer changed the line ends; copy it unchanged")]
        )
    pieces = content.split(b"\n")
    torn = pieces.pop()
    reading = LinesRead(torn=torn, whole=len(content) - len(torn))
    for number, raw in enumerate(pieces, start=1):
        try:
            reading.lines.append(parse_line(raw))
        except RecordError as error:
            reading.lines.append(None)
            reading.faults.append(RecordFault(number, str(error)))
    return reading


def check_chain(reading: LinesRead) -> None:
    """Order, links and sums. After a fault the next line is taken at its word, so that one fault is told once."""
    faulty = {fault.line for fault in reading.faults}
    expected_seq: set[int] = {0}
    expected_prev: str | None = FIRST_PREV
    for number, line in enumerate(reading.lines, start=1):
        if line is None:
            expected_seq = {seq + 1 for seq in expected_seq}
            expected_prev = None
            continue
        what = _link_fault(line, expected_seq, expected_prev)
        if what is not None:
            reading.faults.append(RecordFault(number, what))
        expected_seq = {line.seq + 1} if line.seq in expected_seq else {line.seq + 1, *(s + 1 for s in expected_seq)}
        expected_prev = None if what is not None or number in faulty else line.hash


def _link_fault(line: RecordLine, expected_seq: set[int], expected_prev: str | None) -> str | None:
    if line.seq not in expected_seq:
        due = min(expected_seq)
        return f"sequence number {line.seq} where {due} was due: lines were dropped, repeated or moved"
    if line.kind in OWN_KINDS and with_sum(line) != line:
        return "was altered: its own sum does not match"
    if expected_prev is not None and line.prev != expected_prev:
        return "does not carry the hash of the line before: one of the two was altered"
    return None


def _check_batches(reading: LinesRead) -> None:
    """Header first, each event with just its facts, nothing foreign after the seal."""
    lines = reading.lines
    if not lines:
        reading.faults.append(RecordFault(1, "there is no whole line: this is not a record"))
    index, sealed = 0, False
    while index < len(lines):
        line = lines[index]
        number = index + 1
        index += 1
        if line is None:
            index = _skip_facts(lines, index)
            continue
        if line.kind == EVENT:
            if sealed:
                reading.faults.append(RecordFault(number, "an event after the record was closed"))
            index = _check_batch(reading, line, index)
        elif line.kind == SEALED:
            sealed = True
            if line.data.get("lines") != line.seq + 1 or line.data.get("head") != line.prev:
                reading.faults.append(RecordFault(number, "the closing count or hash does not match"))
        elif line.kind not in OWN_KINDS or (line.kind == HEADER) != (number == 1):
            reading.faults.append(RecordFault(number, f"{line.kind!r} does not belong here"))
        elif sealed and line.kind not in _AFTER_SEAL:
            reading.faults.append(RecordFault(number, f"{line.kind!r} after the record was closed"))


def _skip_facts(lines: Sequence[RecordLine | None], index: int) -> int:
    """After an unreadable line its facts, if it was an event, cannot be counted: go to the next known kind."""
    while index < len(lines):
        line = lines[index]
        if line is not None and line.kind in OWN_KINDS:
            break
        index += 1
    return index


def _check_batch(reading: LinesRead, lead: RecordLine, start: int) -> int:
    """Check the facts of one event. Returns where the next batch begins."""
    number = start
    sums = lead.data.get("facts_sha256")
    count = lead.data.get("facts")
    members = {"event", "facts", "facts_sha256", "sum"}
    if not isinstance(sums, list) or count != len(sums) or set(lead.data) - {"clip_sha256"} != members:
        reading.faults.append(RecordFault(number, "the event line does not have the members it must have"))
        return _skip_facts(reading.lines, start)
    try:
        event: Json = lead.data["event"]
        if event is not None and decode_event(event).wall != lead.at:
            reading.faults.append(RecordFault(number, "the stamp differs from that of the event"))
    except RecordError as error:
        reading.faults.append(RecordFault(number, f"the event cannot be read: {error}"))
    index = start
    for due in sums:
        if index == len(reading.lines):
            reading.due = len(sums) - (index - start)
            break
        line = reading.lines[index]
        if line is not None and line.kind in OWN_KINDS:
            reading.faults.append(RecordFault(number, f"announces {len(sums)} facts; {index - start} follow"))
            break
        index += 1
        if line is not None and (line.at != lead.at or fact_sum(Append(line.kind, line.data)) != due):
            reading.faults.append(RecordFault(index, "is not the fact that was written with its event"))
    return index
