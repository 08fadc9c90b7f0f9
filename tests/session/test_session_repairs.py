"""What people do when a word went wrong: say it again, look back, go elsewhere, take it back. Common practice."""

from decimal import Decimal

import pytest
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.model.commands import OwnWords
from handsfree.model.readings import Exact, Option
from handsfree.session.named_steps import PLACE_SLOT
from handsfree.understanding.interpreter import interpret, typed


def taken(talk, line):
    """Say a line in the words of now."""
    wanted = talk.session.wanted
    hypothesis = typed(line, wanted, talk.now_s)
    assert hypothesis is not None, line
    return talk.speak(interpret(hypothesis, wanted), words=line)


def test_a_whole_sentence_said_again_replaces_its_parts(talk):
    talk.go_to("band")
    talk.give(first=Decimal("16.5"))
    taken(talk, "first one six point six second one six point seven")
    assert talk.kinds == ["values_dropped", "reading_proposed", "reading_proposed"]
    assert dict(talk.session.snapshot.read_back) == {"band.first": "16.6", "band.second": "16.7"}


def test_a_part_said_anew_at_its_read_back_is_read_back_again_with_the_rest(talk):
    talk.go_to("band")
    talk.give(first=Decimal("16.5"), second=Decimal("16.6"))
    taken(talk, "correction second one six point seven")
    assert talk.mode == "reading_back"
    assert "sixteen point seven" in talk.said
    talk.affirm()
    values = {fact.field: fact.value for fact in talk.facts("reading_confirmed") if fact.step == "band"}
    assert values["second"] == Exact(Decimal("16.7"), 1)


def test_an_unclear_value_said_anew_leaves_none_standing(talk):
    talk.go_to("band")
    talk.give(first=Decimal("16.5"), second=Decimal("16.6"))
    taken(talk, "second about sixteen")
    assert talk.kinds == ["values_dropped", "reading_refused"]
    assert talk.mode == "asking"
    talk.say("affirm")
    assert not [fact for fact in talk.facts("reading_confirmed") if fact.step == "band"]


def test_half_an_answer_is_kept_while_looking_back(talk):
    talk.go_to("band")
    talk.give(first=Decimal("16.5"))
    talk.say("previous_step")
    assert talk.at == "ring"
    talk.say("next_step")
    assert talk.at == "band"
    assert talk.said == "Still missing: second."
    talk.give(second=Decimal("16.6"))
    assert dict(talk.session.snapshot.read_back) == {"band.first": "16.5", "band.second": "16.6"}


def test_a_step_is_gone_to_by_its_name_and_left_again(talk):
    talk.go_to("pack")
    taken(talk, "go to ring")
    assert talk.at == "ring"
    assert "Earlier step" in talk.said
    talk.say("next_step")
    assert talk.at == "pack"


def test_a_step_ahead_in_its_phase_is_answered_first_and_the_rest_after(talk):
    talk.go_to("ring")
    taken(talk, "go to pack")
    assert (talk.at, talk.mode) == ("pack", "asking")
    taken(talk, "lot alfa four, expiry may twenty thirty")
    talk.affirm()
    assert talk.at == "ring"


@pytest.mark.parametrize("step", ["cure_open", "nerve_after", "angle", "eyewear_off"])
def test_no_gate_is_jumped_by_name(talk, step):
    talk.go_to("ring")
    names = {option.value for option in talk.session.wanted.places.options}
    assert step not in names
    talk.give(**{PLACE_SLOT: Option(step)})
    assert talk.kinds == ["command_refused"]
    assert talk.at == "ring"


def test_cancel_takes_back_a_correction_that_was_begun(talk):
    talk.go_to("pack")
    talk.say("correction")
    assert talk.at == "band"
    assert OwnWords.CANCEL_TAKES_BACK in talk.session.wanted.own_words
    taken(talk, "cancel")
    assert "correction_dropped" in talk.kinds
    assert talk.at == "pack"


def test_cancel_drops_an_override_that_was_begun(talk):
    talk.go_to("ring")
    talk.give(ring="stuck")
    talk.say("override")
    taken(talk, "never mind")
    assert talk.kinds == ["override_dropped"]
    assert talk.mode == "held"


def test_an_answer_while_stopped_is_answered_with_the_reason(talk):
    talk.go_to("band")
    talk.say("stop")
    taken(talk, "first one six point five")
    assert talk.kinds == ["command_refused"]
    assert talk.said.startswith("We are stopped")
    assert talk.mode == "paused"
    talk.say("resume")
    assert talk.session.snapshot.read_back == {}
    assert not talk.facts("reading_proposed")[-1:] or talk.facts("reading_proposed")[-1].step != "band"


def test_an_answer_at_a_hold_is_answered_with_the_ways_on(talk):
    talk.go_to("ring")
    talk.give(ring="stuck")
    taken(talk, "ring absent")
    assert talk.kinds == ["command_refused"]
    assert talk.said == "We are held, so that does not count. Say correction, override, or end the visit."
    assert talk.mode == "held"


def test_after_two_misses_every_field_of_the_question_is_said(talk):
    talk.go_to("nerve_before@right")
    talk.reject()
    assert talk.said == "" or "Say" not in talk.said
    talk.reject()
    for word in ("touch", "refill", "intact", "digits"):
        assert word in talk.said
    talk.say("help")
    assert "refill" in talk.said


@pytest.mark.parametrize(
    ("step", "said"),
    [("side_verification", None), ("contraindications_wound", "or all three absent"), ("resin", "or both absent")],
)
def test_one_answer_for_all_is_an_example_but_never_for_sides(step, said):
    talk = Talk(load_bundle("ulnar-splint-fitting")).go_to(step)
    talk.say("help")
    assert said in talk.said if said else "or all" not in talk.said
    assert "absent" in talk.said if said else "left or right" in talk.said
