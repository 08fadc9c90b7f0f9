"""The shell around the core: tells the session what happened, writes the record, carries out what it asks for."""

import logging
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from typing import Protocol

from handsfree.clock import Clock
from handsfree.model.audio import AudioBlock
from handsfree.model.commands import Wanted
from handsfree.model.effects import Append, Close, Earcon, Effect, PlayEarcon, Priority, Say
from handsfree.model.events import (
    ClockTicked,
    CommandDoubted,
    CommandSpoken,
    RejectionReason,
    SessionEvent,
    SessionStarted,
    SpeechRejected,
)
from handsfree.model.hypotheses import Hypothesis
from handsfree.procedure.session import Session, Snapshot
from handsfree.recognition.port import Recognizer
from handsfree.record.journal import Journal
from handsfree.understanding.decision import Outcome, decide
from handsfree.understanding.interpreter import interpret, typed
from handsfree.understanding.listening import graph_for

_LOG = logging.getLogger(__name__)


class Outputs(Protocol):
    """What a person hears and sees. One implementation a surrounding: terminal, rehearsal, test."""

    def say(self, text: str, priority: Priority) -> None:
        """Speak a prompt; a higher priority interrupts."""

    def earcon(self, earcon: Earcon) -> None:
        """Play a short sound."""

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """Show what was heard and what became of it ("accepted", "doubted", "not taken")."""

    def show(self, snapshot: Snapshot) -> None:
        """Show where the procedure stands."""


class Conductor:
    """Owns one session and its journal; everything that happens goes through `dispatch`.

    Args:
        session: The procedure under way.
        journal: Where every event that has an effect is written before anything is said.
        outputs: Carries out prompts, sounds and the screen.
        clock: Gives `at_s` and wall stamps.
    """

    def __init__(self, session: Session, journal: Journal, outputs: Outputs, clock: Clock) -> None:
        self.session = session
        self._journal = journal
        self._outputs = outputs
        self._clock = clock
        self.outcome: str | None = None

    @property
    def closed(self) -> bool:
        """Whether the session has ended."""
        return self.outcome is not None

    @property
    def wanted(self) -> Wanted:
        """What the session is ready to hear."""
        return self.session.wanted

    def start(self, record_id: str, versions: tuple[tuple[str, str], ...], *, practice: bool) -> None:
        """Tell the session that it begins."""
        wall = self._clock.wall()
        offset = wall.utcoffset()
        self.dispatch(
            SessionStarted(
                at_s=self._clock.monotonic_s(),
                wall=stamp(wall),
                local_offset_minutes=int(offset.total_seconds() // 60) if offset is not None else 0,
                today=wall.date().isoformat(),
                record_id=record_id,
                versions=versions,
                practice=practice,
            )
        )

    def dispatch(self, event: SessionEvent) -> None:
        """Hand one event to the session, then record, then act.

        Raises:
            RecordError: The record cannot be written; nothing was said, and the session takes nothing more.
        """
        if self.closed:
            return
        effects = self.session.handle(event)
        if effects:
            self._journal.append(event, [effect for effect in effects if isinstance(effect, Append)])
        self._carry_out(effects)
        self._outputs.show(self.session.snapshot)

    def _carry_out(self, effects: Iterable[Effect]) -> None:
        for effect in effects:
            match effect:
                case Say(text=text, priority=priority):
                    self._outputs.say(text, priority)
                case PlayEarcon(earcon=earcon):
                    self._outputs.earcon(earcon)
                case Close(outcome=outcome):
                    self.outcome = outcome
                case Append():
                    pass

    def hear(self, hypothesis: Hypothesis) -> None:
        """Take one utterance: interpret, decide, dispatch."""
        wanted = self.session.wanted
        command = interpret(hypothesis, wanted)
        if command is None:
            self._outputs.heard(hypothesis, "not taken", 0.0)
            self._dispatch_rejection(hypothesis)
            return
        decision = decide(hypothesis, command, wanted)
        now = self._clock.monotonic_s()
        wall = stamp(self._clock.wall())
        match decision.outcome:
            case Outcome.ACCEPT:
                self._outputs.heard(hypothesis, "accepted", decision.probability)
                self.dispatch(
                    CommandSpoken(
                        at_s=now, wall=wall, command=command, heard=hypothesis, probability=decision.probability
                    )
                )
            case Outcome.ASK:
                self._outputs.heard(hypothesis, "doubted", decision.probability)
                self.dispatch(
                    CommandDoubted(
                        at_s=now, wall=wall, command=command, heard=hypothesis, probability=decision.probability
                    )
                )
            case _:
                self._outputs.heard(hypothesis, "not taken", decision.probability)
                self._dispatch_rejection(hypothesis)

    def type(self, line: str) -> None:
        """Take one typed line, as if it had been said just now."""
        hypothesis = typed(line, self.session.wanted, self._clock.monotonic_s())
        if hypothesis is None:
            self._outputs.heard(None, "not taken", 0.0)
            self._dispatch_rejection(None)
            return
        self.hear(hypothesis)

    def _dispatch_rejection(self, hypothesis: Hypothesis | None) -> None:
        self.dispatch(
            SpeechRejected(
                at_s=self._clock.monotonic_s(),
                wall=stamp(self._clock.wall()),
                reason=RejectionReason.NOT_UNDERSTOOD,
                heard=hypothesis,
            )
        )

    def tick(self) -> None:
        """Tell the session the time if one of its deadlines has come."""
        deadline_s = self.session.next_deadline_s
        now = self._clock.monotonic_s()
        if deadline_s is not None and now >= deadline_s:
            self.dispatch(ClockTicked(at_s=now, wall=stamp(self._clock.wall())))


class ResumedClock:
    """A clock whose session time begins at 0, or goes on where an interrupted session stopped.

    Args:
        clock: What really measures time.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._zero_s = clock.monotonic_s()

    def go_on_from(self, session_s: float) -> None:
        """Let session time be `session_s` now, in seconds."""
        self._zero_s = self._clock.monotonic_s() - session_s

    def monotonic_s(self) -> float:
        """See `Clock.monotonic_s`."""
        return self._clock.monotonic_s() - self._zero_s

    def wall(self) -> datetime:
        """See `Clock.wall`."""
        return self._clock.wall()

    def sleep_until(self, deadline_s: float) -> None:
        """See `Clock.sleep_until`."""
        self._clock.sleep_until(deadline_s + self._zero_s)


class Ears:
    """Feeds blocks to a recogniser that always listens for just what the session wants.

    Args:
        conductor: Whose session decides what is legal, and who takes what is heard.
        recognizer: The engine.
    """

    def __init__(self, conductor: Conductor, recognizer: Recognizer) -> None:
        self._conductor = conductor
        self._recognizer = recognizer
        self._listening_for: Wanted | None = None
        self._attend()

    def _attend(self) -> None:
        wanted = self._conductor.wanted
        if wanted == self._listening_for:
            return
        self._listening_for = wanted
        graph = graph_for(wanted)
        if wanted.dictation:
            self._recognizer.listen_for_dictation(graph)
        else:
            self._recognizer.listen_for(graph)

    def feed(self, block: AudioBlock) -> None:
        """Recognise one block and let the session act on what ended in it."""
        self._take(self._recognizer.accept(block))

    def finish(self) -> None:
        """Take what is still being said when the sound ends."""
        self._take(self._recognizer.flush())

    def _take(self, hypotheses: Iterable[Hypothesis]) -> None:
        for hypothesis in hypotheses:
            if self._conductor.closed:
                return
            self._conductor.hear(hypothesis)
        self._conductor.tick()
        self._attend()


def run_blocks(conductor: Conductor, recognizer: Recognizer, blocks: Iterator[AudioBlock], clock: Clock) -> None:
    """Run a session on sound whose samples are its clock: WAV files and pipes.

    Returns when the session closes or the sound ends.
    """
    ears = Ears(conductor, recognizer)
    begun_s = clock.monotonic_s()
    for block in blocks:
        heard = replace(block, start_s=begun_s + block.start_s)
        clock.sleep_until(heard.end_s)
        ears.feed(heard)
        if conductor.closed:
            return
    ears.finish()


def run_typed(conductor: Conductor, lines: Iterable[str]) -> None:
    """Run a session on typed lines. Returns when the session closes or the lines end."""
    for line in lines:
        text = line.strip()
        conductor.tick()
        if text:
            conductor.type(text)
        if conductor.closed:
            return


def stamp(wall: datetime) -> str:
    """RFC 3339 in UTC with milliseconds and Z."""
    return wall.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
