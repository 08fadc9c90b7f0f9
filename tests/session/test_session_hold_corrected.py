"""A finding that holds the visit, corrected in one breath: "correction, infection absent".

That a stop goes with another answer, and a red hold only where its value was misheard, is this project's own rule
(`lift_rules`); that either is read back first is common practice, no source.
"""

from dataclasses import replace

import pytest
from narrating import sides_checked
from talking import Talk

from handsfree.model.commands import GiveValues
from handsfree.understanding.interpreter import interpret, typed
from handsfree.understanding.meanings import may_mean


@pytest.fixture
def guided(fitting):
    talk = Talk(fitting).go_to("contraindications_wound")
    say(talk, "infection absent, wound present")
    talk.affirm()
    assert (talk.mode, talk.at) == ("held", "contraindications_wound")
    return talk


@pytest.fixture
def narrated(fitting):
    talk = sides_checked(fitting)
    return talk.lines("open fracture absent, wound absent, infection present", "affirmative")


def say(talk, text):
    heard = typed(text, talk.session.wanted, talk.now_s)
    assert heard is not None, text
    return talk.speak(interpret(heard, talk.session.wanted), words=text)


def test_narrated_it_is_read_back_affirmed_and_lifts_the_stop(narrated):
    assert (narrated.mode, narrated.at) == ("held", "contraindications_wound")
    narrated.lines("correction, infection absent")
    assert (narrated.mode, narrated.said) == ("reading_back", "infection absent. Correct?")
    assert "correction_opened" in narrated.kinds
    assert narrated.session.snapshot.hold is not None
    narrated.lines("affirmative")
    assert "hold_lifted" in narrated.kinds
    assert narrated.session.snapshot.hold is None
    assert "contraindications_wound" in narrated.session._state.done


def test_guided_the_other_answers_stand_and_only_what_is_missing_is_asked(guided):
    say(guided, "correction, wound absent")
    assert (guided.mode, guided.said) == ("asking", "Still missing: open fracture.")
    say(guided, "absent")
    assert (guided.mode, guided.said) == ("reading_back", "open fracture and wound absent. Correct?")
    guided.affirm()
    assert guided.session.snapshot.hold is None
    assert [fact.field for fact in guided.facts("reading_amended")] == ["wound"]


def test_denied_the_hold_stands(narrated):
    narrated.lines("correction, infection absent", "negative")
    assert narrated.session.snapshot.hold is not None
    assert not narrated.facts("hold_lifted")
    narrated.lines("next step")
    assert narrated.mode == "held"


@pytest.mark.parametrize("words", ["infection absent", "no infection", "no, infection absent"])
def test_without_the_word_it_lifts_nothing_and_the_way_is_said(narrated, words):
    heard = typed(words, narrated.session.wanted, narrated.now_s)
    if heard is not None:
        narrated.line(words)
        assert narrated.kinds == ["command_refused"]
    assert narrated.mode == "held"


def test_a_red_value_is_asked_about_as_misheard(fitting):
    talk = sides_checked(fitting)
    talk.lines("right hand, pulse absent, color usual", "affirmative")
    assert talk.mode == "held"
    talk.lines("correction, pulse present", "affirmative")
    assert talk.mode == "misheard"
    talk.lines("affirmative")
    assert talk.session.snapshot.hold is None


def test_the_other_side_is_no_correction_of_this_one(fitting):
    talk = sides_checked(fitting)
    talk.lines("right hand, pulse absent", "affirmative")
    assert typed("correction, left pulse present", talk.session.wanted, talk.now_s) is None
    talk.lines("correction, right pulse present", "affirmative")
    assert talk.mode == "misheard"


def test_what_is_one_answer_of_a_list_is_affirmed_before_it_lifts(fitting):
    talk = Talk(fitting).go_to("allergies")
    talk.give(allergy="acrylate")
    assert talk.mode == "held"
    say(talk, "correction, none known")
    assert talk.mode == "reading_back"
    assert talk.session.snapshot.hold is not None
    talk.affirm()
    assert talk.session.snapshot.hold is None


def test_old_records_of_such_words_keep_their_meaning(narrated):
    wanted = narrated.session.wanted
    heard = typed("correction, infection absent", wanted, 0.0)
    assert interpret(heard, wanted) == GiveValues(interpret(heard, wanted).values, "correct")
    then = replace(heard, tags=heard.tags[1:])
    assert may_mean(heard, wanted)
    assert may_mean(then, wanted)
    assert interpret(then, wanted) == GiveValues(interpret(heard, wanted).values)
