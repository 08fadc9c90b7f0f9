"""Scripted learners: they read the session like a person would, and speak. `personas` says how each works."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from random import Random

from handsfree.definition.form import Step
from handsfree.errors import ScriptError
from handsfree.practice.computed_truth import times_due
from handsfree.practice.event_injection import EventInjector, InjectedEvent
from handsfree.practice.event_kinds import Action, Settlement, Way
from handsfree.practice.learner_values import LearnerValues
from handsfree.practice.personas import Persona
from handsfree.practice.scenario import LEARNER, PATIENT
from handsfree.practice.scenario_loader import LoadedScenario
from handsfree.practice.timeline import same_value
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import WayOn
from handsfree.session.snapshot import Snapshot
from handsfree.simulation.scene import Scene
from handsfree.simulation.spoken_answers import answer_words, as_recorded

LONGEST_VISIT_S = 3 * 3600.0
MOST_TURNS_AT_A_STEP = 60
"""Turns at one step after which the practice counts as stuck."""
CUE_WORDS = "light off"
LAST_WORDS = "that was the last"
PUSHED_AT = 2
"""At which step somebody tries "next step" who does so once."""
_SENIORS_CODE = "sierra two"
"""Code of whoever answers beside the learner; invented."""


@dataclass(frozen=True, slots=True)
class LearnerVisit:
    """What a scripted visit came to.

    Attributes:
        outcome: How the session closed.
        utterances: How often somebody addressed the tool.
        taken_again: How often something was said again.
        duration_s: Length of the visit.
    """

    outcome: str
    utterances: int
    taken_again: int
    duration_s: float


class ScriptedLearner:
    """Works through a session.

    Args:
        case: The scenario with its procedure.
        manner: How.
        scene: Where people speak.
        injector: What has happened; the learner notices it if of that kind.
        today: Local date.
    """

    def __init__(
        self, case: LoadedScenario, manner: Persona, scene: Scene, injector: EventInjector, today: date
    ) -> None:
        self._case = case
        self._manner = manner
        self._scene = scene
        self._session = scene.runner.session
        self._injector = injector
        self._steps = {step.id: step for step in case.bundle.procedure.steps}
        self._needed_for_light = {
            name for step in case.bundle.procedure.steps if step.zones is not None for name in step.requires
        }
        self._chance = Random(f"{case.scenario.seed} learner")  # noqa: S311 - the same each time, which is the point
        self._last_said = ""
        self._again = 0
        self._entered = 0
        self._place = ""
        self._turns = 0
        self._left_s: dict[str, float] = {}
        self._did: set[str] = set()
        self._values = LearnerValues(case, manner, injector, today, self._chance)
        self._fired_before_light = 0
        self._paused_for: set[str] = set()
        self._held_s: float | None = None
        self._ending = False

    def run(self) -> LearnerVisit:
        """Work until the session closes.

        Raises:
            ScriptError: The session does not come on.
        """
        while not self._scene.closed:
            self._scene.listen_until_all_quiet()
            if not self._scene.closed:
                self._turn(self._session.snapshot)
            if self._scene.now_s > LONGEST_VISIT_S:
                raise ScriptError(f"the practice does not end: it is at {self._place}")
        outcome = self._scene.runner.outcome or ""
        return LearnerVisit(outcome, self._scene.utterances, self._again, self._scene.now_s)

    def _turn(self, snapshot: Snapshot) -> None:
        self._notice_place(snapshot)
        mode = Mode(snapshot.mode)
        if mode is Mode.LIT:
            self._end_light(snapshot)
            return
        self._fired_before_light = len(self._injector.fired)
        if mode is not Mode.HELD:
            self._held_s = None
        self._scene.listen_s(self._manner.think_s)
        self._scene.listen_until_all_quiet()
        if self._session.mode != snapshot.mode or self._session.step_id != snapshot.step_id:
            return
        says_nothing = mode is Mode.HELD and not (self._manner.heeds and self._manner.ends_light)
        if self._session.light_may_be_on and not says_nothing and mode not in {Mode.STRAY, Mode.CRIED, Mode.DOUBTING}:
            # A word of heat ended the light: nobody has said yet that the lamp is off.
            self._say("light off")
            return
        match mode:
            case Mode.STRAY:
                self._say("light off")
            case Mode.CRIED:
                self._say("affirmative")
            case Mode.DOUBTING:
                self._answer_doubt(snapshot.doubted or "")
            case Mode.READING_BACK:
                self._answer_read_back(snapshot)
            case Mode.WARMTH | Mode.LATE_HEAT:
                self._say("warm" if mode is Mode.WARMTH else "cool", who=PATIENT)
            case Mode.HELD:
                self._answer_hold()
            case Mode.PAUSED:
                self._say("end the visit" if self._ending else "resume")
            case (
                Mode.OVERRIDE_ROLE
                | Mode.OVERRIDE_REASON
                | Mode.OVERRIDE_CODE
                | Mode.OVERRIDE_CONFIRM
                | Mode.MISHEARD
                | Mode.SKIP_REASON
            ):
                self._say(self._words_of_mode(mode, snapshot.may_answer))
            case Mode.RECONFIRM:
                self._say("affirmative")
            case Mode.OPEN_ITEMS:
                self._wait_for_deadline()
            case _:
                self._answer_step()

    def _notice_place(self, snapshot: Snapshot) -> None:
        if snapshot.step_id == self._place:
            self._turns += 1
            if self._turns > MOST_TURNS_AT_A_STEP:
                raise ScriptError(f"the practice is stuck at {self._place} ({snapshot.mode}): {snapshot.prompt}")
            return
        self._left_s[self._place.partition("@")[0]] = self._scene.now_s
        self._place, self._turns = snapshot.step_id, 0
        self._entered += 1

    def _wait_for_deadline(self) -> None:
        deadline_s = self._session.next_deadline_s
        if deadline_s is None:
            self._say("override")
        else:
            self._scene.listen_s(max(0.0, deadline_s - self._scene.now_s) + 0.2)

    def _say(self, words: str, *, who: str = LEARNER) -> bool:
        """Say it; whether it was taken. What is not is said again in the next turn."""
        self._last_said = words
        taken = self._scene.speak(who, words)
        if not taken and not self._scene.closed:
            self._again += 1
        return taken

    # Values

    def _answer_values(self, step: Step) -> None:
        wanted = {slot.slot for slot in self._session.wanted.slots}
        values = {name: value for name, value in self._values.true(step, self._place).items() if name in wanted}
        if not values:
            self._say("correction")
            return
        self._say(answer_words(step, self._values.said(step, self._place, values)))

    def _answer_read_back(self, snapshot: Snapshot) -> None:
        right = not self._manner.listens or all(self._is_true(*one) for one in snapshot.read_back.items())
        self._say("affirmative" if right else "negative")

    def _is_true(self, name: str, value: str) -> bool:
        """Whether a value that is read back, by "step.field" or "step@side.field", is what the learner means."""
        place, _, field_id = name.rpartition(".")
        step_id, _, which = place.partition("@")
        step = self._steps.get(step_id)
        if step is None:
            return True
        stage = "@".join(part for part in (step_id, which or self._place.partition("@")[2]) if part)
        if self._manner.affirms_slips and self._values.slipped_at(stage):
            return True
        field = next(one for one in step.fields if one.id == field_id)
        return same_value(value, as_recorded(field, self._values.true(step, stage)[field_id]))

    def _answer_doubt(self, doubted: str) -> None:
        meant = self._last_said.lower().replace(",", "").split()
        right = not self._manner.listens or doubted.lower().split() == meant
        meant_words = self._last_said
        self._say("affirmative" if right else "negative")
        self._last_said = meant_words

    # Steps

    def _answer_step(self) -> None:
        step = self._steps.get(self._place.partition("@")[0])
        if step is None:
            self._scene.listen_s(1.0)
            return
        called = self._called_away()
        if called is not None:
            # What was not taken, as where somebody else still spoke, is said again in the next turn.
            if self._say("wait"):
                self._paused_for.add(called.event.id)
                self._scene.listen_s(5.0)
        elif self._manner.waits and self._once("timer") and (rest_s := self._timer_left_s(step)) > 0:
            self._scene.listen_s(rest_s)
        elif self._manner.lights_early and step.id in self._needed_for_light and "early" not in self._did:
            self._did.add("early")
            self._say("light on")
        elif self._is_pushing() and self._once("push"):
            self._say("next step")
        elif self._manner.asks_again and self._chance.random() < self._manner.asks_again and self._once("again"):
            self._say("say again")
        elif self._manner.skips and not step.hard and step.kind != "expose" and self._once("skip"):
            self._say("skip this step")
        elif step.kind == "expose":
            self._start_light(step)
        elif self._is_over(step):
            self._say(LAST_WORDS)
        elif step.fields:
            self._answer_values(step)
        else:
            self._say("affirmative")

    def _is_over(self, step: Step) -> bool:
        """Whether a repeated step has been done as often as this learner thinks is enough."""
        if step.repeat is None:
            return False
        enough = step.repeat.least if self._manner.stops_early else times_due(self._case.scenario, step)
        return int(self._place.rpartition("@")[2]) > enough

    def _timer_left_s(self, step: Step) -> float:
        """How long a timer still runs whose step is what the time until this one is counted from, seconds."""
        since = {
            field.computed.elapsed[0]
            for one in self._steps.values()
            for field in one.fields
            if field.computed is not None and field.computed.elapsed[1:] == (step.id,)
        }
        ends = (
            self._left_s[name] + timer.seconds
            for name in since & self._left_s.keys()
            for timer in self._steps[name].timers
        )
        return max(ends, default=0.0) - self._scene.now_s

    def _is_pushing(self) -> bool:
        if self._manner.push_once:
            return self._entered == PUSHED_AT
        return bool(self._manner.pushes) and self._entered % self._manner.pushes == 0

    def _once(self, what: str) -> bool:
        """True the first time at this step."""
        name = f"{what} {self._place}"
        if name in self._did:
            return False
        self._did.add(name)
        return True

    def _called_away(self) -> InjectedEvent | None:
        if not self._manner.heeds:
            return None
        return next(
            (
                one
                for one in self._injector.fired
                if one.event.answer[0] is Action.PAUSE and one.event.id not in self._paused_for
            ),
            None,
        )

    # Light

    def _start_light(self, step: Step) -> None:
        if step.zones == "strap" and self._once("strap") and not self._manner.forgets_strap:
            self._say("strap off")
        elif step.zones == "strap" and self._manner.forgets_strap and not self._once("light first"):
            self._say("strap off") if self._once("strap later") else self._say("light on")
        else:
            self._say("light on")

    def _end_light(self, snapshot: Snapshot) -> None:
        """Wait for the cue, or for as long as this learner thinks is enough, or until the light fails."""
        zone = next((zone for zone in snapshot.zones if zone.lit), None)
        begun_s = self._scene.now_s
        known = self._fired_before_light
        while self._is_under_light() and not self._scene.closed:
            said = self._scene.outputs.said_since_turn.lower()
            if self._is_called(known):
                break
            if self._manner.light_share and zone is not None:
                if self._scene.now_s - begun_s >= self._manner.light_share * (zone.target_s - zone.lit_s):
                    break
            elif CUE_WORDS in said:
                self._scene.listen_until_quiet()
                self._scene.listen_s(self._manner.off_delay_s)
                break
            self._scene.listen_s(0.1)
        called = self._is_called(known)
        if called:
            self._scene.listen_until_all_quiet()
            self._scene.listen_s(self._manner.think_s + self._manner.off_delay_s)
        # Whoever hears "hot" ends the light and says so, even where the patient's word has reached the tool already.
        if self._is_under_light() or called:
            self._say("light off")

    def _is_under_light(self) -> bool:
        """Whether the light counts; after a cry it does not, though nobody may have put it off."""
        return self._session.mode is Mode.LIT

    def _is_called(self, known: int) -> bool:
        """Whether something has happened since, and this learner ends the light for it."""
        return self._manner.heeds and self._manner.ends_light and len(self._injector.fired) > known

    # Holds

    def _settlement(self) -> tuple[InjectedEvent, Settlement] | None:
        """How the last event that can hold the procedure wants to be settled."""
        for one in reversed(self._injector.fired):
            if one.event.settle is not None:
                return one, one.event.settle
        return None

    def _answer_hold(self) -> None:
        now_s = self._scene.now_s
        self._held_s = now_s if self._held_s is None else self._held_s
        if now_s - self._held_s < self._manner.look_s:
            self._scene.listen_s(self._manner.look_s - (now_s - self._held_s))
            return
        found = self._settlement() if self._manner.settles_well else None
        way = found[1].ways[0] if found is not None else Way.OVERRIDDEN
        if self._values.slipped_at(self._place) and self._once("slip held"):
            # A slip of their own that holds the work is put right, however careless somebody is.
            self._say("correction")
        elif found is not None and way is Way.ANSWERED_AGAIN:
            self._values.remedied.add(found[0].event.id)
            self._say("correction")
        elif way is Way.ENDED or WayOn.OVERRIDE not in self._session.snapshot.ways:
            self._ending = True
            self._say("end the visit")
        else:
            self._say("override")

    def _words_of_mode(self, mode: Mode, able: Sequence[str]) -> str:
        procedure = self._case.bundle.procedure
        found = self._settlement() if self._manner.settles_well else None
        roles, reasons = (found[1].roles, found[1].reasons) if found is not None else ((), ())
        match mode:
            case Mode.OVERRIDE_ROLE:
                own = self._case.scenario.case.get(procedure.role_from or "", next(iter(procedure.roles)))
                return _one_of(able, procedure.roles[roles[0] if roles else own][0])
            case Mode.OVERRIDE_REASON:
                named = reasons[0] if reasons else next(iter(procedure.override_reasons))
                return _one_of(able, procedure.override_reasons[named][0])
            case Mode.OVERRIDE_CODE:
                return _SENIORS_CODE
            case Mode.SKIP_REASON:
                return next(iter(procedure.skip_reasons.values()))[0]
            case _:
                return "affirmative"


def _one_of(able: Sequence[str], meant: str) -> str:
    """What the learner means to say, if the file permits it; else the first that it does."""
    return meant if not able or meant in able else able[0]
