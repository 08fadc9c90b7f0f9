"""The journal: an append-only file that one process writes and that survives being cut off anywhere.

One batch (an event and its facts) is one write and one fsync. Nothing is spoken before the batch is on the disk, so a
crash loses at most what was being said. Files are 0600, folders 0700.
"""

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from handsfree.clock import Clock, SystemClock
from handsfree.errors import RecordError
from handsfree.model.effects import Append, Json
from handsfree.model.events import CommandDoubted, SessionEvent, SpeechRejected
from handsfree.record.chained_file import ChainedFile
from handsfree.record.clips import keep_clip
from handsfree.record.codec import FIRST_PREV, RecordLine, decode_event, encode, fact_sum, with_sum
from handsfree.record.files import drop_unled, make_private, note_end, open_checked, repair, sync_folder
from handsfree.record.lines import (
    AMENDED,
    ATTESTED,
    CLIP_DELETED,
    CLOSING_FACT,
    EVENT,
    HEADER,
    INTERRUPTED,
    OWN_KINDS,
    RECORD_FILE,
    SEALED,
    LinesRead,
    read_lines,
)
from handsfree.record.patient_reference import check_reference
from handsfree.stamps import stamp

FORM = 1
_LATER_KINDS = frozenset({AMENDED, CLIP_DELETED, ATTESTED})


@dataclass(frozen=True, slots=True)
class Interrupted:
    """What a reopened record needs before it can go on.

    Attributes:
        header: Data of the header line.
        events: Every event of the record, to be handed to a new session in this order.
        facts: Every fact on file that follows from an event.
        last_facts: Those of the last event.
        due: How many facts of the last event are missing.
        closing: Whether the session was closed and only the seal is missing.
        torn_bytes: Length of the torn last line, now in a side file.
        last_at_s: Session time of the last event, 0 where there is none.
        gap_s: Wall-clock seconds since the last line, at least 0.
    """

    header: Mapping[str, Json]
    events: tuple[SessionEvent, ...]
    facts: tuple[Append, ...]
    last_facts: tuple[Append, ...]
    due: int
    closing: bool
    torn_bytes: int
    last_at_s: float
    gap_s: float


@dataclass(slots=True)
class Journal:
    """An open record. Make one with `create` or `reopen`; it is locked until `close`.

    Attributes:
        folder: Folder of the record.
        keep_clips: Whether the sound of each utterance is kept beside the journal.
    """

    folder: Path
    _file: ChainedFile
    _clock: Clock
    _sealed: bool = False
    _pending: Interrupted | None = None
    keep_clips: bool = False

    @classmethod
    def create(cls, folder: Path, header: Mapping[str, Json], *, clock: Clock | None = None) -> "Journal":
        """Begin a record in a folder that has none.

        Args:
            folder: Made with mode 0700 where it is not there.
            header: Facts about the record: record_id, procedure, versions, practice, started (RFC 3339, the stamp of
                the first line where given). Names nobody; a "patient_reference" must look like one.
            clock: For the stamps of lines without an event.

        Raises:
            RecordError: The folder holds a record already or cannot be written.
            UsageError: The patient reference may be a name.
        """
        clock = clock or SystemClock()
        if header.get("patient_reference") is not None:
            check_reference(str(header["patient_reference"]))
        path = folder / RECORD_FILE
        make_private(folder)
        try:
            file = ChainedFile.claim(path, create=True)
        except OSError as error:
            raise RecordError(f"cannot make a record in {folder}: {error.strerror}; give a writable folder") from error
        journal = cls(folder, file, clock)
        started = header.get("started")
        at = started if isinstance(started, str) else stamp(clock.wall())
        try:
            left = read_lines(path.read_bytes())
            if left.lines:
                raise RecordError(f"{folder} already holds a record; give an empty folder, or resume it")  # noqa: TRY301
            repair(folder, file.handle, left)  # a program that was ended while it wrote the first line
            journal._write([journal._own(HEADER, {"form": FORM, **header}, at, 0, FIRST_PREV)])
            sync_folder(folder)
        except RecordError:
            journal.close()
            raise
        return journal

    @classmethod
    def reopen(cls, folder: Path, *, clock: Clock | None = None) -> tuple["Journal", Interrupted]:
        """Open a record that ended without being closed. Call `resume` before `append`.

        A torn last line moves to a side file `torn-N.bin`, and with it an unfinished batch that no event leads; nothing
        else changes yet.

        Raises:
            RecordError: There is no record, another process writes it, it is closed, or it is broken.
        """
        clock = clock or SystemClock()
        file, reading = open_checked(folder)
        try:
            if any(line.kind == SEALED for line in reading.good):
                raise RecordError(f"{folder} is closed; a closed record cannot be resumed, only amended")  # noqa: TRY301
            drop_unled(reading)
            repair(folder, file.handle, reading)
            interrupted = _interrupted(reading, clock)
        except RecordError:
            file.close()
            raise
        file.follow(reading)
        return cls(folder, file, clock, _pending=interrupted), interrupted

    @classmethod
    def reopen_closed(cls, folder: Path, *, clock: Clock | None = None) -> "Journal":
        """Open a closed record for `append_later`. A later line that was cut off is set aside, and the seal renewed.

        Raises:
            RecordError: There is no record, another process writes it, it is not closed, or it is broken.
        """
        file, reading = open_checked(folder)
        good = reading.good
        if not any(line.kind == SEALED for line in good):
            file.close()
            raise RecordError(f"{folder} is not closed; resume it and end the session first")
        file.follow(reading)
        journal = cls(folder, file, clock or SystemClock(), _sealed=True)
        try:
            repair(folder, file.handle, reading)
            if good[-1].kind not in (SEALED, ATTESTED):
                journal._write([journal._seal(*journal.next_line, good[-1].at)])
        except RecordError:
            journal.close()
            raise
        return journal

    def resume(self, facts_of_last_event: Sequence[Append]) -> None:
        """Complete the last batch after replay and note the interruption.

        Args:
            facts_of_last_event: What the new session answered to the last event.

        Raises:
            RecordError: The replay does not give the facts on file, so the record and this program disagree.
        """
        pending = self._pending
        if pending is None:
            raise RecordError("the record was not interrupted")
        on_file = len(pending.last_facts)
        if pending.events and list(pending.last_facts) != list(facts_of_last_event[:on_file]):
            raise RecordError("replay gives other facts than the record holds; use the version that wrote it")
        completed = list(facts_of_last_event[on_file:]) if pending.due else []
        if len(completed) != pending.due:
            raise RecordError(f"replay gives {len(completed)} of the {pending.due} missing facts of the last event")
        at = pending.events[-1].wall if pending.events else stamp(self._clock.wall())
        lines = self._chained([(fact.kind, dict(fact.data)) for fact in completed], at)
        if pending.closing or any(fact.kind == CLOSING_FACT for fact in completed):
            seq, prev = self._after(lines)
            lines.append(self._seal(seq, prev, at))
        else:
            data: dict[str, Json] = {
                "gap_s": pending.gap_s,
                "torn_bytes": pending.torn_bytes,
                "facts_completed": len(completed),
            }
            seq, prev = self._after(lines)
            lines.append(self._own(INTERRUPTED, data, stamp(self._clock.wall()), seq, prev))
        self._write(lines)
        self._pending = None

    def append(self, event: SessionEvent | None, facts: Sequence[Append]) -> list[int]:
        """Write one event with its facts: one write, one fsync.

        Of speech that was rejected neither the sound nor a free transcript is kept, of speech in doubt no free
        transcript: it may name somebody.

        A fact "session_closed" seals the record: the count of lines and the head hash are written with it.

        Args:
            event: What happened, or None for facts without one.
            facts: What followed from it.

        Returns:
            Sequence numbers of the lines: the event, then each fact.

        Raises:
            RecordError: The batch could not be written or an earlier one was not. Nothing may be said to be recorded;
                the file is as before, or ends in a torn line that `reopen` sets aside.
        """
        if self._pending is not None:
            raise RecordError("the record was interrupted; complete its last event first (resume)")
        if self._sealed:
            raise RecordError("the record is closed; it can only be amended")
        reserved = next((fact.kind for fact in facts if fact.kind in OWN_KINDS), None)
        if reserved is not None:
            raise RecordError(f"a session may not write the kind {reserved!r}")
        event = _without_talk(event)
        at = event.wall if event is not None else stamp(self._clock.wall())
        lead: dict[str, Json] = {
            "event": encode(event),
            "facts": len(facts),
            "facts_sha256": [fact_sum(fact) for fact in facts],
        }
        heard = getattr(event, "heard", None)
        if self.keep_clips and heard is not None and heard.clip:
            lead["clip_sha256"] = keep_clip(self.folder, heard.clip)
        first = self._own(EVENT, lead, at, self._file.tail.seq, self._file.tail.prev)
        lines = [first, *self._chained([(fact.kind, dict(fact.data)) for fact in facts], at, first)]
        numbers = [line.seq for line in lines]
        if any(fact.kind == CLOSING_FACT for fact in facts):
            lines.append(self._seal(*self._after(lines), at))
        self._write(lines)
        return numbers

    def append_later(self, kind: str, data: Mapping[str, Json], *, at: str | None = None) -> int:
        """Add an amendment, the deletion of a clip, or an attestation to a closed record, and seal it again.

        An attestation is its own seal: its data must carry the count and the head.

        Args:
            kind: What is added.
            data: Its members.
            at: The stamp where it was signed, else now.

        Returns:
            Sequence number of the line.

        Raises:
            RecordError: As `append`; or the record is not closed or the kind is another.
        """
        if not self._sealed or kind not in _LATER_KINDS:
            raise RecordError(f"{kind!r} can only be added to a closed record")
        line = self._own(kind, data, at or stamp(self._clock.wall()), self._file.tail.seq, self._file.tail.prev)
        self._write([line] if kind == ATTESTED else [line, self._seal(*self._after([line]), line.at)])
        return line.seq

    @property
    def sealed(self) -> bool:
        """Whether the record is closed; also after `resume`, where only the seal was missing."""
        return self._sealed

    @property
    def next_line(self) -> tuple[int, str]:
        """Sequence number and `prev` of the line to come."""
        return self._file.tail.seq, self._file.tail.prev

    def now(self) -> str:
        """The stamp that a line without an event would get."""
        return stamp(self._clock.wall())

    def close(self) -> None:
        """Release the file. The record stays as it is; a record without "session_closed" counts as interrupted."""
        self._file.close()

    def __enter__(self) -> "Journal":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _own(self, kind: str, data: Mapping[str, Json], at: str, seq: int, prev: str) -> RecordLine:
        return with_sum(RecordLine(seq, prev, at, kind, data))

    def _after(self, lines: Sequence[RecordLine]) -> tuple[int, str]:
        return (lines[-1].seq + 1, lines[-1].hash) if lines else (self._file.tail.seq, self._file.tail.prev)

    def _chained(
        self, facts: Sequence[tuple[str, dict[str, Json]]], at: str, first: RecordLine | None = None
    ) -> list[RecordLine]:
        seq, prev = self._after([first] if first is not None else [])
        lines: list[RecordLine] = []
        for kind, data in facts:
            lines.append(RecordLine(seq, prev, at, kind, data))
            seq, prev = seq + 1, lines[-1].hash
        return lines

    def _seal(self, seq: int, prev: str, at: str) -> RecordLine:
        data: dict[str, Json] = {"lines": seq + 1, "head": prev}
        return self._own(SEALED, data, at, seq, prev)

    def _write(self, lines: Sequence[RecordLine]) -> None:
        self._file.append(lines)
        self._sealed = self._sealed or any(line.kind == SEALED for line in lines)
        if lines[-1].kind in (SEALED, ATTESTED):
            note_end(self.folder, lines[-1])


def _without_talk(event: SessionEvent | None) -> SessionEvent | None:
    """Speech that was not for the tool may name somebody: neither its sound nor a free transcript is kept.

    Of speech in doubt the sound stays, because a value may follow from it once it is affirmed.
    """
    if isinstance(event, CommandDoubted):
        return dataclasses.replace(event, heard=dataclasses.replace(event.heard, free_text=None))
    if not isinstance(event, SpeechRejected) or event.heard is None:
        return event
    return dataclasses.replace(event, heard=dataclasses.replace(event.heard, free_text=None, clip=None))


def _interrupted(reading: LinesRead, clock: Clock) -> Interrupted:
    lines = reading.good
    events: list[SessionEvent] = []
    facts: list[Append] = []
    last = 0
    led = False
    for line in lines:
        if line.kind == EVENT:
            led = line.data["event"] is not None
            if led:
                events.append(decode_event(line.data["event"]))
                last = len(facts)
        elif line.kind not in OWN_KINDS and led:
            facts.append(Append(line.kind, line.data))
    gap_s = (clock.wall() - datetime.fromisoformat(lines[-1].at)).total_seconds()
    return Interrupted(
        header=lines[0].data,
        events=tuple(events),
        facts=tuple(facts),
        last_facts=tuple(facts[last:]),
        closing=any(line.kind == CLOSING_FACT for line in lines),
        due=reading.due,
        torn_bytes=len(reading.torn),
        last_at_s=events[-1].at_s if events else 0.0,
        gap_s=max(0.0, round(gap_s, 3)),
    )
