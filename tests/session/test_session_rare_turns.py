"""Rare turns of a visit that once went wrong."""

from datetime import date
from decimal import Decimal

import pytest
from procedure_files import DEVICE, LIGHT, PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.model.commands import Control
from handsfree.model.open_items import OpenStep
from handsfree.model.readings import Absent, AbsentReason, Between
from handsfree.model.reasons import Grounds, Severity, WorseThanBefore
from handsfree.model.refusals import FitCode

# Expected behaviour: the laws of this project (DEVELOPERS.md) unless a source is named.


STOPS = "{with: nerve_before, rise: 1.0, class: stop}"


def other(tmp_path, **texts):
    return Talk(load_bundle(str(write_files(tmp_path, **texts))))


def test_a_corrected_baseline_is_compared_again_with_what_was_found_after(talk):
    # Findings are compared with the baseline: BOAST, compartment syndrome of the limbs, 2014.
    for step in ("nerve_before@left", "nerve_after@left"):
        talk.go_to(step)
        talk.give(touch="reduced", refill=Decimal(1))
        talk.affirm()
    while talk.at != "nerve_before@left":
        talk.say("previous_step")
    talk.say("correction")
    talk.give(touch="intact", refill=Decimal(1))
    talk.affirm()
    # Reduced beside intact is worse than before: classed anew, and held where the value stands.
    again = talk.facts("reading_classed_again")[-1]
    assert (again.stage, again.field, again.severity) == ("nerve_after@left", "touch", Severity.RED)
    assert again.grounds == Grounds(WorseThanBefore("touch"))
    assert [(fact.hold, fact.stage) for fact in talk.facts("hold_set")] == [("red", "nerve_after@left")]
    assert talk.mode == "held"
    assert "Touch is worse than before." in talk.said


def test_a_corrected_baseline_that_turns_a_later_value_into_a_stop_holds_the_visit(tmp_path):
    # A hard stop holds however it came about: law 6 and the classes of the form; no outside source.
    rule = "{with: nerve_before, worse: red}"
    assert rule in PROCEDURE
    talk = other(tmp_path, procedure=PROCEDURE.replace(rule, "{with: nerve_before, worse: stop}"))
    for step in ("nerve_before@left", "nerve_after@left"):
        talk.go_to(step)
        talk.give(touch="reduced", refill=Decimal(1))
        talk.affirm()
    assert talk.session.snapshot.hold is None
    while talk.at != "nerve_before@left":
        talk.say("previous_step")
    talk.say("correction")
    talk.give(touch="intact", refill=Decimal(1))
    talk.affirm()
    assert "Do not go on. Left side. Touch is worse than before." in talk.said
    assert talk.session.snapshot.hold == "touch is worse than before"
    assert OpenStep("nerve_after@left") in talk.session.open_items
    assert (talk.at, talk.mode) == ("nerve_after@left", "held")
    talk.say("correction")
    talk.give(touch="reduced", refill=Decimal(1))
    talk.affirm()
    assert talk.mode == "held"
    talk.override()
    assert talk.session.snapshot.hold is None


def test_a_stop_goes_where_the_baseline_is_corrected_back(tmp_path):
    talk = other(tmp_path, procedure=PROCEDURE.replace("{with: nerve_before, rise: 1.0, class: amber}", STOPS))
    for step, refill in (("nerve_before@left", 1), ("nerve_after@left", Decimal("1.5"))):
        talk.go_to(step)
        talk.give(touch="intact", refill=refill)
        talk.affirm()
    for refill, held in (("0.4", "refill rose by one point one"), ("0.3", "refill rose by one point two"), ("1", None)):
        while talk.at != "nerve_before@left":
            talk.say("previous_step")
        talk.say("correction")
        talk.give(touch="intact", refill=Decimal(refill))
        talk.affirm()
        assert talk.session.snapshot.hold == held
        if held is not None:
            assert (
                f"Do not go on. Left side. {held.capitalize()}. Say correction, override, or end the visit."
                in talk.said
            )
            assert talk.mode == "held"
    assert talk.mode == "asking"
    assert talk.at == "nerve_after@right"


def test_every_way_back_to_a_hold_says_it_and_override_is_heard_on_the_way(talk):
    talk.go_to("nerve_before@left")
    talk.give(touch="absent", refill=Decimal(1))
    talk.affirm()
    assert talk.mode == "held"
    action = talk.said
    talk.say("correction")
    assert Control.OVERRIDE in talk.session.wanted.controls
    talk.say("previous_step")
    talk.say("next_step")
    assert talk.mode == "held"
    assert talk.said == action
    talk.say("correction")
    talk.crash()
    assert talk.mode == "held"
    assert action in talk.said
    assert len(talk.facts("hold_set")) == 1


def test_an_overdue_light_is_not_answered_away(tmp_path):
    light = LIGHT.replace('output_checked_on: "2026-11-02"', 'output_checked_on: "2020-11-02"')
    assert light != LIGHT
    talk = other(tmp_path, light=light)
    assert talk.mode == "held"
    talk.say("correction")
    talk.give(kind="practice")
    talk.affirm()
    assert talk.mode == "held"
    assert talk.session.snapshot.hold == "the light's output check is overdue"
    talk.override()
    assert talk.session.snapshot.hold is None
    # Who overrides it before anything was answered has not answered the first question.
    other_visit = other(tmp_path, light=light)
    other_visit.override()
    assert (other_visit.at, other_visit.mode) == ("session_kind", "asking")
    assert "kind" in {slot.slot for slot in other_visit.session.wanted.slots}


def test_every_reason_of_a_hold_is_said(bundle):
    # Nobody answers for what was not said: law 6; no outside source.
    talk = Talk(bundle, recalled={"A15B": "leaks"}).go_to("pack")
    talk.give(lot="#A15B", expiry=date(2020, 1, 31))
    talk.affirm()
    assert "is on the recall list: leaks; expiry lies before today. Say correction, or end the visit." in talk.said
    assert talk.session.snapshot.hold.count(";") == 1


def test_a_zone_with_its_seconds_that_was_called_hot_needs_no_more_light(talk):
    # Skin is hurt by heat and time: Health Physics 2021;121:234.
    talk.go_to("cure_open")
    talk.light(6.1)
    talk.give(warmth="cool")
    talk.light(5.1)
    talk.say("hot")
    talk.override()
    assert talk.at == "cure_strap"


@pytest.mark.parametrize("second", [Between(Decimal(14), Decimal(20)), Absent(AbsentReason.NOT_PERFORMED)])
def test_one_circumference_gives_no_size(talk, second):
    # Two measurements: common practice, no source.
    talk.go_to("band")
    talk.give(first=Decimal("13.0"), second=second)
    assert [(fact.field, fact.reason.code) for fact in talk.facts("reading_refused")] == [
        ("second", FitCode.ONE_NUMBER)
    ]
    assert (talk.at, talk.mode, talk.said) == ("band", "asking", "Second needs one number.")
    assert talk.facts("size_chosen") == []
    assert "band" not in {fact.step for fact in talk.facts("reading_confirmed")}
    talk.say("next_step")
    assert (talk.at, talk.kinds) == ("band", ["command_refused"])
    # The first one stands; the second one is what was missing.
    talk.give(second=Decimal("13.2"))
    talk.affirm()
    assert [(fact.size, fact.mean) for fact in talk.facts("size_chosen")] == [("small", Decimal("13.1"))]


def test_the_late_question_keeps_to_the_times_of_the_file(tmp_path):
    talk = other(tmp_path, procedure=PROCEDURE.replace("[60, 120]", "[30, 90]"))
    talk.go_to("nerve_after@left")
    talk.wait(40)
    assert talk.mode == "late_heat"


def test_the_question_about_warmth_in_the_light_can_be_answered(tmp_path):
    talk = other(tmp_path, device=DEVICE.replace("target_s: 6", "target_s: 30"))
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.wait(12)
    assert [slot.slot for slot in talk.session.wanted.slots] == ["warmth"]


def test_light_on_for_the_next_zone_is_listened_for_while_lit(talk):
    # The ledger closes a run whose "light off" was not heard when the light goes on again; it must be told.
    talk.go_to("cure_open")
    talk.say("light_on")
    assert "light_on" in talk.session.wanted.controls


def test_a_note_taken_in_a_stop_does_not_end_the_stop(talk):
    talk.go_to("ring")
    talk.say("stop")
    talk.say("take_note")
    talk.say("end_note")
    assert talk.mode == "paused"


def test_a_stop_outlasts_a_crash(talk):
    talk.go_to("ring")
    talk.say("stop")
    talk.crash()
    assert talk.mode == "paused"


def test_a_read_back_that_a_note_and_a_stop_broke_off_can_be_answered(talk):
    talk.go_to("angle")
    talk.give(wrist=18)
    talk.say("take_note")
    talk.say("stop")
    talk.say("resume")
    assert talk.mode == "reading_back" or talk.session.wanted.slots


@pytest.mark.parametrize("where", ["warmth", "late_heat"])
def test_resume_asks_the_open_question_and_not_to_resume(talk, where):
    if where == "warmth":
        talk.go_to("cure_open").light(6.1)
    else:
        talk.go_to("nerve_after@left").wait(70)
    assert talk.mode == where
    talk.say("wait")
    talk.say("resume")
    assert "cool" in talk.said.lower()


def test_a_lost_microphone_is_said_in_the_dark_as_well(talk):
    # Nobody can be heard from here on, so the people must know.
    talk.go_to("ring")
    talk.lose()
    assert talk.said


def test_a_stop_that_a_new_answer_ends_is_on_record(talk):
    talk.go_to("ring")
    talk.give(ring="stuck")
    talk.say("correction")
    talk.give(ring="absent")
    talk.affirm()
    assert talk.facts("hold_lifted")


def test_a_finding_that_holds_the_procedure_is_said_before_anything_else(talk):
    talk.go_to("ring")
    talk.give(ring="stuck")
    assert "Is a ring absent or stuck?" not in talk.said


def test_a_recalled_lot_is_a_hard_stop_with_its_reason(bundle):
    # A lot on a local recall list stops the visit: common practice, no source.
    talk = Talk(bundle, recalled={"A15B": "leaks"})
    talk.go_to("pack")
    talk.give(lot="#A15B", expiry=date(2027, 12, 31))
    talk.affirm()
    assert "on the recall list: leaks" in talk.said
    assert talk.mode == "held"
    talk.say("next_step")
    assert talk.at == "pack"


def test_after_a_crash_the_session_says_what_it_knows(talk):
    talk.go_to("nerve_before@left")
    talk.give(touch="intact", refill=Decimal("1.5"))
    talk.affirm()
    talk.crash(gap_s=200)
    assert "a break of three minutes" in talk.said
    assert "Left side. Size small." in talk.said
    assert "Recorded last: Left: touch intact; refill one point five" in talk.said


def test_after_a_crash_in_the_light_it_says_how_long_it_was_lit_and_asks_whether_it_is_off(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.wait(4)
    talk.crash()
    assert "was lit. Counted up to the last sign of life" in talk.said
    assert "front part" in talk.said
    assert "of 6 seconds" in talk.said
    assert "Light off? Check position and warmth again" in talk.said
    assert talk.mode == "reconfirm"


def test_a_correction_of_what_was_answered_last_needs_no_gate_on_its_way(talk):
    # While an earlier answer is taken back, and owed again, the last one may be said anew all the same.
    talk.go_to("nerve_after@left")
    talk.give(touch="intact", refill=Decimal(1))
    talk.affirm()
    while talk.at != "nerve_before@left":
        talk.say("previous_step")
        assert talk.kinds == ["step_reviewed"]
    talk.say("correction")
    talk.say("correction")
    assert (talk.at, talk.kinds) == ("nerve_after@left", ["correction_opened"])
    talk.give(touch="intact", refill=Decimal("1.1"))
    talk.affirm()
    assert (talk.at, talk.mode) == ("nerve_before@left", "asking")
    assert OpenStep("nerve_before@left") in talk.session.open_items


def test_when_one_of_two_holds_is_lifted_the_visit_stands_where_the_other_one_was_set(tmp_path):
    talk = other(tmp_path, procedure=PROCEDURE.replace("worse: red}", "worse: stop}"))
    for step in ("nerve_before@left", "nerve_after@left"):
        talk.go_to(step)
        talk.give(touch="reduced", refill=Decimal(1))
        talk.affirm()
    while talk.at != "nerve_before@left":
        talk.say("previous_step")
        assert talk.kinds == ["step_reviewed"]
    talk.say("correction")
    talk.say("hot")
    talk.say("correction")
    talk.give(touch="intact", refill=Decimal(1))
    talk.affirm()
    assert [(fact.hold, fact.stage) for fact in talk.facts("hold_set")] == [
        ("red", "nerve_before@left"),
        ("stop", "nerve_after@left"),
    ]
    assert (talk.at, talk.mode) == ("nerve_before@left", "held")
    talk.override()
    assert (talk.at, talk.mode) == ("nerve_after@left", "held")
    assert talk.said.startswith("Do not go on. Left side. Touch is worse than before.")
    # So that "correction" opens the value that holds the visit, and no other.
    talk.say("correction")
    assert talk.facts("correction_opened")[-1].stage == "nerve_after@left"
