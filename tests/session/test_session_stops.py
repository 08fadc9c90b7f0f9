"""Hard stops, holds, overrides, and what is compared with the baseline or the other side.

Expected behaviour: the read-back rules of NPSG.02.01.01 (write down, read back, confirm), "number, then digits" of the
Pennsylvania patient-safety advisory of June 2006; hard stops and stop words from the hazard list of this project
(common practice, no source, unless named at the check).
"""

from decimal import Decimal

import pytest
from procedure_files import PROCEDURE, write_files
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.model.reasons import Grounds, Severity, SidesDiffer


def test_a_hard_stop_holds_until_role_and_reason_are_read_back(talk):
    talk.go_to("ring")
    talk.give(ring="stuck")
    assert talk.mode == "held"
    talk.say("next_step")
    assert talk.kinds == ["command_refused"]
    talk.say("override")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    assert dict(talk.session.snapshot.read_back) == {"override.role": "nurse", "override.reason": "reviewed"}
    assert not talk.facts("hold_lifted")
    talk.affirm()
    lifted = talk.facts("hold_lifted")[-1]
    assert (lifted.role, lifted.reason) == ("nurse", "reviewed")
    assert talk.at == "band"


@pytest.mark.parametrize("answers", [[], [{"role": "nurse"}], [{"role": "nurse"}, {"reason": "reviewed"}]])
def test_an_override_that_is_broken_off_lifts_nothing(talk, answers):
    talk.go_to("ring")
    talk.give(ring="stuck")
    talk.say("override")
    for answer in answers:
        talk.give(**answer)
    talk.say("negate")
    assert talk.mode == "held"
    assert not talk.facts("hold_lifted")


def test_an_unknown_role_is_refused(talk):
    talk.go_to("ring")
    talk.give(ring="stuck")
    talk.say("override")
    talk.give(role="passer_by")
    assert "not on the list" in talk.said
    assert talk.mode == "override_role"


def test_nothing_to_override_is_said(talk):
    talk.go_to("ring")
    talk.say("override")
    assert talk.kinds == ["command_refused"]


def worse(talk):
    talk.go_to("nerve_after@left")
    talk.give(touch="reduced", refill=Decimal(1))
    talk.affirm()


def test_a_step_down_from_the_baseline_sets_the_red_hold(talk):
    # BOAST, compartment syndrome of the limbs, 2014: findings are compared; the class is common practice, no source.
    worse(talk)
    assert talk.mode == "held"
    assert "Take the sleeve off." in talk.said
    assert talk.facts("hold_set")[-1].hold == "red"


def test_a_later_better_value_does_not_lift_the_red_hold(talk):
    worse(talk)
    talk.say("correction")
    talk.give(touch="intact", refill=Decimal(1))
    talk.affirm()
    assert talk.said == "Touch was reduced, now intact. Was reduced misheard?"
    talk.say("negate")
    assert talk.mode == "held"
    assert talk.said.startswith("Touch was reduced, now intact. Still held. Take the sleeve off.")
    assert talk.facts("hold_kept")
    assert not talk.facts("hold_lifted")
    talk.override()
    assert talk.facts("hold_lifted")[-1].hold == "red"
    assert talk.at == "nerve_after@right"


def test_each_hand_is_compared_with_itself(talk):
    talk.go_to("nerve_before@left")
    talk.give(touch="reduced", refill=Decimal(1))
    talk.affirm()
    talk.go_to("nerve_after@left")
    talk.give(touch="reduced", refill=Decimal(1))
    talk.affirm()
    assert talk.mode == "asking"
    talk.give(touch="reduced", refill=Decimal(1))
    talk.affirm()
    assert talk.mode == "held"


def test_refill_one_second_longer_is_flagged_and_goes_on(talk):
    # One second: common practice, no source.
    talk.go_to("nerve_before@left")
    talk.give(touch="intact", refill=Decimal("0.8"))
    talk.affirm()
    talk.go_to("nerve_after@left")
    talk.give(touch="intact", refill=Decimal("1.8"))
    talk.affirm()
    assert "Flagged: refill rose by one." in talk.said
    assert talk.at == "nerve_after@right"


@pytest.fixture
def sided(tmp_path):
    """The sides are compared after, with the numbers that are common practice, no source."""
    compared = "compare: {with: nerve_before, rise: 1.0, class: amber}"
    assert compared in PROCEDURE
    procedure = PROCEDURE.replace(compared, "sides: {differ: 1.0, class: amber}")
    talk = Talk(load_bundle(str(write_files(tmp_path, procedure=procedure))))
    talk.go_to("nerve_after@left")
    return talk


def test_sides_that_differ_are_flagged_with_the_answer_of_the_other_side(sided):
    sided.give(touch="intact", refill=Decimal("1.9"))
    sided.affirm()
    assert "Flagged" not in sided.said
    sided.give(touch="intact", refill=Decimal("0.9"))
    sided.affirm()
    assert "Flagged: refill differs by one between the sides." in sided.said
    assert sided.facts("reading_confirmed")[-1].severity is Severity.AMBER


def test_a_corrected_injured_side_is_held_against_the_other_one_again(sided):
    sided.give(touch="intact", refill=Decimal(1))
    sided.affirm()
    sided.give(touch="intact", refill=Decimal(1))
    sided.affirm()
    sided.say("previous_step")
    sided.say("previous_step")
    assert sided.at == "nerve_after@left"
    sided.say("correction")
    sided.give(touch="intact", refill=Decimal(2))
    sided.affirm()
    assert "Flagged: refill differs by one between the sides." in sided.said
    again = sided.facts("reading_classed_again")[-1]
    assert (again.stage, again.field, again.severity) == ("nerve_after@right", "refill", Severity.AMBER)
    assert again.grounds == Grounds(SidesDiffer("refill", Decimal(1)))


def test_heat_while_an_earlier_step_is_looked_at_holds_where_the_visit_stands(talk):
    # The earlier step is answered: the skin has nothing to do with it, and lifting the hold overrides no step.
    talk.go_to("nerve_after@left")
    talk.say("previous_step")
    talk.say("previous_step")
    talk.say("previous_step")
    assert talk.at == "angle"
    talk.say("hot")
    assert talk.mode == "held"
    assert talk.facts("hold_set")[-1].stage == "nerve_after@left"
    talk.override()
    assert talk.facts("hold_lifted")[-1].hold == "red"
    assert talk.facts("step_overridden") == []
    assert talk.at == "nerve_after@left"


def test_heat_while_more_light_is_given_holds_at_the_light(talk):
    talk.go_to("nerve_after@left")
    talk.say("previous_step")
    talk.say("previous_step")
    assert talk.at == "cure_open"
    talk.light(2)
    assert talk.mode == "warmth"
    talk.say("hot")
    assert talk.facts("hold_set")[-1].stage == "cure_open"


def test_an_overridden_step_is_named_with_its_real_side(talk):
    worse(talk)
    talk.override()
    assert [fact.stage for fact in talk.facts("step_overridden")] == ["nerve_after@left"]


def test_an_override_names_every_reason_that_goes_with_it(talk):
    worse(talk)
    talk.say("override")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    assert talk.said == (
        "Override: touch is worse than before. It stays flagged, and the visit goes on. "
        "Ward nurse; reviewed by the senior. Correct?"
    )


def test_help_in_a_hold_names_correction_where_there_is_something_to_correct(talk):
    worse(talk)
    talk.say("help")
    assert talk.said == "Say correction, override, or end the visit."


def test_help_in_a_hold_at_a_light_names_no_correction(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.say("hot")
    talk.say("help")
    assert talk.said == "Say override, leave this zone, or end the visit."


def test_a_wait_is_no_stop(talk):
    talk.go_to("ring")
    talk.say("wait")
    talk.say("take_note")
    talk.say("end_note")
    assert talk.said == "Waiting. Say resume."
    talk.say("stop")
    talk.say("take_note")
    talk.say("end_note")
    assert talk.said == "Still stopped. Say resume, or end the visit."


def test_what_is_to_be_done_at_a_hold_is_said_before_what_is_only_flagged(talk):
    talk.go_to("nerve_before@left")
    talk.give(touch="intact", refill=Decimal("0.8"))
    talk.affirm()
    talk.go_to("nerve_after@left")
    talk.give(touch="reduced", refill=Decimal("1.8"))
    talk.affirm()
    assert talk.mode == "held"
    assert talk.said.index("end the visit") < talk.said.index("Flagged: refill rose by one.")
    talk.say("say_again")
    assert "end the visit" in talk.said
