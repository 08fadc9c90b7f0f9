"""Whatever people say, in whatever order: the promises of the session hold, on every bundled procedure.

What must hold comes from the laws of this project (DEVELOPERS.md) and from the hazards of the job: no light before
examination and eyewear (ICNIRP 2013 for the eyes; the rest common practice, no source), hot or painful means light off,
nothing is closed with an open item (WHO Surgical Safety Checklist 2009, sign out).
"""

import json
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from procedure_files import write_files
from talking import Talk
from witness import ReferenceLamp, Witness

from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.definition.plan import VisitPhase, compile_procedure
from handsfree.model.commands import Control, ControlCommand, OptionSlot, ScanLabel
from handsfree.model.effects import Append, Say
from handsfree.model.events import RejectionReason
from handsfree.model.facts import HoldLifted, LightTurnedOn
from handsfree.model.readings import (
    Absent,
    AbsentReason,
    Ambiguous,
    Between,
    Beyond,
    Exact,
    HowToSay,
    NeedsAsking,
    Refused,
    Side,
)
from handsfree.model.reasons import ScanFault, ScanFaultCode
from handsfree.model.working import Working
from handsfree.record.codec import encode_fact
from handsfree.session.session import Session

EXAMPLES = 8
"""Visits of each procedure; derandomized, so that every run makes the same ones. Set it higher to look for more."""
VERDICTS = {"safe", "cured", "normal", "cleared"}
HEAT = (Control.HOT, Control.PAIN)
NUMBERS = st.decimals(min_value=-20, max_value=120, places=1).map(lambda value: Exact(value, 1))
ODD_VALUES = st.one_of(
    NUMBERS,
    st.integers(0, 30).map(lambda value: Exact(Decimal(value))),
    st.just(Ambiguous((Decimal(15), Decimal(50)))),
    st.just(NeedsAsking(HowToSay.SIGN_THEN_DIGITS)),
    st.just(Refused(HowToSay.NO_EARLIER_VALUE)),
    st.just(Between(Decimal(1), Decimal(3))),
    st.sampled_from("<>").map(lambda sign: Beyond(sign, Decimal(2))),
    st.sampled_from(list(AbsentReason)).map(Absent),
    st.just("nonsense"),
    st.just("#ZZ9"),
)


class Visit(RuleBasedStateMachine):
    """One visit of people who say anything at any time."""

    bundle = None
    expert = False
    working = Working.GUIDED
    going_on = False

    def __init__(self):
        super().__init__()
        self.talk = Talk(self.bundle, expert=self.expert, working=self.working, going_on=self.going_on)
        self.witness = Witness(self.bundle)
        self.lamp = ReferenceLamp()
        self.switched = 0
        self.seen = 0
        self.look()

    def look(self):
        """Check what came of every event since the last look."""
        self.switch_lamp()
        for effects in self.talk.history[self.seen :]:
            kinds = [isinstance(effect, Append) for effect in effects]
            assert kinds == sorted(kinds, reverse=True), "facts come first"
            self.check_light(effects)
            red_before = self.witness.red
            for effect in effects:
                if isinstance(effect, Append):
                    json.dumps(encode_fact(effect.fact), allow_nan=False)
                    self.witness.take(effect.fact)
                elif isinstance(effect, Say):
                    assert effect.text.strip()
                    # Of the last event alone it is known where the visit stood.
                    last = effects is self.talk.history[-1]
                    if last and "say light on" in effect.text.lower() and not self.witness.red:
                        self.check_prompt()
                    assert not VERDICTS & set(effect.text.lower().replace(".", " ").replace(",", " ").split())
            if self.witness.red < red_before:
                assert any(isinstance(effect, Append) and isinstance(effect.fact, HoldLifted) for effect in effects)
        self.seen = len(self.talk.history)

    def switch_lamp(self):
        """Let the hand with the lamp follow the words, understood or in doubt."""
        for event in self.talk.events[self.switched :]:
            command = getattr(event, "command", None)
            if isinstance(command, ControlCommand):
                self.lamp.said(command.control.value, event.heard.spoken_from_s, event.heard.spoken_to_s)
        self.switched = len(self.talk.events)

    def check_light(self, effects):
        """No light before what must come before, none under a red hold, none under the strap."""
        for effect in effects:
            match effect:
                case Append(fact=LightTurnedOn(stage=stage, zone=zone)):
                    step = self.step(stage)
                    for name in step.requires:
                        sides = ("@left", "@right") if self.step(name).for_each else ("",)
                        assert {name + side for side in sides} <= self.witness.done, f"light before {name}"
                    assert self.witness.red == 0
                    # Whatever a file requires: eyewear, consent, baseline and position come before any light.
                    before = {one.id for one in self.bundle.procedure.steps[: self.bundle.procedure.steps.index(step)]}
                    hard = {one.id for one in self.bundle.procedure.steps if one.hard and one.when is None} & before
                    assert hard <= {name.partition("@")[0] for name in self.witness.done}, "light before a hard step"
                    lit = next(one for one in self.bundle.device.zones if one.id == zone)
                    assert not lit.strap_shadowed or self.witness.strap_off
                    assert lit.strap_shadowed == (step.zones == "strap")

    def check_prompt(self):
        """Nobody is told to say "light on" before what the step of light requires."""
        if self.talk.step().kind != "expose":
            return
        for name in self.talk.step().requires:
            sides = ("@left", "@right") if self.step(name).for_each else ("",)
            assert {name + side for side in sides} <= self.witness.done, f"prompted for light before {name}"

    def step(self, name):
        """A step of the file."""
        return next(step for step in self.bundle.procedure.steps if step.id == name)

    @initialize(data=st.data())
    def begin_somewhere(self, data):
        """Walk to some step by the straight way, so that late steps are met as often as early ones."""
        stages = compile_procedure(self.bundle.procedure).stages
        target = data.draw(st.sampled_from([stage for stage in stages if stage.step.when is None]))
        side = {None: "", "injured": "@left", "other": "@right"}[target.role]
        self.talk.go_to(target.step.id + side)
        self.look()

    @rule()
    @precondition(lambda self: self.talk.outcome is None)
    def answer(self):
        """Do what is asked."""
        self.talk.answer()
        self.look()

    @rule(control=st.sampled_from(list(Control)), doubted=st.booleans())
    def say(self, control, doubted):
        """Say any command, legal or not."""
        was_lit = self.talk.session.snapshot.is_lit
        closed = self.talk.outcome is not None
        self.talk.say(control, doubted=doubted)
        if control in {Control.STOP, Control.LIGHT_OFF, *HEAT} and not closed:
            assert not self.talk.session.snapshot.is_lit
            assert ("light_turned_off" in self.talk.kinds) == was_lit
        if closed:
            assert self.talk.effects == ()
        self.look()

    @rule(data=st.data())
    @precondition(lambda self: self.talk.session.wanted.controls)
    def say_what_is_wanted(self, data):
        """Say one of the commands that are legal."""
        self.talk.say(data.draw(st.sampled_from(sorted(self.talk.session.wanted.controls))))
        self.look()

    @rule(word=st.sampled_from([Control.STOP, *HEAT]), seconds=st.floats(0.1, 20))
    @precondition(lambda self: Control.LIGHT_ON in self.talk.session.wanted.controls)
    def stop_in_the_light(self, word, seconds):
        """Light on, and then somebody says a stop word."""
        self.talk.say("light_on")
        self.look()
        was_lit = self.talk.session.snapshot.is_lit
        self.talk.wait(seconds)
        self.talk.say(word)
        self.look()
        assert not self.talk.session.snapshot.is_lit
        if was_lit and word in HEAT:
            assert self.witness.red > 0

    @rule(data=st.data())
    @precondition(lambda self: any(isinstance(slot, OptionSlot) for slot in self.talk.session.wanted.slots))
    def find_something(self, data):
        """Give a finding that is flagged, if the step has one, and confirm it."""
        if self.talk.mode != "asking":
            return
        step = self.talk.step()
        wanted = {slot.slot for slot in self.talk.session.wanted.slots}
        values = {
            field.id: data.draw(st.sampled_from([*field.red, *field.stop, *field.amber] or sorted(field.options or {})))
            if field.options
            else self.talk.good(step, field)
            for field in step.fields
            if field.id in wanted
        }
        if values:
            self.talk.give(**values)
        if self.talk.mode == "reading_back":
            self.talk.affirm()
        self.look()

    @rule(data=st.data(), doubted=st.booleans())
    def give_what_is_wanted(self, data, doubted):
        """Answer with any of the wanted answers, or with something odd."""
        slots = self.talk.session.wanted.slots
        if not slots:
            return
        values = {}
        for slot in data.draw(st.lists(st.sampled_from(slots), min_size=1, unique=True)):
            known = [option.value for option in slot.options] if isinstance(slot, OptionSlot) else []
            values[slot.slot] = data.draw(st.one_of(st.sampled_from(known), ODD_VALUES) if known else ODD_VALUES)
        self.talk.give(on_side=data.draw(st.sampled_from([None, None, None, *Side])), doubted=doubted, **values)
        self.look()

    @rule(slot=st.sampled_from(["wrist", "warmth", "role", "nothing"]), value=ODD_VALUES)
    def give_what_is_not_wanted(self, slot, value):
        """Answer something that was perhaps not asked."""
        self.talk.give(**{slot: value})
        self.look()

    @rule(text=st.sampled_from(["swelling noted", "stop", "light off"]))
    def dictate(self, text):
        """Speak free text."""
        self.talk.dictate(text)
        self.look()

    @rule(reason=st.sampled_from(list(RejectionReason)))
    def mumble(self, reason):
        """Speak so that nothing is taken: nothing but sounds and a note of it may come of that."""
        before = self.talk.session.snapshot
        self.talk.reject(reason)
        after = self.talk.session.snapshot
        assert (before.step_id, before.mode, before.done) == (after.step_id, after.mode, after.done)
        self.look()

    @rule(seconds=st.floats(0.1, 90))
    def wait(self, seconds):
        """Let time pass: silence answers nothing."""
        done = set(self.witness.done)
        self.talk.wait(seconds)
        self.look()
        assert self.witness.done == done

    @rule()
    def lose_the_microphone(self):
        """The microphone goes away."""
        self.talk.lose()
        self.look()
        assert not self.talk.session.snapshot.is_lit

    @rule()
    def lose_the_loudspeaker(self):
        """The loudspeaker goes away: the light stays as it was, for people still are heard."""
        was_lit = self.talk.session.snapshot.is_lit
        self.talk.lose("loudspeaker")
        self.look()
        assert self.talk.session.snapshot.is_lit == was_lit

    @rule(what=st.sampled_from(["microphone", "loudspeaker"]))
    def a_device_returns(self, what):
        """A sound device is back."""
        self.talk.find(what)
        self.look()

    @rule()
    def hear_a_beep(self):
        """The lamp beeps, or something like it."""
        self.talk.beep()
        self.look()

    @rule(faulty=st.booleans())
    def scan_a_label(self, faulty):
        """Somebody scans a label, whatever is asked."""
        faults = (ScanFault(ScanFaultCode.CHECK_DIGIT),) if faulty else ()
        self.talk.speak(ScanLabel(gtin="06291041500213", lot="A4", expiry=date(2027, 12, 31), faults=faults))
        self.look()

    @rule()
    def crash(self):
        """The program ends and comes back."""
        self.talk.crash()
        self.look()
        assert not self.talk.session.snapshot.is_lit

    @invariant()
    def views_agree(self):
        """What is shown is what the facts say."""
        snapshot = self.talk.session.snapshot
        assert snapshot.is_lit == self.witness.lit
        assert (snapshot.mode == "lit") == snapshot.is_lit
        assert (snapshot.hold is not None) or self.witness.red == 0
        assert self.talk.session.wanted.all_controls >= {Control.STOP, Control.LIGHT_OFF, *HEAT}
        deadline_s = self.talk.session.next_deadline_s
        assert deadline_s is None or deadline_s > 0

    @invariant()
    def no_light_is_credited_that_was_not_there(self):
        """Credited light of all zones is never more than the lamp was lit."""
        credited_s = sum(zone.lit_s for zone in self.talk.session.snapshot.zones)
        assert credited_s <= self.lamp.until(self.talk.now_s) + 1e-6

    @invariant()
    def the_phase_is_that_of_the_stage(self):
        """The machine of phases stands where the visit stands, and at its end once it is closed."""
        session = self.talk.session
        phase = session._visit.plan.phases[session._state.place]
        assert session._phases.phase is (VisitPhase.CLOSING if self.talk.outcome is not None else phase)

    @invariant()
    def nothing_is_closed_that_is_open(self):
        """A complete record has no open item, no hold, and every zone has its seconds."""
        if self.talk.outcome != "completed":
            return
        closing = self.talk.facts("visit_closed")[0]
        assert closing.open_items == ()
        assert self.witness.red == 0
        if any(step.kind == "expose" for step in self.bundle.procedure.steps):
            for zone in closing.zones:
                assert zone.lit_s >= zone.target_s - 1e-9
                assert self.witness.lit_s[zone.zone] == pytest.approx(zone.lit_s)

    def teardown(self):
        """The same events give the same effects, and the same facts whether prompts are short or not."""
        way = {"working": self.working, "going_on": self.going_on}
        again = Session(self.bundle, expert=self.expert, **way)
        assert [again.handle(event) for event in self.talk.events] == self.talk.history
        other = Session(self.bundle, expert=not self.expert, **way)
        worded = [without_words(other.handle(event)) for event in self.talk.events]
        assert worded == [without_words(effects) for effects in self.talk.history]


def without_words(effects):
    """Everything but what is said: facts, sounds, the end."""
    return [effect for effect in effects if not isinstance(effect, Say)]


def visits(name, *, expert=False, kind=Visit):
    """A machine bound to a procedure."""
    members = {"bundle": load_bundle(name), "expert": expert}
    bound = type(f"{kind.__name__}_{name.replace('-', '_')}{'_expert' if expert else ''}", (kind,), members)
    test = bound.TestCase
    test.settings = settings(
        max_examples=EXAMPLES,
        stateful_step_count=25,
        derandomize=True,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    return test


TestUlnar = visits("ulnar-splint-fitting")
TestThumb = visits("thumb-splint-fitting")
TestWrist = visits("wrist-splint-fitting")
TestCheck = visits("neurovascular-check")
TestRemoval = visits("splint-removal")
TestLight = visits("light-output-check")
TestThermometer = visits("thermometer-calibration")

TestUlnarInShort = visits("ulnar-splint-fitting", expert=True)
TestThumbInShort = visits("thumb-splint-fitting", expert=True)
TestWristInShort = visits("wrist-splint-fitting", expert=True)
TestCheckInShort = visits("neurovascular-check", expert=True)
TestRemovalInShort = visits("splint-removal", expert=True)
TestLightInShort = visits("light-output-check", expert=True)
TestThermometerInShort = visits("thermometer-calibration", expert=True)


def test_every_bundled_procedure_has_its_visits():
    whole = [TestUlnar, TestThumb, TestWrist, TestCheck, TestRemoval, TestLight, TestThermometer]
    short = [case for name, case in globals().items() if name.startswith("Test") and name.endswith("InShort")]
    assert len(whole) == len(short) == len(bundled_procedures())


@pytest.mark.parametrize("name", bundled_procedures())
def test_the_straight_way_leads_to_a_complete_record(name):
    talk = Talk(load_bundle(name)).finish()
    assert talk.outcome == "completed"
    assert talk.session.open_items == ()


def test_the_small_procedure_leads_there_as_well(tmp_path):
    talk = Talk(load_bundle(str(write_files(tmp_path)))).finish()
    assert talk.outcome == "completed"
