"""Twenty-odd awkward visits, each worked through the real session by what is said; all people and devices are invented.

A person answers the rehearsal script of the procedure, but says other things where a case tells so. What is said counts
as spoken (an engine, a score) unless a case types.
"""

import dataclasses
from dataclasses import dataclass, field
from datetime import timedelta

from report_visits import PROMPT_S, Typist, script

from handsfree.application.amended_values import amendment_rules
from handsfree.application.baseline import read_baseline
from handsfree.application.opening import resume_session
from handsfree.clock import ManualClock
from handsfree.model.events import CommandDoubted, CommandSpoken, SoundLost, SoundReturned
from handsfree.record.amendments import amend, attest, change_of
from handsfree.record.contents import Amended
from handsfree.record.signing import installation_key
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


NERVES = "neurovascular-check"


def entry_of(folder, step, name):
    found = (one for one in verify(folder).record.readings if (one.stands.step, one.stands.field) == (step, name))
    return next(one.recorded.seq for one in found)


def later(seconds):
    from report_visits import START

    clock = ManualClock(START)
    clock.sleep_until(20_000 + seconds)
    return clock


def corrected_later(folder, step, name, value, *, judged=True, at_s=0, member="value"):
    entry = entry_of(folder, step, name)
    rules = amendment_rules(folder)
    amend(
        folder,
        entry,
        change_of(folder, entry, member, value),
        by="surgeon",
        reason="read off the wrong line",
        value_fault=rules.value_fault,
        judge=rules.judge if judged else None,
        clock=later(at_s),
    )


def signed(folder, at_s=500, because=""):
    key = installation_key(folder.parent / f"{folder.name}.key")
    attest(folder, key, by="surgeon", open_items_because=because, clock=later(at_s))


HOT = {"outer_edge": [(1, "hot"), (3, "light off")]}


def hot_then_lifted(folder):
    played(Case(lit=HOT), folder)


def hot_then_ended(folder):
    played(Case(lit=HOT, held=("end the visit",), override=("surgeon", "clinical decision", "sierra two")), folder)


def hot_and_nobody_said_off(folder):
    lit = {"outer_edge": [(1, "hot")]}
    played(Case(lit=lit, held=("end the visit",), override=("surgeon", "clinical decision", "sierra two")), folder)


def over_target(folder):
    played(Case(lit={"fracture_side": [(61, "light off")]}), folder)


def zone_left_short(folder):
    played(Case(lit=HOT, held=("leave this zone",)), folder)


def cut_in_the_light(folder):
    person = Person(Case(until="expose_open"), folder)
    with person.journal:
        person.work()
        person.wait(0.4)
        person.say("light on")
        person.wait(3.5)


def broken_off_in_the_light_and_resumed(folder):
    cut_in_the_light(folder)
    case = Case()
    person = Person.going_on(case, folder)
    with person.journal:
        person.strap_off = False
        person.work()


def painful_afterwards(folder):
    played(Case(late_heat=("pain", "warm"), held=("override",)), folder)


def pain_in_the_light_and_more_at_rest(folder):
    lit = {"knuckle_part": [(2, "pain"), (2, "light off")]}
    played(Case(lit=lit, override=("surgeon", "senior agrees", "sierra two")), folder)


RED = "pulse absent refill one point five color usual temperature warm"
FINE = "pulse present refill one point five color usual temperature warm"


PART = "pulse not done refill one point five color usual temperature warm"


def red_finding_overridden(folder):
    instead = {"circulation_after@right": (RED,)}
    played(Case(instead=instead, override=("surgeon", "senior agrees", "sierra two")), folder)


def red_finding_misheard(folder):
    played(Case(instead={"circulation_before@right": (RED, FINE)}, held=("correction",)), folder)


def stop_value_answered_again(folder):
    bare = "operator protected patient missing everyone else protected"
    dressed = "operator protected patient protected everyone else protected"
    played(Case(instead={"eye_protection": (bare, dressed)}, held=("correction",)), folder)


def missing_values_accepted(folder):
    instead = {"circulation_after@right": (PART,), "open_items": ("override",)}
    played(Case(instead=instead, override=("surgeon", "clinical decision", "sierra two")), folder)


def waited_and_stopped_without_light(folder):
    def wait_long(person):
        person.say("wait")
        person.wait(95)

    def stop_short(person):
        person.say("stop")
        person.wait(12)

    played(Case(instead={"jewelry": (wait_long,), "swelling": (stop_short,)}), folder)


def notes_read_and_unread(folder):
    def note(words):
        def said(person):
            for one in ("take note", words, "end note"):
                person.wait(1)
                person.say(one)

        return said

    instead = {"jewelry": (note("ring cut off with pliers"),), "padding": (note("padding doubled at the ulna"),)}
    played(Case(instead=instead), folder)
    first, second = verify(folder).record.notes
    amend(folder, first.recorded.seq, Amended(verified=True), by="surgeon", reason="read", clock=later(0))
    changed = Amended(text="padding doubled at the ulna tip")
    amend(folder, second.recorded.seq, changed, by="surgeon", reason="misheard", clock=later(1))


def amended_to_red_after_signing(folder):
    played(Case(), folder)
    signed(folder, at_s=0)
    corrected_later(folder, "circulation_after", "pulse", "absent", at_s=10)


def amended_and_judged_by_nobody(folder):
    played(Case(), folder)
    corrected_later(folder, "circulation_after", "refill", "2.4", judged=False)
    corrected_later(folder, "position", "wrist", "20", at_s=10)
    signed(folder)


def heard_with_doubt(folder):
    played(Case(scores={"circumference": 0.62}, doubted=("swelling", "device_condition")), folder, clips=True)


def all_typed(folder):
    played(Case(engine="typed"), folder)


def practice(folder):
    played(Case(first="practice session", lit=HOT, engine="typed"), folder, patient=None, practice=True)


def cried_in_the_light(folder):
    lit = {"outer_edge": [(1, lambda person: cry(person)), (3, "light off")]}
    played(Case(lit=lit, cried="affirmative"), folder)


def cry(person):
    from handsfree.model.commands import Control, ControlCommand
    from handsfree.model.hypotheses import Hypothesis

    now_s = person.clock.monotonic_s()
    heard = Hypothesis(("ow", "it", "burns"), (), now_s, now_s, SPOKEN, free_text="ow it burns")
    wall = stamp(person.clock.wall())
    command = ControlCommand(Control.CRY)
    person.handed(CommandDoubted(at_s=now_s, wall=wall, command=command, heard=heard, probability=0.4))


def light_where_none_was_permitted(folder):
    def stray(person):
        person.say("light on")
        person.wait(2.5)
        person.say("light off")

    played(Case(instead={"jewelry": (stray,)}), folder)


def microphone_lost_in_the_light(folder):
    def lose(person):
        person.lost("microphone")
        person.wait(4)
        person.returned("microphone")

    lit = {"outer_edge": [(2, lose), (2, "light off")]}
    played(Case(lit=lit), folder)


def much_skipped_and_ended_early(folder):
    def end(person):
        person.say("end the visit")

    played(
        Case(
            instead={"padding": ("skip this step",), "firmness": (end,)},
            override=("hand therapist", "clinical decision", "sierra two"),
        ),
        folder,
    )


def of_another_patient(folder):
    earlier = folder.parent / f"{folder.name}-earlier"
    played(Case(script=NERVES, patient="W-20077"), earlier)
    from handsfree.definition.loader import load_bundle

    baseline = read_baseline(earlier, load_bundle(NERVES), meant=True)
    played(Case(script=NERVES), folder, baseline=baseline)


def whole(folder):
    played(Case(), folder)
    signed(folder)


AWKWARD = {
    one.__name__: one
    for one in (
        hot_then_lifted,
        hot_then_ended,
        hot_and_nobody_said_off,
        over_target,
        zone_left_short,
        cut_in_the_light,
        broken_off_in_the_light_and_resumed,
        painful_afterwards,
        pain_in_the_light_and_more_at_rest,
        red_finding_overridden,
        red_finding_misheard,
        stop_value_answered_again,
        missing_values_accepted,
        waited_and_stopped_without_light,
        notes_read_and_unread,
        amended_to_red_after_signing,
        amended_and_judged_by_nobody,
        heard_with_doubt,
        all_typed,
        practice,
        cried_in_the_light,
        light_where_none_was_permitted,
        microphone_lost_in_the_light,
        much_skipped_and_ended_early,
        of_another_patient,
        whole,
    )
}
