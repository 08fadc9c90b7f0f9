"""What a gate reads back of findings: in groups, as far as nothing is lost by it. Own rules of this project.

"Nothing flagged" is said only where it determines the answer: the file flags every other one of that field.
"""

import pytest
from narrating import SIDES, Narrator

from handsfree.definition.loader import load_bundle
from handsfree.session.questions import what_stands


@pytest.fixture(scope="module")
def fitting():
    return load_bundle("ulnar-splint-fitting")


@pytest.fixture
def talk(fitting):
    return Narrator(fitting).lines("practice session", SIDES, "affirmative")


def told(talk):
    session = talk.session
    return session._wording.prompt(what_stands(session._visit, session._state))


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (["hand intact, wrist intact, forearm intact"], "Nothing flagged in skin. Correct?"),
        (["no wound, no infection, open fracture absent"], "Nothing flagged in wound check. Correct?"),
        # amber: its answers are all said
        (["hand bruised, wrist intact, forearm intact"], "hand bruised; wrist and forearm intact. Correct?"),
        # not whole: what is not known cannot be unflagged
        (["hand intact, wrist intact"], "hand and wrist intact. Correct?"),
        # two answers that no file flags: which it was is said
        (["jewelry removed, varnish absent"], "jewelry removed; varnish absent. Correct?"),
        (["bone fifth metacarpal, mechanism fall"], "bone fifth metacarpal; mechanism fall. Correct?"),
        (
            ["order present, image reviewed, alignment accepted, papers rotation corrected"],
            "nothing flagged in papers; papers: rotation corrected. Correct?",
        ),
        (
            ["both sides, median intact, ulnar intact, radial intact", "hand intact, wrist intact, forearm intact"],
            "nothing flagged in skin, and both sides sensation. Correct?",
        ),
        (
            ["right, sensation, median intact, ulnar intact, radial intact"],
            "nothing flagged in right sensation. Correct?",
        ),
    ],
)
def test_a_group_is_told_as_one_where_that_tells_every_answer(talk, lines, words):
    talk.lines(*lines)
    assert talk.mode == "asking"
    assert told(talk).lower() == words.lower()


def test_a_step_with_a_flagged_reading_is_not_called_unflagged(talk):
    talk.lines("right circulation, refill three", "affirmative")
    talk.lines("right circulation, pulse present, color usual, temperature warm")
    if talk.mode == "reading_back":
        talk.lines("affirmative")
    assert "nothing flagged in right circulation" not in told(talk)


def test_who_is_guided_hears_each_finding(fitting):
    talk = Narrator(fitting, working="guided").lines("practice session")
    talk.go_to("skin_before")
    talk.lines("hand intact, wrist intact, forearm intact")
    assert "nothing flagged" not in talk.said
    assert "intact" in talk.said


def test_what_the_gate_has_read_back_is_not_read_back_again_with_a_correction(talk):
    talk.go_to("position")
    talk.lines("nails parallel, crossing absent, seam straight, wrinkles absent, finger tips visible")
    talk.lines("wrist two one, ring eight eight, little eight six")
    assert "nothing flagged in sleeve and rotation" in talk.said.lower()
    talk.lines("correction, wrist one eight")
    assert talk.said.lower() == "wrist one eight, extension. correct?"
    talk.lines("affirmative")
    assert {"rotation.nails", "position.ring"} <= talk.confirmed().keys()
    assert talk.mode == "asking"
