"""The shell around the core: tells the session what happened, has it written, carries out what it asks for."""

import logging
from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from handsfree.clock import Clock
from handsfree.exposure.tone import Beep
from handsfree.model.audio import Heard
from handsfree.model.commands import STOP_CONTROLS, Command, Control, ControlCommand, Wanted
from handsfree.model.effects import Append, Earcon, Priority
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
from handsfree.runner.delivery import SLOW_S, Delivery
from handsfree.runner.early_words import is_stale, says_its_own
from handsfree.runner.logged_outputs import LoggedOutputs
from handsfree.runner.record_writer import Journals, WritesAtOnce, WritesBeside
from handsfree.session.session import Session
from handsfree.session.snapshot import Snapshot
from handsfree.stamps import stamp
from handsfree.understanding.acceptance import DecisionOutcome, decide, probability_right
from handsfree.understanding.heat_words import as_written_down, may_be_cry, means_stop
from handsfree.understanding.interpreter import interpret, pressed, typed
from handsfree.understanding.meanings import may_mean

_LOG = logging.getLogger(__name__)


class Outputs(Protocol):
    """What a person hears and sees. One implementation a surrounding: terminal, rehearsal, test."""

    def say(self, text: str, priority: Priority, heard_out: int = 0) -> None:
        """Speak a prompt; a higher priority interrupts, and nobody's voice does before `Say.heard_out` was said."""

    def earcon(self, earcon: Earcon) -> None:
        """Play a short sound."""

    def heard(self, hypothesis: Hypothesis | None, outcome: str, probability: float) -> None:
        """Show what was heard and what became of it ("accepted", "doubted", "not taken")."""

    def show(self, snapshot: Snapshot) -> None:
        """Show where the procedure stands."""


class SessionRunner:
    """Owns one session; everything that happens goes through `dispatch`. Only the thread that made it may call it.

    Args:
        session: The procedure under way.
        journal: Where every event that has an effect is written.
        outputs: Carries out prompts, sounds and the screen.
        clock: Gives `at_s` and wall stamps.
        beside: Whether the journal is written by a thread of its own, because people wait for answers.

    Attributes:
        record_id: Identifier of the record.
    """

    def __init__(
        self, session: Session, journal: Journals, outputs: Outputs, clock: Clock, *, beside: bool = False
    ) -> None:
        self.session = session
        self._journal = journal
        self._outputs = LoggedOutputs(outputs, clock)
        self._clock = clock
        self._writer = (WritesBeside if beside else WritesAtOnce)(self._journal, clock)
        self._delivery = Delivery(session, self._writer, self._outputs, clock)
        self.record_id = ""

    @property
    def outcome(self) -> str | None:
        """How the session closed, once that is on the disk; else None."""
        return self._delivery.outcome

    @property
    def closed(self) -> bool:
        """Whether the session has ended, and its end is on the disk."""
        return self.outcome is not None

    @property
    def ending(self) -> bool:
        """Whether the session has ended; its end may wait for the disk."""
        return self._delivery.ending

    @property
    def settled(self) -> bool:
        """Whether nothing that is to be said waits for the disk."""
        return self._delivery.settled

    @property
    def is_slow(self) -> bool:
        """Whether the disk was found slow."""
        return self._delivery.is_slow

    @property
    def asked(self) -> int:
        """How many questions that waited for the disk were asked so far."""
        return self._delivery.asked

    @property
    def now_s(self) -> float:
        """Session time; any thread may ask for it."""
        return self._clock.monotonic_s()

    @property
    def unasked(self) -> Wanted | None:
        """What words are held against while a question waits for the disk; None where all was asked.

        Nobody answers what was not asked: only stop words are taken then, and "light on", which is asked about.
        """
        if self._delivery.asked_since_s is None:
            return None
        return Wanted(self.session.wanted.controls & {Control.LIGHT_ON})

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
        """Hand one event to the session, have it written, and act.

        What ends light or pain is said at once, the rest when the event is on the disk.

        Raises:
            RecordError: The record cannot be written; that was said, and the session must end.
        """
        if self.ending:
            return
        effects = self.session.handle(event)
        _LOG.debug("event_handled at_s=%.3f event=%s effects=%d", event.at_s, type(event).__name__, len(effects))
        if not effects:
            self._delivery.show()
            return
        batch = self._writer.hand_over(event, [effect for effect in effects if isinstance(effect, Append)])
        self._delivery.carry_out(batch, [effect for effect in effects if not isinstance(effect, Append)], event.at_s)

    def finish(self) -> None:
        """Wait until everything is on the disk, and say what waits for that.

        Raises:
            RecordError: As `dispatch`.
        """
        self._delivery.finish()

    def release(self) -> None:
        """Write what was handed over, and use the journal no more. Nothing is said of it."""
        self._writer.close()

    def on_written(self, call: Callable[[], None]) -> None:
        """Call this whenever something was written, from whatever thread; `tick` says what may be said."""
        self._writer.on_written(call)

    def close_as(self, outcome: str) -> None:
        """The session had closed before, only the seal of its record was missing."""
        self._delivery.outcome = outcome

    def ask_again(self) -> None:
        """Say what stands once more, because it was broken off and nobody answered; nothing where it was not asked."""
        if self._delivery.asked_since_s is None and not self.ending:
            self._outputs.say(self.session.snapshot.prompt, Priority.PROMPT)

    def tell(self, text: str) -> None:
        """Say something about the surroundings, after what waits for the disk."""
        self._delivery.tell(text)

    def hear(
        self,
        hypothesis: Hypothesis,
        *,
        listened_for: Wanted | None = None,
        spoilt: RejectionReason | None = None,
        answers: Heard = Heard.ALL,
        earlier: Wanted | None = None,
    ) -> None:
        """Take one utterance: interpret, decide, dispatch.

        Args:
            hypothesis: What was heard.
            listened_for: What it was said to, where that may not be what is wanted any more: then only a stop word is
                taken, because the answer to one question is none to the next.
            spoilt: Why the words cannot be trusted (noise, a hole in the sound); only a stop word is taken then.
            answers: How much of what it answers had been said when it began: nobody answers what was not said, and a
                bare yes or no says nothing of what it answers. "Light on" is asked about then. What says itself what it
                is of, where people narrate and nothing is asked, is taken all the same.
            earlier: What was listened for when it began, where it began before what was asked last.
        """
        wanted = self.session.wanted
        if hypothesis.goes_on:
            listened_for = wanted = wanted.with_going_on
        listened_for = listened_for or wanted
        stale = listened_for != wanted
        command = interpret(hypothesis, listened_for)
        if hypothesis.goes_on and not may_mean(hypothesis, wanted):
            command = None
        if Control.CRY in wanted.controls and not means_stop(hypothesis, command, wanted):
            if may_be_cry(hypothesis):
                self._cry(hypothesis)
                return
            # What nobody can make out a word of heat in is none: it would set a hold.
            command = None if _stops(command) else command
        # The answer to one question is none to the next, but light may be on: it is asked about.
        is_light = command == ControlCommand(Control.LIGHT_ON) and spoilt is None and answers is not Heard.NOTHING
        stale = stale or (answers is not Heard.ALL and is_stale(hypothesis, command, answers))
        if stale and self.unasked is None:
            stale = not says_its_own(self.session, hypothesis, command, answers, earlier)
        if command is None or ((stale or spoilt is not None) and not _stops(command) and not is_light):
            self._outputs.heard(hypothesis, "not taken", 0.0)
            self.reject(hypothesis, spoilt or RejectionReason.NOT_UNDERSTOOD)
            return
        self._take(hypothesis, command, wanted, in_doubt=is_light and stale)

    def takes_back(self, hypothesis: Hypothesis, listened_for: Wanted) -> bool:
        """Whether words beyond doubt take back what is being said back, so that it need not be heard to its end."""
        wanted = self.session.wanted
        command = interpret(hypothesis, listened_for) if listened_for == wanted else None
        if not isinstance(command, ControlCommand) or command.control not in self.session.taken_back_by:
            return False
        return decide(hypothesis, command, wanted).outcome is DecisionOutcome.ACCEPT

    def _take(self, hypothesis: Hypothesis, command: Command, wanted: Wanted, *, in_doubt: bool) -> None:
        """Dispatch what was understood, by how sure it is; what is `in_doubt` is asked about, however sure."""
        decision = decide(hypothesis, command, wanted)
        if in_doubt and decision.outcome is DecisionOutcome.ACCEPT:
            decision = replace(decision, outcome=DecisionOutcome.ASK)
        if decision.outcome is DecisionOutcome.IGNORE:
            self._outputs.heard(hypothesis, "not taken", decision.probability)
            self.reject(hypothesis)
            return
        accepted = decision.outcome is DecisionOutcome.ACCEPT
        self._outputs.heard(hypothesis, "accepted" if accepted else "doubted", decision.probability)
        kind = CommandSpoken if accepted else CommandDoubted
        self.dispatch(
            kind(
                at_s=self.now_s,
                wall=stamp(self._clock.wall()),
                command=command,
                heard=hypothesis,
                probability=decision.probability,
            )
        )

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

    def type(self, line: str, at_s: float | None = None) -> None:
        """Take one typed line, as if it had been said.

        Args:
            line: The line.
            at_s: Session time at which it was typed, before now where the session was busy; now where None.
        """
        typed_s = self.now_s if at_s is None else at_s
        hypothesis = typed(line, self.session.wanted, typed_s)
        free = _as_text(line, typed_s)
        if hypothesis is None and self.may_be_cry(free):
            hypothesis = free
        if hypothesis is None:
            self._outputs.heard(free, "not taken", 0.0)
            self.reject(None)
            return
        self.hear(hypothesis, listened_for=self._unasked_when_typed(typed_s))

    def press(self, control: Control, at_s: float) -> None:
        """Take a key that is set to say something, where a person might say it.

        A question that was not asked yet is not answered by it, nor is one whose prompt is still being said: that is
        for the caller to know. A stop always counts.

        Args:
            control: What it says.
            at_s: Session time at which it was pressed.
        """
        self.hear(pressed(control, at_s), listened_for=self.unasked)

    def _unasked_when_typed(self, typed_s: float) -> Wanted | None:
        """As `unasked`. Lines may be typed ahead, but who was told that answers come late waits for the question."""
        since_s = self._delivery.asked_since_s
        return self.unasked if since_s is not None and typed_s > since_s + SLOW_S else None

    def ends_light(self, line: str) -> bool:
        """Whether a typed line is a stop word, or may be a cry."""
        stops = Wanted(self.session.wanted.controls & {Control.CRY})
        hypothesis = typed(line, stops, self.now_s)
        is_stop = hypothesis is not None and interpret(hypothesis, stops) is not None
        return is_stop or self.may_be_cry(_as_text(line, self.now_s))

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
        self._delivery.note(fact)

    def patience_s(self, longest_s: float) -> float:
        """Seconds until the session's next deadline, or until the disk counts as slow, from 0 to `longest_s`."""
        deadline_s = None if self.ending else self.session.next_deadline_s
        waits = (None if deadline_s is None else deadline_s - self.now_s, self._delivery.until_slow_s)
        return max(0.0, min([longest_s, *(wait_s for wait_s in waits if wait_s is not None)]))

    def tick(self) -> None:
        """Tell the session the time if one of its deadlines has come, and say what the disk has caught up with.

        Raises:
            RecordError: As `dispatch`.
        """
        deadline_s = self.session.next_deadline_s
        now = self._clock.monotonic_s()
        if deadline_s is not None and now >= deadline_s:
            self.dispatch(ClockTicked(at_s=now, wall=stamp(self._clock.wall())))
        self._delivery.settle()


def _stops(command: Command | None) -> bool:
    return isinstance(command, ControlCommand) and command.control in STOP_CONTROLS


def _as_text(line: str, at_s: float) -> Hypothesis:
    """A typed line as words that were written down, whatever they mean."""
    return Hypothesis(tuple(line.split()), (), at_s, at_s, "typed", free_text=line)
