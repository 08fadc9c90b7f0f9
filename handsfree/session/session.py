"""The session: events in, effects out. Does no I/O, asks for no time, raises nothing for what people say."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import isfinite

from handsfree.definition.loader import Bundle, guidance_of, irradiance_of, light_of, zones_of
from handsfree.exposure.ledger import Ledger
from handsfree.exposure.profiles import ToneProfile
from handsfree.model.approval import Approval
from handsfree.model.baseline import Baseline
from handsfree.model.commands import Command, Control, GiveValues, SlotValue, Wanted
from handsfree.model.effects import Append, Close, Earcon, Effect, PlayEarcon, Say
from handsfree.model.events import CommandDoubted, CommandSpoken, SessionEvent, SessionStarted, SpeechRejected
from handsfree.model.facts import Utterance
from handsfree.model.open_items import OpenItem
from handsfree.model.patient_reference import DEFAULT_PATTERN
from handsfree.model.working import Working
from handsfree.session import listening_context, navigation
from handsfree.session.after_handler import settle
from handsfree.session.context import EventContext, Handler, Reply
from handsfree.session.deadlines import next_deadline_s
from handsfree.session.dispatch import handler_of, handler_of_command
from handsfree.session.heard_out import TAKEN_BACK_IN, TAKES_BACK, heard_out
from handsfree.session.modes import Mode, ModeStack
from handsfree.session.narrated_listening import gives_up_side
from handsfree.session.phase_gates import PhaseMachine
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.wording import Wording, codes_of
from handsfree.session.questions import listens
from handsfree.session.snapshot import Snapshot, snapshot, step_id_of
from handsfree.session.standing import stands_now
from handsfree.session.state import Said, SessionState
from handsfree.session.timers import timer_due_s
from handsfree.session.urgency import at_once, is_stop, light_may_be_on
from handsfree.session.visit import NOTHING_RECALLED, Visit


class Session:
    """One visit.

    Args:
        bundle: The procedure with its profiles.
        expert: Whether prompts are short where a step has a short one, None for as long as somebody narrates; nothing
            else depends on it.
        recalled: Codes of a local recall list, as in `SpelledText.bare`, and why each is on it: a hard stop.
        baseline: The earlier record that values are compared with, where the procedure asks for one.
        patient_reference: Whose visit it is, where that is known at the start; else "", and a live visit asks.
        reference_pattern: Regular expression that a spoken reference must match as a whole.
        working: Who leads when the visit begins; it can be changed by voice.
        going_on: Whether findings that are heard well stand unless somebody objects; else each is affirmed.

    Raises:
        ProcedureFileError: The file gives a sentence that there is not, or one whose places do not fit.
    """

    def __init__(
        self,
        bundle: Bundle,
        *,
        expert: bool | None = False,
        recalled: Mapping[str, str] = NOTHING_RECALLED,
        baseline: Baseline | None = None,
        patient_reference: str = "",
        reference_pattern: str = DEFAULT_PATTERN,
        working: Working = Working.GUIDED,
        going_on: bool = False,
        approval: Approval | None = None,
    ) -> None:
        plan = bundle.plan
        self._visit = Visit(
            plan=plan,
            device=bundle.device,
            light=bundle.light,
            guidance=guidance_of(bundle.device),
            recalled=recalled,
            baseline=baseline,
            patient_reference=patient_reference,
            reference_pattern=reference_pattern,
            expert=expert,
            going_on=going_on,
            sha256=bundle.sha256,
            unapproved=() if approval is not None and approval.counts else bundle.titles,
            approval=approval,
        )
        self._tone = light_of(bundle.light).tone if bundle.light is not None else None
        self._state = SessionState(plan.stages[0].id, ModeStack(), self._ledger_of(bundle), working=working)
        self._phases = PhaseMachine(plan)
        own = bundle.procedure.sentences
        self._wordings = {short: Wording(expert=short, own=own, names=plan.names) for short in (False, True)}
        self._started = False

    def _ledger_of(self, bundle: Bundle) -> Ledger | None:
        if bundle.device is None or bundle.light is None:
            return None
        tone, guidance = self._tone, self._visit.guidance
        return Ledger(
            zones_of(bundle.device),
            irradiance_of(bundle.light),
            beep_every_s=tone.interval_s if tone is not None else None,
            ends_by=tone.ends_run if tone is not None else None,
            tolerance_share=guidance.tolerance_share,
            over_factor=guidance.overrun_factor,
        )

    @property
    def _wording(self) -> Wording:
        return self._wordings[self._visit.is_short(narrated=self._state.narrated)]

    @property
    def lamp_tone(self) -> ToneProfile | None:
        """The beep of the lamp that is to be listened for (`audio.lamp_listener`), or None."""
        return self._tone if self._state.ledger is not None else None

    @property
    def wanted(self) -> Wanted:
        """What may be said now; `STOP_CONTROLS` always may."""
        return listening_context.wanted(self._visit, self._state, self._wording)

    @property
    def open_items(self) -> tuple[OpenItem, ...]:
        """What keeps the visit from being closed as completed."""
        return navigation.open_items(self._visit.plan, self._state)

    @property
    def next_deadline_s(self) -> float | None:
        """Session time at which a `ClockTicked` is needed, or None."""
        due_s = timer_due_s(self._state)
        others_s = next_deadline_s(self._visit, self._state)
        return min((one for one in (others_s, due_s) if one is not None and isfinite(one)), default=None)

    @property
    def timers_end_s(self) -> float:
        """Session time at which the last timer that runs will have run out; 0 where none does."""
        return max((timer.due_s for timer in self._state.timers.values()), default=0.0)

    @property
    def snapshot(self) -> Snapshot:
        """Where the session stands."""
        return snapshot(self._visit, self._state, self._wording)

    @property
    def step_id(self) -> str:
        """`Snapshot.step_id` alone: where the session stands, for whoever wants no whole picture."""
        return step_id_of(self._visit, self._state)

    @property
    def mode(self) -> Mode:
        """What the session is doing."""
        return self._state.modes.top

    @property
    def light_may_be_on(self) -> bool:
        """Whether light is on as far as heard, may be, or was until a moment ago."""
        return light_may_be_on(self._state)

    @property
    def taken_back_by(self) -> frozenset[Control]:
        """What takes back what is said back now, and does nothing else: it may be said before that was heard."""
        return TAKES_BACK if self._state.modes.top in TAKEN_BACK_IN else frozenset()

    def says_its_own(self, command: Command) -> bool:
        """Whether a command answers no question: values under their labels and sides, where people narrate.

        It may begin before what is said then, or over it.
        """
        visit, state = self._visit, self._state
        if state.modes.top is not Mode.ASKING or not listens(visit, state) or state.unsided:
            return False
        if not isinstance(command, GiveValues) or command.lead:
            return False
        # Which side, and which time of a repeated step: where people stand would tell, and that may have changed.
        unsaid = {stage.step.id for stage in visit.plan.stages if stage.number}
        sided = {stage.step.id for stage in visit.plan.stages if stage.role is not None}
        return not any(
            value.of_the_rest or _step_of(value) in unsaid or (value.side is None and _step_of(value) in sided)
            for value in command.values
        )

    @property
    def record_failed(self) -> str:
        """What is said when the record cannot be written; the visit must end then."""
        return self._wording.sentence(Fixed.RECORD_FAILED)

    @property
    def record_slow(self) -> str:
        """What is said when the record waits for its disk."""
        return self._wording.sentence(Fixed.RECORD_SLOW)

    def handle(self, event: SessionEvent) -> tuple[Effect, ...]:
        """Take one event.

        Returns:
            What is to be done, `Append` first. An event without effects has changed nothing that a replay needs.
        """
        if self._state.modes.top is Mode.CLOSED:
            return ()
        self._state.now_s = max(self._state.now_s, event.at_s)
        if isinstance(event, SessionStarted):
            if self._started:
                return ()
            self._started = True
        now = EventContext(self._visit, self._state, self._wording, event, _said(event))
        urgent = is_stop(now.said) or light_may_be_on(self._state)
        reply, closing = self._answer(now)
        urgent = urgent or light_may_be_on(self._state)
        return (*self._effects(reply, urgent=urgent), *((closing,) if closing is not None else ()))

    def _answer(self, now: EventContext) -> tuple[Reply, Close | None]:
        """Everything that an event is answered with, and the end of the session where this was it."""
        if now.said is not None:
            self._state.warmth_asked_s = self._state.now_s
        if now.said is not None or isinstance(now.event, SpeechRejected):
            self._state.spoke_s = self._state.now_s
        if isinstance(now.event, CommandSpoken):
            self._state.rejections = 0
        reply = self._handled(now, handler_of(now))
        closing = settle(now, reply, self._phases)
        whole = Reply([*reply.facts], [*reply.talk])
        while reply.redo is not None:
            # A command that was in doubt and is affirmed now, or what was said after an "affirmative" in one breath:
            # taken as if it had been said so, without another doubt.
            now = replace(now, said=reply.redo)
            reply = self._handled(now, handler_of_command(now))
            closing = settle(now, reply, self._phases)
            whole.facts += reply.facts
            whole.talk += reply.talk
        return whole, closing

    def _handled(self, now: EventContext, handler: Handler) -> Reply:
        """The answer of a handler, after what is confirmed because people go on with this event."""
        stood = stands_now(now) if self._state.standing else []
        if gives_up_side(now.said, self._state):
            self._state.unsided = ()
        reply = handler(now)
        reply.facts[:0] = stood
        return reply

    def _effects(self, reply: Reply, *, urgent: bool) -> Iterator[Append | Say | PlayEarcon | Close]:
        """All effects, facts first; what was said last and counts is kept for "say again"."""
        yield from (Append(fact) for fact in reply.facts)
        mode = self._state.modes.top
        for number, talk in enumerate(reply.talk):
            if isinstance(talk, Earcon):
                yield PlayEarcon(talk, at_once(talk, urgent=urgent))
                continue
            if talk.is_repeated:
                self._state.last_said = talk
            yield Say(
                self._wording.prompt(talk),
                talk.priority,
                at_once(talk, urgent=urgent),
                talk.is_repeated,
                heard_out(reply.talk, number, mode, self._wording),
                codes_of(talk),
            )


def _said(event: SessionEvent) -> Said | None:
    """The command of an event; its words as they are put on record, its times as they are counted by."""
    if not isinstance(event, CommandSpoken | CommandDoubted):
        return None
    words = event.heard
    heard = Utterance(
        text=words.text,
        probability=round(event.probability, 4),
        runner_up=" ".join(words.runner_up) if words.runner_up is not None else None,
        engine=words.engine,
        spoken_from_s=round(words.spoken_from_s, 3),
        spoken_to_s=round(words.spoken_to_s, 3),
    )
    return Said(event.command, heard, words.spoken_from_s, words.spoken_to_s, tags=words.tags)


def _step_of(value: SlotValue) -> str:
    return value.slot.partition(".")[0]
