"""Hands what goes on record to the journal, in order: at once, or beside the session in a thread of its own."""

import queue
import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from handsfree.clock import Clock
from handsfree.model.effects import Append
from handsfree.model.events import SessionEvent


class Journals(Protocol):
    """Where batches are written. `record.Journal` is the real one."""

    def append(self, event: SessionEvent | None, facts: Sequence[Append]) -> object:
        """Write one event with its facts; returns once they are on the disk."""


@dataclass(frozen=True, slots=True)
class Batch:
    """One event with its facts.

    Attributes:
        event: What happened, or None for facts without one.
        facts: What followed from it.
        handed_s: Session time at which it was handed over.
    """

    event: SessionEvent | None
    facts: tuple[Append, ...]
    handed_s: float


class RecordWriter(Protocol):
    """Writes batches in the order in which they are handed over; after one that failed it writes no more."""

    def hand_over(self, event: SessionEvent | None, facts: Sequence[Append]) -> int:
        """Take one batch; returns its number, from 1. Does not wait for the disk."""

    def written(self) -> int:
        """How many batches are on the disk."""

    @property
    def failure(self) -> Exception | None:
        """Why a batch could not be written; nothing after it is on the disk."""

    @property
    def waiting_since_s(self) -> float | None:
        """Session time at which the oldest batch that is not on the disk was handed over."""

    def longest_s(self) -> float:
        """Longest that a batch has waited for the disk so far, seconds."""

    def wait(self, patience_s: float | None) -> bool:
        """Wait until everything is on the disk or a batch failed; False where the patience (seconds) ends first."""

    def on_written(self, call: Callable[[], None]) -> None:
        """Call this from now on, from whatever thread, whenever a batch was written or failed; it must not block."""

    def close(self) -> None:
        """Write what was handed over, then take no more."""


class WritesAtOnce:
    """Writes when it is looked at: for sessions whose time is counted, in which nobody waits. See `RecordWriter`.

    Args:
        journal: Where batches go.
        clock: Session time.
    """

    def __init__(self, journal: Journals, clock: Clock) -> None:
        self._journal = journal
        self._clock = clock
        self._due: deque[Batch] = deque()
        self._handed = 0
        self._longest_s = 0.0
        self._failure: Exception | None = None

    def hand_over(self, event: SessionEvent | None, facts: Sequence[Append]) -> int:
        """See `RecordWriter.hand_over`."""
        self._handed += 1
        self._due.append(Batch(event, tuple(facts), self._clock.monotonic_s()))
        return self._handed

    def written(self) -> int:
        """See `RecordWriter.written`."""
        while self._due and self._failure is None:
            batch = self._due[0]
            try:
                self._journal.append(batch.event, batch.facts)
            except Exception as error:  # noqa: BLE001 - told by `failure`, like one of the thread beside
                self._failure = error
                break
            self._due.popleft()
            self._longest_s = max(self._longest_s, self._clock.monotonic_s() - batch.handed_s)
        return self._handed - len(self._due)

    @property
    def failure(self) -> Exception | None:
        """See `RecordWriter.failure`."""
        return self._failure

    @property
    def waiting_since_s(self) -> float | None:
        """See `RecordWriter.waiting_since_s`."""
        return self._due[0].handed_s if self._due else None

    def longest_s(self) -> float:
        """See `RecordWriter.longest_s`."""
        return self._longest_s

    def wait(self, patience_s: float | None) -> bool:  # noqa: ARG002 - see `RecordWriter.wait`
        """See `RecordWriter.wait`."""
        self.written()
        return True

    def on_written(self, call: Callable[[], None]) -> None:
        """See `RecordWriter.on_written`; whoever looks knows it already."""

    def close(self) -> None:
        """See `RecordWriter.close`."""
        self.written()


class WritesBeside:
    """Writes in a thread of its own, so that whoever waits for the disk waits for nothing else. See `RecordWriter`.

    The thread begins with the first batch and alone uses the journal from then on, until `close`.

    Args:
        journal: Where batches go.
        clock: Session time.
    """

    def __init__(self, journal: Journals, clock: Clock) -> None:
        self._journal = journal
        self._clock = clock
        self._inbox: queue.SimpleQueue[Batch | None] = queue.SimpleQueue()
        self._moved = threading.Condition()
        self._waiting: deque[float] = deque()
        self._handed = 0
        self._longest_s = 0.0
        self._failure: Exception | None = None
        self._call: Callable[[], None] = lambda: None
        self._thread = threading.Thread(target=self._run, name="record", daemon=True)

    def hand_over(self, event: SessionEvent | None, facts: Sequence[Append]) -> int:
        """See `RecordWriter.hand_over`."""
        now_s = self._clock.monotonic_s()
        with self._moved:
            self._handed += 1
            self._waiting.append(now_s)
        self._inbox.put(Batch(event, tuple(facts), now_s))
        if self._handed == 1:
            self._thread.start()
        return self._handed

    def written(self) -> int:
        """See `RecordWriter.written`."""
        with self._moved:
            return self._handed - len(self._waiting)

    @property
    def failure(self) -> Exception | None:
        """See `RecordWriter.failure`."""
        with self._moved:
            return self._failure

    @property
    def waiting_since_s(self) -> float | None:
        """See `RecordWriter.waiting_since_s`."""
        with self._moved:
            return self._waiting[0] if self._waiting else None

    def longest_s(self) -> float:
        """See `RecordWriter.longest_s`."""
        since_s = self.waiting_since_s
        return self._longest_s if since_s is None else max(self._longest_s, self._clock.monotonic_s() - since_s)

    def wait(self, patience_s: float | None) -> bool:
        """See `RecordWriter.wait`."""
        with self._moved:
            return self._moved.wait_for(lambda: not self._waiting or self._failure is not None, patience_s)

    def on_written(self, call: Callable[[], None]) -> None:
        """See `RecordWriter.on_written`."""
        self._call = call

    def close(self) -> None:
        """See `RecordWriter.close`."""
        self._inbox.put(None)
        if self._handed:
            self._thread.join()

    def _run(self) -> None:
        while (batch := self._inbox.get()) is not None and self._failure is None:
            failure = self._write(batch)
            with self._moved:
                self._failure = failure
                if failure is None:
                    self._longest_s = max(self._longest_s, self._clock.monotonic_s() - self._waiting.popleft())
                self._moved.notify_all()
            self._call()

    def _write(self, batch: Batch) -> Exception | None:
        try:
            self._journal.append(batch.event, batch.facts)
        except Exception as error:  # noqa: BLE001 - whatever it is, the owner of the session must know
            return error
        return None
