"""A danger that is read back before the other answers of its question: "none" takes nothing of it back.

That people mean the others by "none" once they have named one is common practice, no source.
"""

import pytest
from talking import Talk

from handsfree.definition.loader import load_bundle
from handsfree.understanding.interpreter import interpret, typed


@pytest.fixture
def talk():
    return Talk(load_bundle("ulnar-splint-fitting")).go_to("contraindications_wound")


def say(talk, text):
    heard = typed(text, talk.session.wanted, talk.now_s)
    assert heard is not None, text
    return talk.speak(interpret(heard, talk.session.wanted), words=text)


def test_none_is_no_answer_while_a_danger_is_read_back(talk):
    say(talk, "wound present")
    assert talk.said == "wound present. Correct?"
    for words in ("none", "all absent"):
        assert typed(words, talk.session.wanted, talk.now_s) is None, words
    talk.affirm()
    assert talk.mode == "held"
    assert talk.facts("reading_confirmed")[-1].field == "wound"


def test_none_is_about_what_is_still_missing(talk):
    say(talk, "wound absent")
    command = interpret(typed("none", talk.session.wanted, talk.now_s), talk.session.wanted)
    assert {item.slot for item in command.values} == {"open_fracture", "infection"}
    say(talk, "none")
    assert talk.said == "open fracture, wound and infection absent. Correct?"
