"""The file of a record, read with its faults. Pure: bytes in, lines with what they state and faults out."""

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

from handsfree.errors import RecordError
from handsfree.model.facts import AnyFact, VisitClosed
from handsfree.record.chain_checking import ChainRead, RecordFault, check_chain
from handsfree.record.forms.form_reader import FormReader, NewerFormError
from handsfree.record.own_lines import (
    AMENDED,
    ATTESTED,
    CLIP_DELETED,
    EVENT,
    FORM_RAISED,
    HEADER,
    OWN_KINDS,
    SEALED,
    AttestedLine,
    EventLine,
    OwnContent,
    SealedLine,
)
from handsfree.record.record_line import RecordLine

RECORD_FILE = "record.jsonl"
_AFTER_SEAL = frozenset({AMENDED, CLIP_DELETED, SEALED, ATTESTED, FORM_RAISED})
Stated = OwnContent | tuple[AnyFact, ...]
"""What a line states: a line of the journal's own, or the facts of a session's line."""


@dataclass(slots=True)
class LinesRead(ChainRead):
    """What the file of a record holds.

    Attributes:
        stated: What each line states; None where that could not be read.
        due: Facts that the last batch announces and the file lacks.
        form: Form of the last line; 0 where there is none.
        present_from: Sequence number of the first line of the form that this program writes, or None.
        newer: Whether it is of a form that this program does not know; that is its one fault then.
    """

    stated: list[Stated | None] = field(default_factory=list)
    due: int = 0
    form: int = 0
    present_from: int | None = None
    newer: bool = False

    @property
    def pairs(self) -> list[tuple[RecordLine, Stated]]:
        """The lines with what they state, where both could be read."""
        both = zip(self.lines, self.stated, strict=True)
        return [(line, stated) for line, stated in both if line is not None and stated is not None]


def read_lines(content: bytes) -> LinesRead:
    """Read and check every line of a record file: form, order, chain, sums, batches, and what each line states.

    A record of a form that this program does not know has that one fault.
    """
    with _nothing_collected():
        return _read_lines(content)


@contextmanager
def _nothing_collected() -> Iterator[None]:
    """Lines hold no cycles, and looking for some among a hundred thousand of them takes a third of the time."""
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


def _read_lines(content: bytes) -> LinesRead:
    reading = LinesRead.split(content)
    if reading.faults and not reading.lines:
        return reading
    try:
        no_facts = _read_contents(reading)
    except _NewerFormFoundError as found:
        reading.stated = [None] * len(reading.lines)
        reading.faults = [found.fault]
        reading.newer = True
        return reading
    _check_batches(reading)
    check_chain(reading)
    # What an altered line fails to state is no news beside its alteration.
    reading.faults = sorted(reading.faults or no_facts, key=lambda fault: fault.line)
    return reading


class _NewerFormFoundError(Exception):
    """From a line on the form is not known."""

    def __init__(self, fault: RecordFault) -> None:
        super().__init__(str(fault))
        self.fault = fault


def _read_contents(reading: LinesRead) -> list[RecordFault]:
    """What every line states, in order. Returns the faults of facts; those of the journal's own lines are noted."""
    reader = FormReader()
    no_facts: list[RecordFault] = []
    for number, line in enumerate(reading.lines, start=1):
        stated: Stated | None = None
        if line is None:
            pass
        elif line.kind in OWN_KINDS and not line.sum_fits:
            reading.faults.append(RecordFault(number, "was altered: its own sum does not match"))
        elif reader.form == 0 and line.kind != HEADER:
            pass  # nobody knows how to read it
        elif line.kind not in OWN_KINDS:
            try:
                stated = reader.facts(line)
            except RecordError as error:
                no_facts.append(RecordFault(number, str(error)))
        else:
            stated = _own(reader, line, number, reading)
        reading.stated.append(stated)
    reading.form, reading.present_from = reader.form, reader.present_from
    return no_facts


def _own(reader: FormReader, line: RecordLine, number: int, reading: LinesRead) -> OwnContent | None:
    try:
        return reader.own(line)
    except NewerFormError as error:
        raise _NewerFormFoundError(RecordFault(number, str(error))) from error
    except RecordError as error:
        reading.faults.append(RecordFault(number, f"the line of kind {line.kind!r} cannot be read: {error}"))
    return None


def _check_batches(reading: LinesRead) -> None:
    """Header first, each event with just its facts, nothing foreign after the seal."""
    lines = reading.lines
    if not lines:
        reading.faults.append(RecordFault(1, "there is no whole line: this is not a record"))
    index, sealed, ended = 0, False, False
    while index < len(lines):
        line, stated = lines[index], reading.stated[index]
        number = index + 1
        index += 1
        if line is None:
            index = _skip_facts(lines, index)
        elif line.kind == EVENT:
            if sealed:
                reading.faults.append(RecordFault(number, "an event after the record was closed"))
            lead = stated if isinstance(stated, EventLine) else None
            first = index
            index = _check_batch(reading, line, lead, index) if lead is not None else _skip_facts(lines, index)
            ended = _may_end(reading.stated[first:index])
        elif line.kind not in OWN_KINDS or (line.kind == HEADER) != (number == 1):
            reading.faults.append(RecordFault(number, f"{line.kind!r} does not belong here"))
        elif sealed and line.kind not in _AFTER_SEAL:
            reading.faults.append(RecordFault(number, f"{line.kind!r} after the record was closed"))
        elif isinstance(stated, SealedLine | AttestedLine):
            if not sealed and isinstance(stated, AttestedLine):
                reading.faults.append(RecordFault(number, "attests a record that was not closed"))
            elif not sealed and not ended:
                reading.faults.append(RecordFault(number, "closes a record in which no visit ended"))
            sealed = True
            if (stated.lines, stated.head) != (line.seq + 1, line.prev):
                what = "closing" if isinstance(stated, SealedLine) else "attested"
                reading.faults.append(RecordFault(number, f"the {what} count or hash does not match"))


def _may_end(batch: Sequence[Stated | None]) -> bool:
    """Whether a visit ended with the facts of an event; one that cannot be read is a fault of its own."""
    return any(
        stated is None or (isinstance(stated, tuple) and any(isinstance(fact, VisitClosed) for fact in stated))
        for stated in batch
    )


def _skip_facts(lines: Sequence[RecordLine | None], index: int) -> int:
    """After an unreadable line its facts, if it was an event, cannot be counted: go to the next known kind."""
    while index < len(lines):
        line = lines[index]
        if line is not None and line.kind in OWN_KINDS:
            break
        index += 1
    return index


def _check_batch(reading: LinesRead, line: RecordLine, lead: EventLine, start: int) -> int:
    """Check the facts of one event. Returns where the next batch begins."""
    number = start
    sums = lead.facts_sha256
    if lead.facts != len(sums):
        reading.faults.append(RecordFault(number, f"announces {lead.facts} facts and lists {len(sums)}"))
        return _skip_facts(reading.lines, start)
    if lead.event is not None and lead.event.wall != line.at:
        reading.faults.append(RecordFault(number, "the stamp differs from that of the event"))
    index = start
    for due in sums:
        if index == len(reading.lines):
            reading.due = len(sums) - (index - start)
            break
        fact = reading.lines[index]
        if fact is not None and fact.kind in OWN_KINDS:
            reading.faults.append(RecordFault(number, f"announces {len(sums)} facts; {index - start} follow"))
            break
        index += 1
        if fact is not None and (fact.at != line.at or fact.sum_as_fact != due):
            reading.faults.append(RecordFault(index, "is not the fact that was written with its event"))
    return index
