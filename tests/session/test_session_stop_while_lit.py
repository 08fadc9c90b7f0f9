"""After a stop word while lit: "light off" that comes later, and the question about warmth.

A stop ends the credit at its first word. That the lamp was off by then nobody has said: "light off" said later shows
until when it may have been on, and that counts for heat alone. Expected behaviour: the laws of this project
(DEVELOPERS.md); common practice, no source.
"""

import pytest
from talking import LATE_S, WORD_S, lit_s

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
