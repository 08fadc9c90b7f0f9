"""Every hold of every bundled procedure against every role, every reason and a second person's code.

What is expected stands in a table by hand (`bundled_holds`), and a hold that is missing from it fails. Each hold is set
by the words that a clinician says at its step; what is forbidden is refused aloud and on record, what is permitted is
read back with its consequence and lifts this hold alone. Common practice, no source.
"""

from dataclasses import replace
from decimal import Decimal

import pytest
from bundled_holds import FILES, RECALLED, holds_in
from talking import Talk, value_of

from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.model.baseline import Baseline, place
from handsfree.model.effects import Append
from handsfree.model.open_items import OpenHold, OpenLateQuestion
from handsfree.model.readings import Absent, AbsentReason, Side
from handsfree.model.refusals import ReasonMayNotLift, Refusal, RefusalCode, RoleMayNotLift

OWN_CODE, ANOTHER_CODE = "A4", "S2"


def facts(talk, kind):
    """Facts of a kind that the last event put on record."""
    return [one.fact for one in talk.effects if isinstance(one, Append) and one.fact.kind == kind]


def refused(talk):
    (fact,) = facts(talk, "command_refused")
    assert talk.said, "what is refused is said"
    return fact.reason


def held_for(talk):
    return [item for item in talk.session.open_items if isinstance(item, OpenHold)]


def earlier_of(bundle):
    """An earlier record of the same patient and side in which nothing was flagged."""
    talk, values = Talk(bundle), {}
    for step in bundle.procedure.steps:
        for field in step.fields:
            for side in ("left", "right"):
                values[place(step.id, field.id, side)] = value_of(talk.good(step, field))
    return Baseline("record-0", "2026-11-24", values, side=Side.LEFT)


class Visit:
    """A visit that stands where a step asks, again and again, until all its holds were tried."""

    def __init__(self, name):
        self.bundle, self.file = load_bundle(name), FILES[name]
        self.earlier = earlier_of(self.bundle) if self.bundle.procedure.compares_with_earlier else None
        self.tried = 0
        self.begin()

    def begin(self):
        self.talk = Talk(self.bundle, recalled={RECALLED: "leaks"}, baseline=self.earlier)

    def stand_at(self, stage):
        """Back to a step, by "correction"; in a new visit where a lift was the last thing to be done."""
        talk = self.talk
        if talk.mode in {"closed", "open_items"}:
            self.begin()
            self.talk.go_to(stage)
            return
        talk.say("correction")
        assert (talk.at, talk.mode) == (stage, "asking"), (stage, talk.at, talk.mode, talk.said)

    def hold(self, way):
        """Set a hold by its answers."""
        talk = self.talk
        step = talk.step()
        for answers in way.answers:
            asked = {slot.slot for slot in talk.session.wanted.slots}
            good = {field.id: talk.good(step, field) for field in step.fields if field.id in asked}
            talk.give(**(good | {name: value for name, value in answers.items() if name in asked}))
            if talk.said.endswith("Correct?"):
                talk.affirm()
            if facts(talk, "hold_set"):
                break
        assert len(held_for(talk)) == 1, (way, talk.at, talk.said)
        self.tried += 1

    def needs_code(self, role, reason):
        return reason in self.file.two or self.file.operator not in {None, role}

    def ask_as_far_as_the_read_back(self, role, reason, opening="Override: "):
        """Say everything up to the read-back; the operator's own code is refused."""
        talk, procedure = self.talk, self.bundle.procedure
        talk.say("override")
        talk.give(role=role)
        assert talk.said.startswith("Reason?"), (role, talk.said)
        talk.give(reason=reason)
        code = None
        if self.needs_code(role, reason):
            assert talk.said == "Spell the code of the person who answers for it, or say cancel.", (
                role,
                reason,
                talk.said,
            )
            if self.file.operator is not None:
                talk.give(code=f"#{OWN_CODE}")
                assert refused(talk) == Refusal(RefusalCode.OPERATORS_OWN_CODE)
            code = ANOTHER_CODE
            talk.give(code=f"#{code}")
        assert talk.said.startswith(opening), (role, reason, talk.said)
        assert procedure.override_reasons[reason][0] in talk.said
        assert procedure.roles[role][0].capitalize() in talk.said
        return code

    def try_all(self, who, consequence, opening="Override: "):
        """Every role and every reason; the read-backs are denied, and nothing is lifted. What is permitted."""
        talk, permitted = self.talk, []
        for role in self.file.roles:
            talk.say("override")
            if role not in who.by:
                talk.give(role=role)
                reason = refused(talk)
                assert isinstance(reason, RoleMayNotLift), (role, reason)
                assert reason.role == role
                talk.say("negate")
                continue
            talk.give(role=role)
            for reason in self.file.reasons:
                if reason in who.why:
                    continue
                talk.give(reason=reason)
                why = refused(talk)
                assert isinstance(why, ReasonMayNotLift), (reason, why)
                assert why.reason == reason
            talk.say("negate")
            for reason in who.why:
                self.ask_as_far_as_the_read_back(role, reason, opening)
                assert consequence in talk.said, talk.said
                talk.say("negate")
                assert facts(talk, "override_dropped")
                permitted.append((role, reason))
        return permitted

    def lift(self, role, reason, hold):
        """What is permitted lifts this hold, on record, and no other."""
        talk, before = self.talk, len(held_for(self.talk))
        code = self.ask_as_far_as_the_read_back(role, reason)
        talk.affirm()
        (lifted,) = facts(talk, "hold_lifted")
        assert (lifted.hold, lifted.role, lifted.reason, lifted.code) == (hold, role, reason, code)
        (closed,) = facts(talk, "visit_closed") or (None,)
        open_items = talk.session.open_items if closed is None else closed.open_items
        assert sum(isinstance(item, OpenHold) for item in open_items) == before - 1


@pytest.mark.parametrize("name", FILES)
def test_every_answer_that_holds_against_every_role_reason_and_code(name):
    visit, seen, stages = Visit(name), set(), set()
    while visit.talk.outcome is None:
        talk = visit.talk
        stage = talk.at
        if talk.mode == "asking" and stage not in stages:
            stages.add(stage)
            ways = list(holds_in(visit.bundle, talk.step(), other_side=stage.endswith("@right")))
            for way in ways:
                kind = visit.file.holds.get(way.name)
                assert kind is not None, f"{way.name} of {name} is in no row of the table"
                seen.add(way.name)
                if way is not ways[0]:
                    visit.stand_at(stage)
                visit.hold(way)
                if kind == "never":
                    visit.talk.say("override")
                    assert refused(visit.talk) == Refusal(RefusalCode.NEVER_LIFTED)
                    assert len(held_for(visit.talk)) == 1
                    continue
                who = {"grave": visit.file.grave, "stop": visit.file.stop, "red": visit.file.red}[kind]
                permitted = visit.try_all(who, "It stays flagged, and the visit goes on.")
                visit.lift(*permitted[visit.tried % len(permitted)], "red" if kind == "red" else "stop")
            if ways:
                visit.stand_at(stage)
        visit.talk.answer()
    assert seen == visit.file.holds.keys(), "a row of the table without a hold"


LIT = [name for name in FILES if name.endswith("fitting")]


@pytest.mark.parametrize("name", LIT)
def test_heat_and_pain_against_every_role_reason_and_code(name):
    visit = Visit(name)
    talk = visit.talk.go_to("expose_open")
    for word in ("hot", "pain"):
        talk.say("light_on")
        talk.say(word)
        permitted = visit.try_all(visit.file.heat, "Light may go on again.")
        visit.lift(*permitted[-1], "red")
    talk.light(6.1)
    talk.give(pain_score=Decimal(10))
    permitted = visit.try_all(visit.file.heat, "Light may go on again.")
    visit.lift(*permitted[0], "red")
    talk.go_to("motion").say("hot")
    permitted = visit.try_all(visit.file.heat, "The visit goes on.")
    visit.lift(*permitted[1], "red")
    assert talk.at == "motion", "heat overrides no step"


@pytest.mark.parametrize("name", [name for name in FILES if name != "thermometer-calibration"])
def test_an_overdue_check_of_the_light_against_every_role_reason_and_code(name):
    visit = Visit(name)
    # Nobody has said yet who the operator is.
    visit.file = visit.file._replace(operator=None)
    for last in (0, -1):
        visit.talk = Talk(visit.bundle, today="2028-01-03", baseline=visit.earlier)
        permitted = visit.try_all(visit.file.stop, "The visit goes on.")
        visit.lift(*permitted[last], "stop")
        assert visit.talk.mode == "asking"


@pytest.mark.parametrize("name", [name for name in FILES if name != "thermometer-calibration"])  # two numbers, always
def test_a_missing_value_against_every_role_reason_and_code(name):
    visit = Visit(name)
    talk = visit.talk
    stage = next(step for step in visit.bundle.procedure.steps if step.hard and step.timing in {"after", "during"})
    talk.go_to(f"{stage.id}@left" if stage.for_each else stage.id)
    (first, *others) = stage.fields
    missing = {first.id: Absent(AbsentReason.NOT_PERFORMED)}
    talk.give(**missing, **{field.id: talk.good(stage, field) for field in others})
    for _ in range(400):
        if talk.mode == "open_items" and not any(isinstance(one, OpenLateQuestion) for one in talk.session.open_items):
            break
        talk.answer()
    permitted = visit.try_all(visit.file.gaps, "Accept missing values.", "Accept missing values.")
    role, reason = permitted[-1]
    code = visit.ask_as_far_as_the_read_back(role, reason, "Accept missing values.")
    talk.affirm()
    (accepted,) = facts(talk, "gaps_accepted")
    assert (accepted.role, accepted.reason, accepted.code) == (role, reason, code)
    assert talk.outcome == "completed_with_overrides"


@pytest.mark.parametrize(("reference", "side"), [("OTHER01", Side.LEFT), ("DEMO0001", Side.RIGHT)])
def test_whether_an_earlier_record_is_meant_is_lifted_by_no_role(reference, side):
    visit = Visit("neurovascular-check")
    earlier = replace(visit.earlier, patient_reference=reference, side=side)
    talk = visit.talk = Talk(visit.bundle, baseline=earlier)
    while talk.mode != "held":
        talk.answer()
    talk.say("override")
    assert refused(talk) == Refusal(RefusalCode.NEVER_LIFTED)


@pytest.mark.parametrize("name", LIT)
def test_of_several_holds_each_override_lifts_one(name):
    visit = Visit(name)
    talk = visit.talk.go_to("circulation_before@left")
    talk.give(pulse="absent", refill=Decimal(1), color="blue", temperature="warm")
    talk.affirm()
    for left in (1, 0):
        visit.lift("therapist", "settled", "red")
        assert len(held_for(talk)) == left
    assert [fact.stage for fact in talk.facts("step_overridden")] == ["circulation_before@left"]


def test_every_bundled_procedure_stands_in_the_table():
    assert set(FILES) == set(bundled_procedures())
