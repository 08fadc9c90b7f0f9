"""After a stop word while lit: "light off" that comes later, and the question about warmth.

A stop ends the credit at its first word. That the lamp was off by then nobody has said: "light off" said later shows
until when it may have been on, and that counts for heat alone. Expected behaviour: the laws of this project
(DEVELOPERS.md); common practice, no source.
"""

import pytest
from procedure_files import DEVICE
from talking import LATE_S, WORD_S, lit_s, talk_of

from handsfree.model.refusals import Refusal, RefusalCode


def stopped_while_lit(talk, word="stop"):
    """Two seconds of light, then the word."""
    talk.go_to("cure_open").say("light_on")
    talk.wait(2 - LATE_S)
    talk.say(word)
    return talk


def total(talk):
    return talk.facts("zone_totalled")[-1]


@pytest.mark.parametrize("word", ["stop", "hot", "pain"])
def test_light_off_after_a_stop_word_is_taken_and_counts_until_then_for_heat_alone(talk, word):
    stopped_while_lit(talk, word)
    assert (total(talk).lit_s, total(talk).possible_s) == (2.0, 2.0)
    mode, talk.now_s = talk.mode, talk.now_s + 3
    talk.say("light_off")
    assert talk.kinds == ["light_off_confirmed", "zone_totalled"]
    assert talk.earcons[0].value == "recorded"
    assert (total(talk).lit_s, total(talk).possible_s) == (2.0, pytest.approx(2 + WORD_S + LATE_S + 3))
    assert talk.mode == mode, "it answers nothing else"
    assert lit_s(talk, "front") == 2.0


def test_it_is_said_that_the_visit_is_still_stopped(talk):
    stopped_while_lit(talk).say("light_off")
    assert talk.said == "Still stopped. Say resume, or end the visit."


def test_once_the_light_is_reported_off_more_of_it_is_news_of_nothing(talk):
    stopped_while_lit(talk).say("light_off")
    before = total(talk)
    talk.say("light_off")
    assert talk.facts("command_refused")[-1].reason == Refusal(RefusalCode.LIGHT_WAS_NOT_ON)
    assert total(talk) == before


def test_light_off_after_a_stop_in_the_dark_is_no_news_of_light(talk):
    talk.go_to("cure_open").say("stop")
    talk.say("light_off")
    assert talk.facts("command_refused")[-1].reason == Refusal(RefusalCode.LIGHT_WAS_NOT_ON)


QUESTION = "Ask the patient. Cool, warm, hot or painful?"


def test_after_a_stop_while_lit_warmth_is_asked_and_answered_in_the_pause(talk):
    stopped_while_lit(talk)
    assert talk.said == f"Stopped. Light off, lift it away. {QUESTION} Say resume, or end the visit."
    talk.give(warmth="warm")
    assert talk.facts("warmth_answered")[-1].answer == "warm"
    assert (talk.mode, talk.said) == ("paused", "Still stopped. Say resume, or end the visit.")
    talk.say("resume")
    assert (talk.at, talk.mode) == ("cure_open", "asking")


def test_unanswered_it_is_asked_again_and_again_also_after_the_pause(talk):
    stopped_while_lit(talk)
    asked = len(talk.history)
    talk.wait(45)
    said = [effect.text for effects in talk.history[asked:] for effect in effects if hasattr(effect, "text")]
    # Until somebody says "light off", that is said as well (`test_session_off_owed`).
    assert [text for text in said if text != "Light off? Say light off."] == [QUESTION, QUESTION]
    assert talk.mode == "paused"
    talk.say("resume")
    assert (talk.mode, talk.said) == ("warmth", QUESTION)
    talk.say("light_on")
    assert talk.facts("command_refused")[-1].reason == Refusal(RefusalCode.WARMTH_FIRST)
    talk.say("light_off")
    talk.give(warmth="cool")
    assert talk.mode == "asking"


@pytest.mark.parametrize("word", ["hot", "pain"])
def test_it_is_answered_by_a_stop_word_too(talk, word):
    stopped_while_lit(talk).say(word)
    assert talk.facts("hold_set")[-1].hold == "red"
    assert talk.mode == "held"


def test_it_is_answered_by_a_score_too(talk):
    stopped_while_lit(talk).give(pain_score=4)
    assert talk.facts("pain_scored")[-1].score == 4
    assert talk.mode == "held"


def test_it_keeps_nobody_from_stopping_or_ending(talk):
    stopped_while_lit(talk).say("stop")
    assert talk.mode == "paused"
    talk.say("end_visit")
    talk.give(role="nurse")
    talk.give(reason="reviewed")
    talk.affirm()
    assert talk.outcome == "stopped"


def test_after_a_zone_it_is_asked_again_after_the_profiles_seconds(tmp_path):
    slow = talk_of(tmp_path, device=DEVICE + "guidance: {warmth_again_s: 30}\n").go_to("cure_open")
    slow.light(6.1)
    asked = len(slow.history)
    slow.wait(29)
    assert len(slow.history) == asked
    slow.wait(2)
    assert slow.said == QUESTION
    slow.say("wait")
    asked = len(slow.history)
    slow.wait(100)
    assert len(slow.history) == asked, "wait means wait"


def test_the_late_question_is_asked_again_too(talk):
    talk.go_to("nerve_after@left").wait(70)
    assert talk.mode == "late_heat"
    asked = len(talk.history)
    talk.wait(20)
    said = [effect.text for effects in talk.history[asked:] for effect in effects if hasattr(effect, "text")]
    assert said == ["Heat can come late. Ask the patient. Cool, warm, hot or painful?"]


def test_nobody_is_asked_about_warmth_after_a_stop_in_the_dark(talk):
    talk.go_to("cure_open").say("stop")
    assert "Cool" not in talk.said
    asked = len(talk.history)
    talk.wait(100)
    assert len(talk.history) == asked


def test_a_zone_that_was_full_when_it_was_stopped_is_not_lit_again(talk):
    talk.go_to("cure_open").say("light_on")
    talk.wait(6.2 - LATE_S)
    talk.say("stop")
    talk.give(warmth="cool")
    talk.say("resume")
    assert "back part" in talk.said
