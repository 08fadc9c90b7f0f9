"""The shell around the core: tells the session what happened, writes the record, carries out what it asks for."""

import logging
from collections.abc import Iterable
from dataclasses import replace
from typing import Protocol

from handsfree.clock import Clock
from handsfree.errors import RecordError
from handsfree.exposure.tone import Beep
from handsfree.model.commands import STOP_CONTROLS, Control, ControlCommand, Wanted
from handsfree.model.effects import Append, Close, Earcon, Effect, PlayEarcon, Priority, Say
from handsfree.model.events import (
    ClockTicked,
    CommandDoubted,
    CommandSpoken,
    RejectionReason,
    SessionEvent,
    SessionStarted,
    SoundLost,
    SoundReturned,
    SpeechRejected,
    ToneHeard,
)
from handsfree.model.facts import AnyFact
from handsfree.model.hypotheses import Hypothesis
from handsfree.record.journal import Journal
from handsfree.runner.logged_outputs import LoggedOutputs
from handsfree.session.session import Session
from handsfree.session.snapshot import Snapshot
from handsfree.stamps import stamp
from handsfree.understanding.acceptance import DecisionOutcome, decide, probability_right
from handsfree.understanding.heat_words import as_written_down, may_be_cry, means_stop
from handsfree.understanding.interpreter import interpret, typed

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


class SessionRunner:
    """Owns one session and its journal; everything that happens goes through `dispatch`.

    Args:
        session: The procedure under way.
        journal: Where every event that has an effect is written before anything is said.
        outputs: Carries out prompts, sounds and the screen.
        clock: Gives `at_s` and wall stamps.

    Attributes:
        outcome: How the session closed, or None.
        record_id: Identifier of the record.
    """

    def __init__(self, session: Session, journal: Journal, outputs: Outputs, clock: Clock) -> None:
        self.session = session
        self._journal = journal
        self._outputs = LoggedOutputs(outputs, clock)
        self._clock = clock
        self.outcome: str | None = None
        self.record_id = ""

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
        self.record_id = record_id
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
            RecordError: The record cannot be written; nothing but that was said, and the session must end.
        """
        if self.closed:
            return
        effects = self.session.handle(event)
        _LOG.debug("event_handled at_s=%.3f event=%s effects=%d", event.at_s, type(event).__name__, len(effects))
        if effects:
            try:
                self._journal.append(event, [effect for effect in effects if isinstance(effect, Append)])
            except RecordError:
                # Aloud, since hands that are gloved cannot read a screen.
                self._outputs.say(self.session.record_failed, Priority.STOP)
                raise
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
                    _LOG.info("session_closed at_s=%.3f outcome=%s", self._clock.monotonic_s(), outcome)
                    self.outcome = outcome
                case Append():
                    pass

    def hear(
        self, hypothesis: Hypothesis, *, listened_for: Wanted | None = None, spoilt: RejectionReason | None = None
    ) -> None:
        """Take one utterance: interpret, decide, dispatch.

        Args:
            hypothesis: What was heard.
            listened_for: What it was said to, where that may not be what is wanted any more: then only a stop word is
                taken, because the answer to one question is none to the next.
            spoilt: Why the words cannot be trusted (noise, a hole in the sound); only a stop word is taken then.
        """
        wanted = self.session.wanted
        command = interpret(hypothesis, listened_for or wanted)
        stale = listened_for is not None and listened_for != wanted
        is_stop = isinstance(command, ControlCommand) and command.control in STOP_CONTROLS
        if Control.CRY in wanted.controls and not means_stop(hypothesis, command, wanted):
            if may_be_cry(hypothesis):
                self._cry(hypothesis)
                return
            # What nobody can make out a word of heat in is none: it would set a hold.
            command, is_stop = (None, False) if is_stop else (command, False)
        # The answer to one question is none to the next, but light may be on: it is asked about.
        is_light = isinstance(command, ControlCommand) and command.control is Control.LIGHT_ON and spoilt is None
        if command is None or ((stale or spoilt is not None) and not is_stop and not is_light):
            self._outputs.heard(hypothesis, "not taken", 0.0)
            self.reject(hypothesis, spoilt or RejectionReason.NOT_UNDERSTOOD)
            return
        decision = decide(hypothesis, command, wanted)
        if is_light and stale and decision.outcome is DecisionOutcome.ACCEPT:
            decision = replace(decision, outcome=DecisionOutcome.ASK)
        now = self._clock.monotonic_s()
        wall = stamp(self._clock.wall())
        match decision.outcome:
            case DecisionOutcome.ACCEPT:
                self._outputs.heard(hypothesis, "accepted", decision.probability)
                self.dispatch(
                    CommandSpoken(
                        at_s=now, wall=wall, command=command, heard=hypothesis, probability=decision.probability
                    )
                )
            case DecisionOutcome.ASK:
                self._outputs.heard(hypothesis, "doubted", decision.probability)
                self.dispatch(
                    CommandDoubted(
                        at_s=now, wall=wall, command=command, heard=hypothesis, probability=decision.probability
                    )
                )
            case _:
                self._outputs.heard(hypothesis, "not taken", decision.probability)
                self.reject(hypothesis)

    def may_be_cry(self, hypothesis: Hypothesis) -> bool:
        """Whether this may be a cry of heat or pain while the light is on, whoever said it and however it was heard."""
        return Control.CRY in self.session.wanted.controls and may_be_cry(hypothesis)

    def _cry(self, hypothesis: Hypothesis) -> None:
        """The light must go off before anybody knows whether it was one."""
        probability = probability_right(hypothesis)
        self._outputs.heard(hypothesis, "doubted", probability)
        self.dispatch(
            CommandDoubted(
                at_s=self._clock.monotonic_s(),
                wall=stamp(self._clock.wall()),
                command=ControlCommand(Control.CRY),
                heard=as_written_down(hypothesis),
                probability=probability,
            )
        )

    def type(self, line: str) -> None:
        """Take one typed line, as if it had been said just now."""
        now_s = self._clock.monotonic_s()
        hypothesis = typed(line, self.session.wanted, now_s)
        free = Hypothesis(tuple(line.split()), (), now_s, now_s, "typed", free_text=line)
        if hypothesis is None and self.may_be_cry(free):
            hypothesis = free
        if hypothesis is None:
            self._outputs.heard(None, "not taken", 0.0)
            self.reject(None)
            return
        self.hear(hypothesis)

    def reject(self, hypothesis: Hypothesis | None, reason: RejectionReason = RejectionReason.NOT_UNDERSTOOD) -> None:
        """Tell the session that speech was not taken."""
        self.dispatch(
            SpeechRejected(
                at_s=self._clock.monotonic_s(), wall=stamp(self._clock.wall()), reason=reason, heard=hypothesis
            )
        )

    def device_changed(self, what: str, *, there: bool) -> None:
        """Tell the session that the "microphone" or the "loudspeaker" is lost, or back."""
        _LOG.info("device_changed at_s=%.3f device=%s there=%s", self._clock.monotonic_s(), what, there)
        kind = SoundReturned if there else SoundLost
        self.dispatch(kind(at_s=self._clock.monotonic_s(), wall=stamp(self._clock.wall()), what=what))

    def lamp_beeped(self, beep: Beep) -> None:
        """Tell the session that the lamp's own beep was heard; see `audio.lamp_listener`."""
        self.dispatch(
            ToneHeard(
                at_s=self._clock.monotonic_s(), wall=stamp(self._clock.wall()), from_s=beep.from_s, to_s=beep.to_s
            )
        )

    def note(self, fact: AnyFact) -> None:
        """Write a fact that follows from no event: about the devices, or about practice.

        Raises:
            RecordError: The record cannot be written.
        """
        if not self.closed:
            _LOG.info("fact_noted at_s=%.3f kind=%s", self._clock.monotonic_s(), fact.kind)
            self._journal.append(None, [Append(fact)])

    def patience_s(self, longest_s: float) -> float:
        """Seconds until the session's next deadline, from 0 to `longest_s`."""
        deadline_s = self.session.next_deadline_s
        return longest_s if deadline_s is None else max(0.0, min(longest_s, deadline_s - self._clock.monotonic_s()))

    def tick(self) -> None:
        """Tell the session the time if one of its deadlines has come."""
        deadline_s = self.session.next_deadline_s
        now = self._clock.monotonic_s()
        if deadline_s is not None and now >= deadline_s:
            self.dispatch(ClockTicked(at_s=now, wall=stamp(self._clock.wall())))
