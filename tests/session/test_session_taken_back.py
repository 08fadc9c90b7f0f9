"""A correction that was said by mistake is taken back: "next step", as after any look at an earlier step.

What stood before stands again, both steps are on record, and nobody has to say a value anew. Common practice, no
source.
"""

from decimal import Decimal

from controls_table import to_the_end
from lifting_files import REFILL, absent
from talking import Talk

KEPT = {"touch": "intact", **REFILL}


def opened(talk):
    """A confirmed step, opened by "correction" that nobody meant."""
    talk.go_to("nerve_before@left").give(**KEPT)
    talk.affirm()
    assert talk.at == "nerve_before@right"
    talk.say("correction")
    assert (talk.at, talk.mode) == ("nerve_before@left", "asking")
    return talk


def test_a_correction_by_mistake_is_taken_back_with_both_steps_on_record(talk):
    opened(talk)
    assert talk.said.endswith("Or say next step, and nothing changes.")
    confirmed = talk.facts("reading_confirmed")
    talk.say("next_step")
    assert talk.kinds[0] == "correction_dropped"
    assert talk.facts("correction_dropped")[0].stage == talk.facts("correction_opened")[0].stage == "nerve_before@left"
    assert talk.said.startswith("Nothing changed. Left side. ") or talk.said.startswith("Nothing changed. ")
    assert "intact" in talk.said
    assert talk.at == "nerve_before@right"
    assert talk.facts("reading_confirmed") == confirmed
    assert talk.facts("reading_amended") == []
    assert talk.finish().outcome == "completed"


def test_what_was_said_meanwhile_is_dropped_on_record(talk):
    opened(talk).give(touch="reduced")
    talk.say("next_step")
    assert talk.kinds[:2] == ["values_dropped", "correction_dropped"]
    assert talk.at == "nerve_before@right"
    assert talk.facts("hold_set") == []


def test_a_read_back_in_between_is_denied_first(talk):
    opened(talk).give(touch="absent", refill=Decimal(3))
    talk.say("negate")
    talk.say("next_step")
    assert talk.facts("correction_dropped")
    assert talk.at == "nerve_before@right"


def test_a_value_that_was_given_anew_is_not_taken_back_so(talk):
    opened(talk).give(touch="reduced", **REFILL)
    talk.affirm()
    assert talk.at == "nerve_before@right"
    talk.say("next_step")
    assert talk.facts("correction_dropped") == []
    assert talk.kinds == ["command_refused"]


def test_at_a_hold_it_leads_back_to_the_hold(talk):
    absent(talk)
    talk.say("correction")
    talk.say("next_step")
    assert talk.facts("correction_dropped")
    assert talk.mode == "held"
    assert "Touch absent" in talk.said
    assert talk.facts("hold_lifted") == []


def test_two_open_corrections_are_taken_back_one_after_the_other(talk):
    opened(talk)
    talk.say("previous_step")
    before = talk.at
    talk.say("correction")
    assert talk.at == before
    talk.say("next_step")
    assert (talk.at, talk.mode) == ("nerve_before@left", "asking")
    talk.say("next_step")
    assert [fact.stage for fact in talk.facts("correction_dropped")] == [before, "nerve_before@left"]
    assert talk.at == "nerve_before@right"


def test_a_break_leaves_it_open_to_be_taken_back(talk):
    opened(talk).crash()
    assert talk.at == "nerve_before@left"
    talk.say("next_step")
    assert talk.at == "nerve_before@right"


def test_a_step_done_by_hand_is_as_done_as_before(talk):
    talk.go_to("angle").say("correction")
    corrected = talk.at
    assert corrected != "angle"
    talk.say("next_step")
    assert talk.at == "angle"
    assert talk.facts("correction_dropped")[0].stage == corrected


def test_while_only_the_late_question_is_left_the_last_answer_can_be_corrected(talk):
    to_the_end(talk)
    assert talk.said.startswith("One question is left, about heat,")
    talk.say("correction")
    assert (talk.kinds, talk.at, talk.mode) == (["correction_opened"], "advice", "asking")
    talk.say("next_step")
    assert talk.mode == "open_items"
    assert talk.said.startswith("Nothing changed.")
    assert "One question is left" in talk.said


def test_those_who_know_the_procedure_are_told_the_way_back_too(bundle):
    talk = Talk(bundle, expert=True).go_to("angle")
    talk.say("correction")
    assert talk.said.startswith("Correcting. ")
    assert talk.said.endswith(" Or next step.")
    talk.say("next_step")
    assert talk.at == "angle"
