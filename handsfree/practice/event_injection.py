"""Lets the events of a scenario happen: at their steps and times, by the seed, or when a trainer says so."""

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from handsfree.model.facts import ScenarioEventHappened
from handsfree.practice.event_kinds import Action
from handsfree.practice.scenario import Scenario, ScenarioEvent
from handsfree.runner import SessionRunner
from handsfree.session.snapshot import Snapshot
from handsfree.simulation.scene import SceneStage

REPEAT_AFTER_S = 3.0


@dataclass(frozen=True, slots=True)
class DrawnMoment:
    """A moment with its chances drawn.

    Attributes:
        step: The step, or None.
        wait_s: Seconds to wait from then.
        at_s: Session time instead of a step, or None.
    """

    step: str | None
    wait_s: float
    at_s: float | None


@dataclass(slots=True)
class InjectedEvent:
    """An event that took place.

    Attributes:
        event: The event.
        at_s: When it began.
        to_s: When its words ended.
        times: How often it was said.
        over: Whether it need not be said again.
    """

    event: ScenarioEvent
    at_s: float
    to_s: float
    times: int = 1
    over: bool = False


class EventInjector:
    """Watches a session and plays the events.

    Args:
        scenario: The scenario; its seed draws the chances, so they are the same each time.
        runner: The session; each event is written to its record.
        stage: Where voices and noise are played.
        look: Where the session stands, if that is cheaper than to ask it.

    Attributes:
        fired: What has happened so far, in order.
    """

    def __init__(
        self,
        scenario: Scenario,
        runner: SessionRunner,
        stage: SceneStage,
        look: Callable[[], Snapshot | None] = lambda: None,
    ) -> None:
        self._runner = runner
        self._stage = stage
        self._look = look
        self._chosen = [(event, drawn(event, scenario.seed)) for event in scenario.events]
        self._cued: list[ScenarioEvent] = []
        self._place = ""
        self._place_since_s = 0.0
        self._lit_since_s: dict[str, float] = {}
        self.fired: list[InjectedEvent] = []

    def cue(self, name: str) -> bool:
        """Let an event happen as soon as the room is quiet; whether there is one of that key or identifier left."""
        for event, _ in self._chosen:
            if name in {event.key, event.id} and not self._has_fired(event) and event not in self._cued:
                self._cued.append(event)
                return True
        return False

    def poll(self, now_s: float) -> None:
        """Look what is due; call it often."""
        if self._runner.closed:
            return
        snapshot = self._look() or self._runner.session.snapshot
        self._watch(snapshot, now_s)
        if not self._stage.quiet:
            return
        for event, chosen in self._chosen:
            if not self._has_fired(event) and (event in self._cued or self._is_due(event, chosen, snapshot, now_s)):
                self._play(event, now_s)
                return
        self._repeat(now_s)

    def _watch(self, snapshot: Snapshot, now_s: float) -> None:
        if snapshot.step_id != self._place:
            self._place, self._place_since_s = snapshot.step_id, now_s
        for zone in snapshot.zones:
            if zone.lit:
                self._lit_since_s.setdefault(zone.id, now_s)
            else:
                self._lit_since_s.pop(zone.id, None)
        if not snapshot.is_lit:
            for one in self.fired:
                one.over = True

    def _is_due(self, event: ScenarioEvent, chosen: DrawnMoment, snapshot: Snapshot, now_s: float) -> bool:
        if chosen.at_s is not None:
            return now_s >= chosen.at_s
        if chosen.step is None or chosen.step not in {snapshot.step_id, snapshot.step_id.partition("@")[0]}:
            return False
        if event.at.zone is not None:
            lit_s = self._lit_since_s.get(event.at.zone)
            return lit_s is not None and now_s - lit_s >= chosen.wait_s
        return snapshot.mode == "asking" and now_s - self._place_since_s >= chosen.wait_s

    def _has_fired(self, event: ScenarioEvent) -> bool:
        return any(one.event.id == event.id for one in self.fired)

    def _play(self, event: ScenarioEvent, now_s: float) -> None:
        if event.noise is not None:
            self._stage.make_noise(event.noise, event.noise_s)
        self.fired.append(InjectedEvent(event, now_s, self._say(event, now_s, again=0)))

    def _say(self, event: ScenarioEvent, now_s: float, *, again: int) -> float:
        to_s = now_s
        if event.who is not None and event.say is not None:
            to_s += self._stage.overhear(event.who, event.say)
        self._runner.note(
            ScenarioEventHappened(
                event=event.id,
                happening=event.kind,
                who=event.who,
                say=event.say,
                at_s=round(now_s, 3),
                to_s=round(to_s, 3),
                cued=event in self._cued,
                again=again,
            )
        )
        return to_s

    def _repeat(self, now_s: float) -> None:
        for one in self.fired:
            open_still = Action.LIGHT_OFF in one.event.answer and not one.over
            if open_still and one.times <= one.event.repeat and now_s >= one.to_s + REPEAT_AFTER_S:
                one.to_s = self._say(one.event, now_s, again=one.times)
                one.times += 1


def drawn(event: ScenarioEvent, seed: int) -> DrawnMoment:
    """When an event happens by the seed."""
    # Each event has chances of its own, so that another event changes none of them.
    chance = Random(f"{seed} {event.id}")  # noqa: S311 - the same each time, which is the point
    if event.at.between_s is not None:
        return DrawnMoment(None, 0.0, round(chance.uniform(*event.at.between_s), 3))
    step = chance.choice(event.at.steps) if event.at.steps else None
    return DrawnMoment(step, round(chance.uniform(*event.at.after_s), 3), None)
