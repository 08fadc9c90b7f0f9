"""A patient's own words of heat or pain count wherever light is or may be on, and where it is asked about heat.

Expected behaviour: hazards of this project (common practice, no source). Heat may peak after the light: J Bone Joint
Surg Am 2007;89:2369. A false stop costs seconds.
"""

import pytest
from talking import LATE_S

from handsfree.model.commands import Control
from handsfree.model.effects import Earcon, Priority, Say
from handsfree.model.reasons import Grounds, HeatWordSaid
from handsfree.session.deadlines import CRY_WAIT_S

QUESTION = "Light off? Was it hot or painful?"
WARMTH = "Ask the patient. Cool, warm, hot or painful?"


def in_stray_light(talk):
    talk.go_to("eyewear").say("light_on")


def in_doubt_about_light(talk):
    talk.go_to("cure_open").say("light_on", doubted=True)


def asked_about_warmth(talk):
    talk.go_to("cure_open").light(6.1)


def asked_late(talk):
    talk.go_to("nerve_after@left").wait(70)


def asked_after_a_stop(talk):
    talk.go_to("cure_open").say("light_on")
    talk.wait(2)
    talk.say("stop")


def asked_after_a_cry(talk):
    talk.go_to("cure_open").say("light_on")
    talk.say("cry")


PLACES = {
    # where: (way, mode there, zone of the cry)
    "stray light": (in_stray_light, "stray", ""),
    "light on, in doubt": (in_doubt_about_light, "doubting", ""),
    "warmth": (asked_about_warmth, "warmth", "front"),
    "late heat": (asked_late, "late_heat", ""),
    "warmth after a stop": (asked_after_a_stop, "paused", "front"),
    "after a cry": (asked_after_a_cry, "cried", "front"),
}


@pytest.fixture(params=PLACES)
def place(request, talk):
    """A visit where words of heat count, and what `PLACES` says of it."""
    way, mode, zone = PLACES[request.param]
    way(talk)
    assert talk.mode == mode
    return talk, mode, zone


def test_what_may_be_a_cry_is_listened_for_and_asked_about(place):
    talk, _, zone = place
    assert Control.CRY in talk.session.wanted.controls
    talk.say("cry", doubted=True)
    assert (talk.mode, talk.said) == ("cried", QUESTION)
    assert max(effect.priority for effect in talk.effects if isinstance(effect, Say)) is Priority.STOP
    assert talk.facts("cry_heard")[-1].zone == zone
    assert not talk.session.snapshot.is_lit


def test_affirmed_it_is_the_red_hold(place):
    talk, _, zone = place
    talk.say("cry", doubted=True)
    talk.affirm()
    assert talk.mode == "held"
    assert [fact.grounds for fact in talk.facts("hold_set")] == [Grounds(HeatWordSaid("cry"))]
    assert talk.session._state.holds[-1].zone == ("front part" if zone else "")
    talk.say("light_on")
    assert not talk.session.snapshot.is_lit


def test_unanswered_it_is_a_stop(place):
    talk, _, zone = place
    talk.say("cry", doubted=True)
    talk.wait(CRY_WAIT_S + 0.1)
    assert talk.facts("cry_settled")[-1].heat is None
    assert talk.mode == "paused"
    assert talk.said.startswith("Stopped. Light off, lift it away.")
    assert (WARMTH in talk.said) == (zone == "front")


@pytest.mark.parametrize(
    ("where", "mode", "said"),
    [
        ("stray light", "asking", "Is eyewear on for everyone?"),
        ("light on, in doubt", "asking", "When ready, say light on. Zone: front part."),
        ("warmth", "warmth", WARMTH),
        ("late heat", "late_heat", f"Heat can come late. {WARMTH}"),
        ("warmth after a stop", "paused", "Still stopped. Say resume, or end the visit."),
    ],
)
def test_denied_it_is_asked_again_what_was_asked_before(talk, where, mode, said):
    PLACES[where][0](talk)
    answered = len(talk.facts("warmth_answered"))
    talk.say("cry", doubted=True)
    talk.say("negate")
    assert talk.facts("cry_settled")[-1].heat is False
    assert talk.mode == mode
    assert talk.said.endswith(said)
    assert len(talk.facts("warmth_answered")) == answered, "nothing is taken for an answer"


def test_in_stray_light_it_ends_the_light_as_a_stop_word_does(talk):
    in_stray_light(talk)
    talk.wait(2)
    talk.say("cry", doubted=True)
    assert talk.kinds == ["stray_light_ended", "cry_heard"]
    assert talk.facts("stray_light_ended")[-1].seconds == pytest.approx(2 + LATE_S)


def test_in_light_that_is_doubted_it_leaves_nothing_to_affirm(talk):
    in_doubt_about_light(talk)
    talk.say("cry", doubted=True)
    assert talk.kinds == ["stray_light_began", "stray_light_ended", "cry_heard"]
    talk.affirm()
    assert talk.kinds == ["cry_settled", "hold_set"]


def test_in_any_other_doubt_it_is_none(talk):
    talk.go_to("ring").give(doubted=True, ring="stuck")
    assert Control.CRY not in talk.session.wanted.controls


def test_another_cry_asks_anew_and_gives_time_to_answer(talk):
    asked_after_a_cry(talk)
    talk.wait(CRY_WAIT_S - 2)
    talk.say("cry", doubted=True)
    assert (talk.kinds, talk.said) == (["cry_heard"], QUESTION)
    talk.wait(CRY_WAIT_S - 0.1)
    assert talk.mode == "cried"
    talk.wait(0.2)
    assert talk.mode == "paused"


def test_a_cry_breaks_off_a_dialogue_under_light_outside_a_zone(talk):
    talk.go_to("ring").give(ring="stuck")
    talk.say("override")
    talk.say("light_on")
    talk.say("cry", doubted=True)
    talk.say("affirm")
    assert talk.mode == "held"
    assert talk.session._state.override is None


def test_a_note_that_a_cry_breaks_off_is_kept(talk):
    talk.go_to("ring").say("take_note")
    talk.dictate("the strap is loose")
    talk.say("light_on")
    talk.say("cry", doubted=True)
    talk.say("affirm")
    assert [(fact.text, fact.broken_off) for fact in talk.facts("note_taken")] == [("the strap is loose", True)]
    assert Earcon.ATTENTION in talk.earcons


@pytest.mark.parametrize("word", ["stop", "hot", "pain"])
def test_a_note_under_light_outside_a_zone_that_a_stop_word_breaks_off_is_kept(talk, word):
    talk.go_to("ring").say("take_note")
    talk.dictate("the strap is loose")
    talk.say("light_on")
    talk.say(word)
    assert [(fact.text, fact.broken_off) for fact in talk.facts("note_taken")] == [("the strap is loose", True)]
