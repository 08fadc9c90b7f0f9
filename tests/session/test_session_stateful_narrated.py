"""The promises about light, holds and gates hold where people say everything in any order, on every bundled procedure.

What must hold is that of `test_session_stateful`, and what this project asks of its second way of confirming: a number,
code, date or side is never on record without an "affirmative", and nothing passes a gate that was not said.
"""

from hypothesis import strategies as st
from hypothesis.stateful import invariant, precondition, rule
from test_session_stateful import ODD_VALUES, Visit, visits

from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.model.commands import NumberSlot, OptionSlot
from handsfree.model.readings import Option, Side
from handsfree.model.working import Working
from handsfree.session.modes import Mode


class Narrated(Visit):
    """People who narrate, and change who leads when they like."""

    working = Working.NARRATED
    going_on = True

    @rule(data=st.data(), odd=st.booleans())
    @precondition(lambda self: self.talk.session.wanted.narration is not None)
    def narrate(self, data, odd):
        """Several items of the phase in one breath, in any order, most of them as they should be."""
        slots = {slot.slot: slot for slot in self.talk.session.wanted.slots}
        if not slots:
            return
        names = data.draw(st.lists(st.sampled_from(sorted(slots)), min_size=1, max_size=6, unique=True))
        for side in data.draw(st.permutations([None, *Side])):
            given = {}
            for name in names:
                slot = slots[name]
                sides = slot.sides if isinstance(slot, OptionSlot | NumberSlot) else ()
                if (side in sides) if sides else side is None:
                    given[name] = self.value(data, slot, odd=odd)
            if given and self.talk.session.wanted.narration is not None:
                self.talk.give(on_side=side, **given)
                self.look()
        if self.talk.mode == "reading_back" and data.draw(st.booleans()):
            self.talk.affirm()
            self.look()

    def value(self, data, slot, *, odd):
        """A value for a slot: nothing flags it, or it is any other."""
        step_id, _, field_id = slot.slot.partition(".")
        step = self.step(step_id)
        if not field_id:
            return "done"
        field = next(one for one in step.fields if one.id == field_id)
        if odd and isinstance(slot, OptionSlot):
            return data.draw(st.sampled_from([option.value for option in slot.options]))
        return data.draw(ODD_VALUES) if odd else self.talk.good(step, field)

    @rule(word=st.sampled_from(["narrate", "guide", "missing", "next_step"]))
    def lead(self, word):
        """Change who leads, ask what is missing, or go to the gate."""
        self.talk.say(word)
        self.look()

    @invariant()
    def nothing_passes_a_gate_that_only_stands(self):
        """What stands, or waits to be affirmed, is of the phase in which the visit stands."""
        state, plan = self.talk.session._state, self.talk.session._visit.plan
        phase = plan.phases[state.place]
        names = {name.rpartition(".")[0] for name in state.standing} | {*state.breath, *state.waiting}
        if self.talk.outcome is None and state.modes.top not in {Mode.HELD} and not state.holds and not state.ending:
            passed = {name for name in names if plan.index(name) < plan.index(state.place)}
            assert all(plan.phases[name] is phase for name in passed), names
        assert not (state.lit and state.standing)

    @invariant()
    def what_harms_is_affirmed(self):
        """Only findings of a list that hold nothing are confirmed by going on."""
        for fact in self.talk.facts("reading_confirmed"):
            if fact.read_back == "going_on":
                field = next(one for one in self.step(fact.step).fields if one.id == fact.field)
                assert isinstance(fact.value, Option)
                assert not set(field.options) <= {"left", "right"}
                assert fact.value.value not in {*field.red, *field.stop}

    def teardown(self):
        super().teardown()


def narrated(name):
    """A narrated machine bound to a procedure."""
    return visits(name, kind=Narrated)


TestUlnarNarrated = narrated("ulnar-splint-fitting")
TestThumbNarrated = narrated("thumb-splint-fitting")
TestWristNarrated = narrated("wrist-splint-fitting")
TestCheckNarrated = narrated("neurovascular-check")
TestRemovalNarrated = narrated("splint-removal")
TestLightNarrated = narrated("light-output-check")
TestThermometerNarrated = narrated("thermometer-calibration")


def test_every_bundled_procedure_has_its_narrated_visits():
    cases = [name for name in globals() if name.startswith("Test") and name.endswith("Narrated")]
    assert len(cases) == len(bundled_procedures())


def test_the_straight_way_of_a_narrated_visit_leads_to_a_complete_record():
    from talking import Talk

    for name in bundled_procedures():
        talk = Talk(load_bundle(name), working=Working.NARRATED, going_on=True).finish()
        assert talk.outcome == "completed", name
        assert talk.session.open_items == ()
