"""The question "left or right" of a narrated visit, answered by a side alone.

When it counts is this project's own rule: only while nothing else was said or asked; common practice, no source.
"""

import pytest
from narrating import SIDES, WALL, Narrator

from handsfree.definition.loader import load_bundle
from handsfree.model.events import CommandDoubted
from handsfree.understanding.interpreter import interpret, typed


@pytest.fixture(scope="module")
def fitting():
    return load_bundle("ulnar-splint-fitting")


@pytest.fixture
def sided(fitting):
    return Narrator(fitting).lines("practice session", SIDES, "affirmative")


SIDE_ALONE = ("left", "on the left", "left hand", "the left one", "left side", "on the left hand", "it's on the left")


@pytest.mark.parametrize("words", SIDE_ALONE)
def test_a_side_alone_answers_the_question_left_or_right(sided, words):
    """Common practice, no source: who is asked "left or right" says the side, not the whole sentence once more."""
    sided.lines("refill two")
    assert (sided.said, sided.session.wanted.hint) == ("Refill: say left or right.", "say left or right")
    sided.lines(words)
    assert sided.said == "left circulation: refill two. Correct?"


def test_a_side_alone_is_of_what_has_none_and_takes_nothing_else_anew(sided):
    sided.lines("package intact, pulse present, refill two on the right", "on the left", "affirmative")
    taken = {name for name in {*sided.confirmed(), *sided.session._state.standing} if name.startswith("circulation")}
    assert {name.replace("other", "left") for name in taken} == {
        "circulation_before@left.pulse",
        "circulation_before@right.refill",
    }
    assert len([one for one in sided.facts("reading_proposed") if one.field == "package"]) == 1


def test_both_sides_answer_for_a_finding(sided):
    sided.lines("pulse present", "both sides")
    assert len([name for name in sided.session._state.standing if name.endswith(".pulse")]) == 2


def test_both_sides_leave_the_question_of_a_measure_open(sided):
    sided.lines("refill two", "both hands")
    assert sided.said == "Refill: say left or right."
    sided.lines("right")
    assert sided.said == "right circulation: refill two. Correct?"


@pytest.mark.parametrize("between", ["package intact", "next step", "wait", "hand bruised"])
def test_a_side_alone_is_no_answer_once_anything_else_was_said(sided, between):
    sided.lines("refill two", between)
    assert sided.line("on the left") is None


def test_a_side_alone_is_no_answer_after_the_tool_asked_anything_else(sided):
    sided.lines("pulse present")
    sided.wait(120)
    assert sided.facts("missing_told")
    assert sided.line("on the left") is None


@pytest.mark.parametrize("between", ["say again", "what is missing", "status report", "what can I say"])
def test_the_question_left_or_right_waits_while_something_is_asked_by_the_way(sided, between):
    sided.lines("refill two", between, "left hand")
    assert sided.said == "left circulation: refill two. Correct?"


def test_a_side_in_doubt_is_asked_about_and_still_answers(sided):
    sided.lines("refill two")
    heard = typed("on the left", sided.session.wanted, sided.now_s)
    command = interpret(heard, sided.session.wanted)
    at = {"at_s": sided.now_s, "wall": WALL, "probability": 0.6}
    sided.send(CommandDoubted(command=command, heard=heard, **at))
    assert sided.said == "Did you say: on the left?"
    sided.lines("negative", "on the right")
    assert sided.said == "right circulation: refill two. Correct?"
