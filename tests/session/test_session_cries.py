"""A cry of heat or pain while lit: the light ends where the words began, then it is asked.

Expected behaviour: hazards of this project (common practice, no source). Pain threshold of skin: Health Physics
2021;121:234. A false stop costs seconds.
"""

import pytest
from talking import LATE_S, WORD_S, lit_s

from handsfree.model.commands import Control
from handsfree.model.effects import Priority, Say
from handsfree.model.light import RunEnd
from handsfree.model.reasons import Grounds, HeatWordSaid
from handsfree.session.deadlines import CRY_WAIT_S


@pytest.fixture
def cried(talk):
    """A visit in which something that may be a cry was said two seconds into the light."""
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.wait(2)
    talk.say("cry", doubted=True)
    return talk


def test_what_may_be_a_cry_ends_the_light_and_asks(cried):
    assert not cried.session.snapshot.is_lit
    assert cried.mode == "cried"
    assert cried.said == "Light off? Was it hot or painful?"
    assert max(effect.priority for effect in cried.effects if isinstance(effect, Say)) is Priority.STOP
    assert cried.kinds == ["light_turned_off", "zone_totalled", "cry_heard"]
    run = cried.facts("light_turned_off")[-1]
    assert run.end is RunEnd.CRIED
    # Credited up to where the words began, possible up to where they ended.
    assert lit_s(cried, "front") == pytest.approx(2 + LATE_S)
    assert run.possible_to_s - run.counted_to_s == pytest.approx(WORD_S)


def test_a_cry_that_is_heard_clearly_is_asked_about_as_well(talk):
    talk.go_to("cure_open")
    talk.say("light_on")
    talk.say("cry")
    assert (talk.mode, talk.session.snapshot.is_lit) == ("cried", False)


def test_affirmed_it_is_the_red_hold(cried):
    cried.affirm()
    assert cried.facts("cry_settled")[-1].heat is True
    hold = cried.facts("hold_set")[-1]
    assert (hold.hold, hold.grounds) == ("red", Grounds(HeatWordSaid("cry")))
    assert cried.mode == "held"
    assert cried.session.snapshot.hold == "hot or painful, when asked"
    cried.say("light_on")
    assert not cried.session.snapshot.is_lit


def test_denied_the_work_goes_on_with_what_the_zone_has_had(cried):
    cried.say("negate")
    assert cried.facts("cry_settled")[-1].heat is False
    assert "Again: Zone: front part. Say light on." in cried.said
    cried.light(3.5)
    assert lit_s(cried, "front") == pytest.approx(2 + LATE_S + 3.5)


@pytest.mark.parametrize("word", ["hot", "pain"])
def test_a_word_of_heat_answers_the_question(cried, word):
    cried.say(word)
    assert cried.mode == "held"
    assert cried.facts("hold_set")[-1].grounds == Grounds(HeatWordSaid(word))


def test_a_doubt_that_nobody_answers_becomes_a_stop(cried):
    assert cried.session.next_deadline_s == pytest.approx(cried.now_s + CRY_WAIT_S)
    cried.wait(CRY_WAIT_S - 0.1)
    assert cried.mode == "cried"
    cried.wait(0.2)
    assert cried.mode == "paused"
    assert cried.facts("cry_settled")[-1].heat is None
    asked = "Ask the patient. Cool, warm, hot or painful?"
    assert cried.said == f"Stopped. Light off, lift it away. {asked} Say resume, or end the visit."
    cried.say("light_on")
    assert not cried.session.snapshot.is_lit


def test_light_off_after_a_cry_counts_for_heat_alone(cried):
    credited_s = lit_s(cried, "front")
    cried.wait(2)
    cried.say("light_off")
    assert cried.kinds == ["light_off_confirmed", "zone_totalled"]
    assert cried.said == "Light off? Was it hot or painful?"
    total = cried.facts("zone_totalled")[-1]
    assert total.lit_s == pytest.approx(credited_s, abs=1e-3)
    # From the word "light on" to the word "light off", with what both took to be understood.
    assert total.possible_s == pytest.approx(2 + LATE_S + WORD_S + LATE_S + 2, abs=1e-3)


def test_outside_the_light_nothing_is_taken_for_a_cry(talk):
    talk.go_to("cure_open")
    assert Control.CRY not in talk.session.wanted.controls
    talk.say("cry", doubted=True)
    assert talk.kinds == ["command_refused"]
    assert talk.mode == "asking"


def test_a_break_after_a_cry_is_no_answer_to_it(cried):
    cried.crash()
    assert cried.mode == "cried"
    assert cried.said.endswith("Light off? Was it hot or painful?")
    cried.say("negate")
    assert cried.facts("cry_settled")[-1].heat is False
    assert cried.said == "Light off? Check position and warmth again. Then say affirmative."


def test_affirmed_after_a_break_it_is_the_red_hold(cried):
    cried.crash()
    cried.affirm()
    assert cried.mode == "held"
    assert cried.facts("hold_set")[-1].grounds == Grounds(HeatWordSaid("cry"))


def test_unanswered_after_a_break_it_is_a_stop_that_asks_for_nothing_that_is_not_heard(cried):
    cried.crash()
    cried.wait(CRY_WAIT_S + 1)
    assert cried.facts("cry_settled")[-1].heat is None
    assert cried.mode == "paused"
    stopped = next(
        effect.text
        for effects in cried.history
        for effect in effects
        if isinstance(effect, Say) and effect.text.startswith("Stopped.")
    )
    assert stopped == "Stopped. Light off, lift it away. Say resume, or end the visit."
    cried.say("light_off")
    cried.say("resume")
    assert cried.mode == "reconfirm"
