"""A person who answers whatever a session asks by its rehearsal script, and otherwise where a case tells so.

A person answers the rehearsal script of the procedure, but says other things where a case tells so. What is said counts
as spoken (an engine, a score) unless a case types.
"""

import dataclasses
from dataclasses import dataclass, field
from datetime import timedelta

from report_visits import PROMPT_S, Typist, script

from handsfree.application.opening import resume_session
from handsfree.clock import ManualClock
from handsfree.model.events import CommandDoubted, CommandSpoken, SoundLost, SoundReturned
from handsfree.record.verify import verify
from handsfree.session.prompts.fixed import WayOn
from handsfree.stamps import stamp
from handsfree.understanding.interpreter import interpret, typed

SPOKEN = "neural"


@dataclass
class Case:
    """What is said otherwise than the script has it.

    Attributes:
        script: Rehearsal script.
        first: What is said of the kind of session.
        instead: What is said at a step in place of the script's line, the first time it is asked; several in a row.
        lit: What is said in the light of a zone, and how many seconds after "light on".
        held: What is said at a hold; one after the other, the last again and again.
        override: Role, reason and the code of another person.
        until: Step at which the work ends, not closed.
        engine: Engine of every utterance.
        scores: Probability of what is said at a step.
        doubted: Steps whose answer is asked about first.
    """

    script: str = "ulnar-fitting"
    first: str = "live session"
    instead: dict = field(default_factory=dict)
    lit: dict = field(default_factory=dict)
    held: tuple = ("override",)
    override: tuple = ("hand therapist", "settled after inspection", "sierra two")
    late_heat: tuple = ("warm",)
    warmth: str = "warm"
    cried: str = "negative"
    until: str = ""
    engine: str = SPOKEN
    scores: dict = field(default_factory=dict)
    doubted: tuple = ()
    patient: str | None = "W-10442"


class Person(Typist):
    """Answers whatever the session asks, as a case tells."""

    def __init__(self, case, folder, **how):
        self.case = case
        self.lines = script(case.script)
        how = {"practice": False, "patient": case.patient, "understood": True, **how}
        super().__init__(self.lines["procedure"], folder, **how)
        self._begin()

    def _begin(self):
        self.queues = {
            step: list(said) if isinstance(said, tuple) else [said] for step, said in self.case.instead.items()
        }
        self.held = list(self.case.held)
        self.late = list(self.case.late_heat)
        self.lit_said = dict(self.case.lit)
        self.strap_off = False
        self.index = 0

    @classmethod
    def going_on(cls, case, folder, gap_s=240.0):
        """The same person after the program had ended."""
        self = cls.__new__(cls)
        self.case, self.lines = case, script(case.script)
        record = verify(folder).record
        from report_visits import START, Said, load_bundle

        self.clock = _Resumed(START, max(event.at_s for event in record.events), gap_s)
        self.outputs, self.bundle = Said(), load_bundle(self.lines["procedure"])
        self.clips, self.understood, self.count, self.heard_before = False, True, 500, 0
        self.runner, self.journal = resume_session(self.bundle, folder, self.clock, self.outputs)
        self._begin()
        return self

    def say(self, text, means=(), probability=None):
        now_s = self.clock.monotonic_s()
        heard = typed(text.replace(",", ""), self.session.wanted, now_s)
        assert heard is not None, (text, self.session.snapshot)
        command = interpret(heard, self.session.wanted)
        assert command is not None, text
        clip = None
        if self.clips:
            from report_visits import tone

            self.count += 1
            clip = tone(200 + self.count)
        heard = dataclasses.replace(heard, engine=self.case.engine, clip=clip)
        step = self.session.snapshot.step_id
        score = probability or (1.0 if self.case.engine == "typed" else self.case.scores.get(step, 0.97))
        kind = CommandSpoken
        if step in self.case.doubted and not getattr(self, "asked_" + step, False):
            setattr(self, "asked_" + step, True)
            kind = CommandDoubted
            score = 0.55
        wall = stamp(self.clock.wall())
        self.runner.dispatch(kind(at_s=now_s, wall=wall, command=command, heard=heard, probability=score))

    def handed(self, event):
        self.runner.dispatch(event)

    def lost(self, what):
        now_s, wall = self.clock.monotonic_s(), stamp(self.clock.wall())
        self.handed(SoundLost(at_s=now_s, wall=wall, what=what))

    def returned(self, what):
        now_s, wall = self.clock.monotonic_s(), stamp(self.clock.wall())
        self.handed(SoundReturned(at_s=now_s, wall=wall, what=what))

    def work(self):
        for _ in range(900):
            snapshot = self.session.snapshot
            if self.runner.closed or (self.case.until and snapshot.step_id == self.case.until):
                return self
            self.turn(snapshot)
        raise AssertionError(self.session.snapshot)

    def turn(self, snapshot):
        self.wait(0.4)
        snapshot = self.session.snapshot
        if self.runner.closed:
            return
        role, reason, code = self.case.override
        fixed = {
            "reconfirm": "affirmative",
            "doubting": "affirmative",
            "warmth": self.case.warmth,
            "late_heat": self.late[0],
            "paused": "resume",
            "misheard": "affirmative",
            "cried": self.case.cried,
            "skip_reason": "patient declined",
            "override_code": code,
            "override_role": role,
            "override_reason": reason,
            "open_items": "",
        }
        if snapshot.read_back:
            self.wait(PROMPT_S)
            self.say("affirmative")
        elif snapshot.mode == "held":
            said = self.held.pop(0) if len(self.held) > 1 else self.held[0]
            if said == "override" and WayOn.OVERRIDE not in snapshot.ways:
                said = "correction"
            self.say(said)
        elif snapshot.mode == "open_items":
            said = self.queues.get("open_items")
            if said:
                self.say(said.pop(0))
            else:
                self.wait(max(0.0, (self.session.next_deadline_s or 0.0) - self.clock.monotonic_s()) + 0.1)
        elif snapshot.mode in fixed:
            if snapshot.mode == "late_heat" and len(self.late) > 1:
                self.late.pop(0)
            self.say(fixed[snapshot.mode])
        elif snapshot.mode == "lit":
            self.in_light(next(zone for zone in snapshot.zones if zone.lit))
        elif self.queues.get(snapshot.step_id):
            said = self.queues[snapshot.step_id].pop(0)
            if callable(said):
                said(self)
            else:
                self.say(said)
        elif snapshot.step_id.startswith("expose"):
            self.at_light(snapshot)
        else:
            self.by_script(snapshot.step_id)

    def in_light(self, zone):
        said = self.lit_said.pop(zone.id, None)
        if said is None:
            self.wait(max(0.1, zone.target_s - zone.lit_s + 0.2))
            self.say("light off")
            return
        for seconds, words in said:
            self.wait(seconds)
            if callable(words):
                words(self)
            elif words:
                self.say(words)

    def at_light(self, snapshot):
        strap_on = snapshot.step_id == "expose_strap" and not self.strap_off
        self.strap_off = self.strap_off or strap_on
        self.say("strap off" if strap_on else "light on")

    def by_script(self, step):
        if step == "session_kind":
            self.say(self.case.first)
            return
        lines = self.lines["lines"]
        order = [*range(self.index, len(lines)), *range(self.index)]
        found = next((number for number in order if lines[number]["after"] == step), None)
        assert found is not None, self.session.snapshot
        self.index = found + 1
        self.say(lines[found]["say"])


class _Resumed(ManualClock):
    """A clock that goes on where the record stopped, while the clock on the wall tells the gap."""

    def __init__(self, wall_start, last_s, gap_s):
        super().__init__(wall_start + timedelta(seconds=gap_s))
        self.sleep_until(last_s)

    def go_on_from(self, at_s):
        self.sleep_until(at_s)


def played(case, folder, **how):
    person = Person(case, folder, **how)
    with person.journal:
        person.work()
    return folder
