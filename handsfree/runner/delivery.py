"""Says, sounds and shows what events ask for: what ends light or pain at once, the rest when it is on the disk."""

import logging
from collections.abc import Iterable, Sequence
from dataclasses import replace

from handsfree.clock import Clock
from handsfree.errors import RecordError
from handsfree.model.effects import Append, Close, Effect, PlayEarcon, Priority, Say
from handsfree.model.facts import AnyFact, DiskFoundSlow
from handsfree.runner.backlog import Backlog, HeldBack
from handsfree.runner.logged_outputs import LoggedOutputs
from handsfree.runner.record_writer import RecordWriter
from handsfree.session.session import Session
from handsfree.session.snapshot import Snapshot

_LOG = logging.getLogger(__name__)
SLOW_S = 1.0
"""A disk that takes longer is told aloud. Chosen here, no source: whoever was not answered by then says it again."""


class Delivery:
    """Carries out effects, in the order of their events, as far as the record has got.

    Args:
        session: Says where it stands, and in which words a disk that fails or is slow is told.
        writer: Writes events and facts.
        outputs: What a person hears and sees.
        clock: Session time.

    Attributes:
        outcome: How the session closed, once that is on the disk; else None.
        asked: How many questions that waited for the disk were asked so far.
    """

    def __init__(self, session: Session, writer: RecordWriter, outputs: LoggedOutputs, clock: Clock) -> None:
        self._session = session
        self._writer = writer
        self._outputs = outputs
        self._clock = clock
        self._backlog = Backlog()
        self._handed = 0
        self._ending = False
        self._failed = False
        self._shown_done = 0
        self._slow_told: bool | None = None
        self.outcome: str | None = None
        self.asked = 0

    @property
    def ending(self) -> bool:
        """Whether the session has closed; its end may wait for the disk."""
        return self._ending or self.outcome is not None

    @property
    def settled(self) -> bool:
        """Whether nothing that is to be said or shown waits for the disk."""
        return not self._backlog

    @property
    def is_slow(self) -> bool:
        """Whether the disk was found slow."""
        return self._slow_told is not None

    @property
    def asked_since_s(self) -> float | None:
        """Since when a question has waited to be asked, session time; None where none does."""
        return self._backlog.asked_since_s

    @property
    def until_slow_s(self) -> float | None:
        """Seconds until the disk counts as slow, if it stays at what it writes now; None where that is known."""
        since_s = self._writer.waiting_since_s
        return None if self.is_slow or since_s is None else max(0.0, since_s + SLOW_S - self._clock.monotonic_s())

    def carry_out(self, batch: int, effects: Sequence[Effect], at_s: float) -> None:
        """Carry out what an event led to, beside the facts of it, which were handed to the writer.

        Args:
            batch: Their number; see `RecordWriter.hand_over`.
            effects: What is to be said and sounded, and whether this is the end.
            at_s: Session time of the event.

        Raises:
            RecordError: As `settle`.
        """
        snapshot = self._session.snapshot
        now = [effect for effect in effects if _is_at_once(effect)]
        later = tuple(effect for effect in effects if not _is_at_once(effect))
        place = (snapshot.step_id, snapshot.mode)
        if now:
            self._backlog.overtake(now, place)
        self._handed = batch
        self._backlog.put(HeldBack(batch, later, snapshot, place, at_s))
        self._ending = any(isinstance(effect, Close) for effect in later)
        try:
            self._do(now)
            if now:
                # Where it stands, but not yet as done what is not on the disk.
                self._outputs.show(replace(snapshot, done=self._shown_done))
        finally:
            self.settle()

    def show(self) -> None:
        """Show where the session stands, if nothing waits for the disk: what does is shown with it."""
        if self.settled:
            self._show(self._session.snapshot)

    def note(self, fact: AnyFact) -> None:
        """Have a fact written that follows from no event; nothing is, once the session has closed.

        Raises:
            RecordError: As `settle`.
        """
        if not self.ending:
            _LOG.info("fact_noted at_s=%.3f kind=%s", self._clock.monotonic_s(), fact.kind)
            self._handed = self._writer.hand_over(None, [Append(fact)])
            self.settle()

    def tell(self, text: str) -> None:
        """Say something about the surroundings, after what waits for the disk."""
        said = Say(text, Priority.ATTENTION)
        if self.settled:
            self._do([said])
        else:
            self._backlog.put(HeldBack(self._handed, (said,), None, ("", ""), self._clock.monotonic_s()))

    def settle(self) -> None:
        """Say and show what the disk has caught up with; tell that it is slow.

        Raises:
            RecordError: The record cannot be written; that was said, and the session must end.
        """
        for held in self._backlog.ready(self._writer.written()):
            self._do(held.effects)
            self.asked += held.asks
            if held.snapshot is not None:
                self._show(held.snapshot)
        failure = self._writer.failure
        if failure is not None:
            self._give_up(failure)
        self._mind_slow_disk()

    def finish(self) -> None:
        """Wait until everything that was handed over is on the disk, and say what waits for it.

        Raises:
            RecordError: As `settle`.
        """
        while not self._writer.wait(self.until_slow_s):
            self.settle()
        self.settle()

    def _give_up(self, failure: Exception) -> None:
        if isinstance(failure, RecordError) and not self._failed:
            self._failed = True
            # Aloud, since hands that are gloved cannot read a screen.
            self._outputs.say(self._session.record_failed, Priority.STOP)
        raise failure

    def _mind_slow_disk(self) -> None:
        """Told once, and never where light may be on: while the tool speaks it cannot hear "light off"."""
        if self._slow_told is None and (longest_s := self._writer.longest_s()) >= SLOW_S:
            self._slow_told = False
            now_s = self._clock.monotonic_s()
            _LOG.warning("disk_found_slow at_s=%.3f waited_s=%.3f", now_s, longest_s)
            self.note(DiskFoundSlow(waited_s=round(longest_s, 3), at_s=round(now_s, 3)))
        if self._slow_told is False and not self._session.light_may_be_on:
            self._slow_told = True
            self._outputs.say(self._session.record_slow, Priority.PROMPT)

    def _do(self, effects: Iterable[Effect]) -> None:
        for effect in effects:
            match effect:
                case Say(text=text, priority=priority, heard_out=heard_out):
                    self._outputs.say(text, priority, heard_out)
                case PlayEarcon(earcon=earcon):
                    self._outputs.earcon(earcon)
                case Close(outcome=outcome):
                    _LOG.info("session_closed at_s=%.3f outcome=%s", self._clock.monotonic_s(), outcome)
                    self.outcome = outcome
                case Append():
                    raise TypeError("facts are handed to the writer")

    def _show(self, snapshot: Snapshot) -> None:
        self._shown_done = snapshot.done
        self._outputs.show(snapshot)


def _is_at_once(effect: Effect) -> bool:
    return isinstance(effect, Say | PlayEarcon) and effect.at_once
