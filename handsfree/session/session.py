"""The session: events in, effects out. Does no I/O, asks for no time, raises nothing for what people say."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from handsfree.definition.loader import Bundle, guidance_of, irradiance_of, light_of, zones_of
from handsfree.definition.plan import Mode, compile_procedure, mode_walker, place_walker
from handsfree.exposure.guidance import GuidanceProfile, next_cue_s
from handsfree.exposure.ledger import Ledger
from handsfree.exposure.profiles import ToneProfile
from handsfree.model.baseline import Baseline
from handsfree.model.commands import (
    Wanted,
)
from handsfree.model.effects import Earcon, Effect, Priority
from handsfree.model.events import (
    ClockTicked,
    CommandDoubted,
    CommandSpoken,
    PromptEnded,
    SessionEvent,
    SessionInterrupted,
    SessionStarted,
    SoundLost,
    SoundReturned,
    SpeechRejected,
    ToneHeard,
)
from handsfree.model.readings import value_text
from handsfree.session import dispatch, light, navigation
from handsfree.session.event_context import SessionState, Turn
from handsfree.session.holds import held_for
from handsfree.session.limits import NOTHING_RECALLED
from handsfree.session.listening_context import wanted
from handsfree.session.opening import start_talk

HELP_AFTER = 2
"""Rejections in a row after which the session says what would be understood."""

CUE_SLACK_S = 0.001


@dataclass(frozen=True, slots=True)
class ZoneView:
    """A zone as it stands.

    Attributes:
        id: Identifier.
        label: Name.
        lit_s: Credited seconds.
        target_s: Seconds asked for.
        strap_shadowed: Whether it lies under the strap.
        lit: Whether the light is on it as far as heard.
    """

    id: str
    label: str
    lit_s: float
    target_s: float
    strap_shadowed: bool
    lit: bool


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Where a session stands, for a screen or a rehearsal.

    Attributes:
        step_id: Step with side ("circulation_before@left"), or "late_heat" while that is asked.
        title: Title of the procedure.
        phase: before, during or after.
        mode: What the session is doing.
        prompt: What was said last and counts.
        hint: What to say.
        read_back: "step.field" to value, while a read-back waits for an answer.
        doubted: Words that the session asks about, or None.
        latch: Why the procedure is held, or None.
        is_lit: Whether the light is on as far as heard.
        zones: All zones.
        done: Steps done.
        total: Steps of this visit as far as known.
        practice: Whether it is practice.
        side: Injured side once declared.
    """

    step_id: str
    title: str
    phase: str
    mode: str
    prompt: str
    hint: str
    read_back: Mapping[str, str] = field(default_factory=dict)
    doubted: str | None = None
    latch: str | None = None
    is_lit: bool = False
    zones: tuple[ZoneView, ...] = ()
    done: int = 0
    total: int = 0
    practice: bool = False
    side: str | None = None


class Session:
    """One visit.

    Args:
        bundle: The procedure with its profiles.
        expert: Whether prompts are short where a step has a short one; nothing else depends on it.
        recalled: Codes of a local recall list, as in `SpelledText.bare`, and why each is on it: a hard stop.
        earlier: The earlier record that values are compared with, where the procedure asks for one.
    """

    def __init__(
        self,
        bundle: Bundle,
        *,
        expert: bool = False,
        recalled: Mapping[str, str] = NOTHING_RECALLED,
        earlier: Baseline | None = None,
    ) -> None:
        self._recalled = recalled
        self._earlier = earlier
        self._expert = expert
        self._bundle = bundle
        self._plan = compile_procedure(bundle.procedure)
        self._place = place_walker(self._plan)
        self._modes = mode_walker()
        self._state = SessionState()
        self._planned_guidance = guidance_of(bundle.device)
        self._ledger: Ledger | None = None
        tone = self._tone = light_of(bundle.light).tone if bundle.light is not None else None
        if bundle.device is not None and bundle.light is not None:
            self._ledger = Ledger(
                zones_of(bundle.device),
                irradiance_of(bundle.light),
                beep_every_s=tone.interval_s if tone is not None else None,
                ends_by=tone.ends_run if tone is not None else None,
            )
        self._started = False

    def _turn(self, event: SessionEvent) -> Turn:
        return Turn(
            plan=self._plan,
            device=self._bundle.device,
            light=self._bundle.light,
            guidance=self._guidance,
            state=self._state,
            place=self._place,
            modes=self._modes,
            ledger=self._ledger,
            event=event,
            recalled=self._recalled,
            earlier=self._earlier,
            expert=self._expert,
        )

    def _view(self) -> Turn:
        return self._turn(ClockTicked(at_s=self._state.now_s, wall=""))

    @property
    def _guidance(self) -> GuidanceProfile:
        """When to speak; a patient who cannot report heat, by what is confirmed so far, changes it."""
        reports = light.heat_is_reported(self._plan, self._state)
        return replace(self._planned_guidance, patient_reports_heat=reports)

    @property
    def lamp_tone(self) -> ToneProfile | None:
        """The beep of the lamp that is to be listened for (`beeps.LampEar`), or None."""
        return self._tone if self._ledger is not None else None

    @property
    def wanted(self) -> Wanted:
        """What may be said now; `STOP_CONTROLS` always may."""
        return wanted(self._view())

    @property
    def open_items(self) -> tuple[str, ...]:
        """What keeps the record from being closed, in words."""
        return navigation.open_items(self._view())

    @property
    def next_deadline_s(self) -> float | None:
        """Session time at which a `ClockTicked` is needed, or None."""
        state, mode = self._state, Mode(self._modes.state)
        if self._ledger is not None and self._ledger.is_lit:
            beat_s = state.last_look_s + light.BEAT_S
            cue_s = next_cue_s(self._ledger, self._guidance, state.last_look_s, state.warmth_answered_s)
            # Cues a moment late, so that rounding never leaves one just ahead of the tick that is to say it.
            due_s = [beat_s]
            if cue_s is not None:
                due_s.append(cue_s + CUE_SLACK_S)
            if self._ledger.silence_due_s is not None:
                due_s.append(self._ledger.silence_due_s)
            return min(due_s)
        if state.late_window_s is not None and mode in {Mode.ASKING, Mode.OPEN_ITEMS} and not state.pending:
            return state.late_window_s[0]
        return None

    @property
    def snapshot(self) -> Snapshot:
        """Where the session stands."""
        turn, state = self._view(), self._state
        mode, stage = turn.mode, turn.stage
        back: dict[str, str] = {}
        if mode is Mode.READING_BACK:
            back = {f"{stage.step.id}.{name}": value_text(held.value) for name, held in state.pending.items()}
        elif mode is Mode.OVERRIDE_CONFIRM:
            back = {"override.role": state.override_role, "override.reason": state.override_reason}
        stages = [s for s in self._plan.stages if navigation.applies(turn, s)]
        return Snapshot(
            step_id="late_heat" if mode is Mode.LATE_HEAT else turn.name_of(stage),
            title=self._plan.procedure.title,
            phase=stage.step.phase,
            mode=mode.value,
            prompt=state.last_said,
            hint=wanted(turn).hint,
            read_back=back,
            doubted=state.doubt.heard.text if mode is Mode.DOUBTING and state.doubt is not None else None,
            latch="; ".join(held_for(state.latches)) or None,
            is_lit=turn.lit,
            zones=self._zone_views(),
            done=sum(s.id in state.done for s in stages),
            total=len(stages),
            practice=state.practice,
            side=state.side.value if state.side is not None else None,
        )

    def _zone_views(self) -> tuple[ZoneView, ...]:
        ledger = self._ledger
        if ledger is None:
            return ()
        now_s = self._state.now_s
        return tuple(
            ZoneView(
                zone.id,
                zone.label,
                ledger.lit_s(zone.id, now_s),
                ledger.target_s(zone.id),
                zone.strap_shadowed,
                ledger.lit_zone == zone.id,
            )
            for zone in ledger.zones
        )

    def handle(self, event: SessionEvent) -> tuple[Effect, ...]:
        """Take one event.

        Returns:
            What is to be done, `Append` first. An event without effects has changed nothing that a replay needs.
        """
        if Mode(self._modes.state) is Mode.CLOSED:
            return ()
        turn = self._turn(event)
        self._state.now_s = max(self._state.now_s, event.at_s)
        match event:
            case SessionStarted():
                if not self._started:
                    self._started = True
                    start_talk(turn, event, self._bundle)
            case CommandSpoken(command=command, heard=heard, probability=probability):
                self._state.rejections = 0
                dispatch.act(turn, command, heard, probability)
            case CommandDoubted():
                dispatch.doubt(turn, event)
            case SpeechRejected():
                dispatch.reject(turn, event)
            case ClockTicked():
                light.tick(turn)
            case SessionInterrupted():
                dispatch.interrupted(turn, event)
            case ToneHeard(from_s=from_s, to_s=to_s):
                light.tone_heard(turn, from_s, to_s)
            case SoundLost(what=what):
                turn.record("sound_lost", what=what)
                turn.earcon(Earcon.DEVICE_LOST)
                turn.say(f"The {what} is gone.", Priority.ATTENTION)
                if what == "microphone":
                    light.lost(turn, interrupted=False)
            case SoundReturned(what=what):
                turn.record("sound_returned", what=what)
            case PromptEnded():
                pass
        return turn.effects()
