"""The journal: an append-only file that one process writes and that survives being cut off anywhere.

One batch (an event and its facts) is one write and one fsync. Nothing is called recorded before the batch is on the
disk, so a crash loses at most what nobody was told to be recorded. Files are 0600, folders 0700.
"""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from handsfree import __version__
from handsfree.build import build
from handsfree.clock import Clock, SystemClock
from handsfree.errors import RecordError
from handsfree.model.effects import Append
from handsfree.model.events import CommandDoubted, SessionEvent, SpeechRejected
from handsfree.model.facts import VisitClosed
from handsfree.record.carried_procedure import digest_of, write_carried
from handsfree.record.chain_writing import LineChain
from handsfree.record.chained_file import LARGEST_FILE, ChainedFile
from handsfree.record.clips import keep_clip
from handsfree.record.comparison import same_fact
from handsfree.record.end_mark import drop_prepared, prepare_end, settle_end
from handsfree.record.files import drop_batch, drop_unled, open_checked, repair
from handsfree.record.header import FORM, RecordHeader
from handsfree.record.interruption import Interrupted, interrupted_of
from handsfree.record.line_checking import RECORD_FILE, LinesRead, read_lines
from handsfree.record.own_lines import (
    ATTESTED,
    SEALED,
    AmendedLine,
    AttestedLine,
    ClipDeletedLine,
    FormRaisedLine,
    InterruptedLine,
)
from handsfree.record.private_files import make_private, sync_folder
from handsfree.record.reference_checking import check_reference
from handsfree.regular_files import read_within
from handsfree.stamps import stamp


class MovedOnError(RecordError):
    """A record holds other lines than those that somebody looked at before they acted; nothing was added."""


LaterLine = AmendedLine | ClipDeletedLine | AttestedLine
"""What may be added to a closed record."""


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
    _form: int
    _sealed: bool = False
    _pending: Interrupted | None = None
    _read: LinesRead | None = None
    _key: Ed25519PrivateKey | None = None
    keep_clips: bool = False

    @classmethod
    def create(
        cls, folder: Path, header: RecordHeader, *, clock: Clock | None = None, carried: bytes = b""
    ) -> "Journal":
        """Begin a record in a folder that has none.

        Args:
            folder: Made with mode 0700 where it is not there.
            header: What the record is of. Where it names no start, it is the stamp of the first line.
            clock: For the stamps of lines without an event.
            carried: The procedure with its profiles, as JSON, which is put beside it; none where empty.

        Raises:
            RecordError: The folder holds a record already or cannot be written.
            UsageError: The patient reference may be a name.
        """
        clock = clock or SystemClock()
        if header.patient_reference is not None:
            check_reference(header.patient_reference, header.reference_pattern, clock.wall().date())
        path = folder / RECORD_FILE
        make_private(folder)
        try:
            file = ChainedFile.claim(path, create=True)
        except OSError as error:
            raise RecordError(f"cannot make a record in {folder}: {error.strerror}; give a writable folder") from error
        journal = cls(folder, file, clock, FORM)
        begun = dataclasses.replace(
            header, form=FORM, started=header.started or stamp(clock.wall()), carried_sha256=digest_of(carried)
        )
        try:
            left = read_lines(read_within(folder, RECORD_FILE, LARGEST_FILE))
            if left.lines:
                raise RecordError(f"{folder} already holds a record; give an empty folder, or resume it")  # noqa: TRY301
            repair(folder, file.handle, left)  # a program that was ended while it wrote the first line
            if carried:
                write_carried(folder, carried)
            chain = journal._chain(begun.started)
            chain.add_own(begun, begun.started)
            journal._write(chain)
            sync_folder(folder)
        except OSError as error:
            journal.close()
            raise RecordError(f"cannot read {path}: {error.strerror}") from error
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
            if reading.has(SEALED):
                raise RecordError(f"{folder} is closed; a closed record cannot be resumed, only amended")  # noqa: TRY301
            drop_unled(reading)
            interrupted = interrupted_of(reading, clock.wall())
            repair(folder, file.handle, reading)
        except RecordError:
            file.close()
            raise
        file.follow(reading)
        return cls(folder, file, clock, reading.form, _pending=interrupted, _read=reading), interrupted

    @classmethod
    def reopen_closed(
        cls,
        folder: Path,
        *,
        clock: Clock | None = None,
        after: str | None = None,
        key: Ed25519PrivateKey | None = None,
    ) -> "Journal":
        """Open a closed record for `append_later`. A later line that was cut off is set aside, and the seal renewed.

        Args:
            folder: Folder of the record.
            clock: For the stamps.
            after: The head hash that the record must have, or None for any: what was looked at.
            key: Signs every line that is added.

        Raises:
            MovedOnError: It has another.
            RecordError: There is no record, another process writes it, it is not closed, or it is broken.
        """
        file, reading = open_checked(folder)
        good = reading.good
        if not reading.has(SEALED):
            file.close()
            raise RecordError(f"{folder} is not closed; resume it and end the session first")
        if after is not None and reading.head != after:
            file.close()
            raise MovedOnError(f"{folder} has changed since it was looked at; nothing was added")
        file.follow(reading)
        journal = cls(folder, file, clock or SystemClock(), reading.form, _sealed=True, _key=key)
        try:
            repair(folder, file.handle, reading)
            if good[-1].kind not in (SEALED, ATTESTED):
                chain = journal._chain(good[-1].at)
                chain.seal(good[-1].at)
                journal._write(chain)
        except RecordError:
            journal.close()
            raise
        return journal

    def resume(self, facts_of_last_event: Sequence[Append]) -> None:
        """Complete the last batch after replay and note the interruption, and which program goes on.

        Args:
            facts_of_last_event: What the new session answered to the last event.

        Raises:
            RecordError: The replay does not give the facts on file, so the record and this program disagree.
        """
        pending, reading = self._pending, self._read
        if pending is None or reading is None:
            raise RecordError("the record was not interrupted")
        given = [effect.fact for effect in facts_of_last_event]
        known = len(pending.last_facts)
        older = pending.older - (len(pending.facts) - known)
        on_file = enumerate(zip(pending.last_facts, given, strict=False))
        if pending.events and not (
            len(given) >= known and all(same_fact(*pair, older=index < older) for index, pair in on_file)
        ):
            raise RecordError("replay gives other facts than the record holds; use the version that wrote it")
        completed = given if pending.redo is not None else given[known:] if pending.due else []
        if pending.redo is None and len(completed) != pending.due:
            raise RecordError(f"replay gives {len(completed)} of the {pending.due} missing facts of the last event")
        at = pending.events[-1].wall if pending.events else stamp(self._clock.wall())
        if pending.redo is not None:
            drop_batch(reading)
            repair(self.folder, self._file.handle, reading)
            self._file.follow(reading)
            self._form = reading.form
        chain = self._chain(at)
        if pending.redo is not None:
            chain.add_batch(pending.redo.event, completed, at, pending.redo.clip_sha256)
        else:
            chain.add(completed, at)
        if pending.closing or any(isinstance(fact, VisitClosed) for fact in completed):
            chain.seal(at)
        else:
            noted = InterruptedLine(
                gap_s=pending.gap_s,
                torn_bytes=pending.torn_bytes,
                facts_completed=len(completed),
                program=__version__,
                build=build(),
            )
            chain.add_own(noted, stamp(self._clock.wall()))
        self._write(chain)
        self._pending = self._read = None

    def append(self, event: SessionEvent | None, facts: Sequence[Append]) -> list[int]:
        """Write one event with its facts: one write, one fsync.

        Of speech that was rejected neither the sound nor a free transcript is kept, of speech in doubt no free
        transcript: it may name somebody.

        `VisitClosed` seals the record: the count of lines and the head hash are written with it.

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
        event = _without_talk(event)
        at = event.wall if event is not None else stamp(self._clock.wall())
        stated = [effect.fact for effect in facts]
        chain = self._chain(at)
        first = chain.seq
        heard = getattr(event, "heard", None)
        clip = keep_clip(self.folder, heard.clip) if self.keep_clips and heard is not None and heard.clip else None
        chain.add_batch(event, stated, at, clip)
        numbers = list(range(first, chain.seq))
        if any(isinstance(fact, VisitClosed) for fact in stated):
            chain.seal(at)
        self._write(chain)
        return numbers

    def append_later(self, content: LaterLine, *, at: str | None = None) -> int:
        """Add an amendment, the deletion of a clip, or an attestation to a closed record, and seal it again.

        An attestation is its own seal: it must carry the count and the head, see `next_line`. What is added is signed
        with the key that the record was opened with.

        Args:
            content: What is added.
            at: The stamp; now where left out.

        Returns:
            Sequence number of the line.

        Raises:
            RecordError: As `append`; or the record is not closed.
        """
        if not self._sealed:
            raise RecordError("this can only be added to a closed record")
        at = at or stamp(self._clock.wall())
        chain = self._chain(at)
        seq = chain.seq
        chain.add_own(content, at)
        if not isinstance(content, AttestedLine):
            chain.seal(at)
        self._write(chain)
        return seq

    @property
    def sealed(self) -> bool:
        """Whether the record is closed; also after `resume`, where only the seal was missing."""
        return self._sealed

    def next_line(self, at: str) -> tuple[int, str]:
        """Sequence number and `prev` of what `append_later` would add with a stamp."""
        chain = self._chain(at)
        return chain.seq, chain.prev

    @property
    def head(self) -> str:
        """SHA-256 of the last line."""
        return self._file.tail.prev

    def now(self) -> str:
        """The stamp that a line without an event would get."""
        return stamp(self._clock.wall())

    def close(self) -> None:
        """Release the file. The record stays as it is; one without `VisitClosed` counts as interrupted."""
        self._file.close()

    def __enter__(self) -> "Journal":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _chain(self, at: str) -> LineChain:
        """New lines; to a record of an older form the first of them raises it."""
        chain = LineChain(self._file.tail.seq, self._file.tail.prev, self._key)
        if self._form < FORM:
            chain.add_own(FormRaisedLine(form=FORM, program=__version__, build=build()), at)
        return chain

    def _write(self, chain: LineChain) -> None:
        lines = chain.lines
        ends = lines[-1].kind in (SEALED, ATTESTED)
        prepared = ends and prepare_end(self.folder, lines[-1], self._key)
        try:
            self._file.append(lines)
        except RecordError:
            if prepared:
                drop_prepared(self.folder)
            raise
        self._form = FORM
        self._sealed = self._sealed or any(line.kind == SEALED for line in lines)
        if prepared:
            settle_end(self.folder)


def _without_talk(event: SessionEvent | None) -> SessionEvent | None:
    """Speech that was not for the tool may name somebody: neither its sound nor a free transcript is kept.

    Of speech in doubt the sound stays, because a value may follow from it once it is affirmed.
    """
    if isinstance(event, CommandDoubted):
        return dataclasses.replace(event, heard=dataclasses.replace(event.heard, free_text=None))
    if not isinstance(event, SpeechRejected) or event.heard is None:
        return event
    return dataclasses.replace(event, heard=dataclasses.replace(event.heard, free_text=None, clip=None))
