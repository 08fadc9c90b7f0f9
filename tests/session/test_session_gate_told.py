"""What a gate reads back of findings: in groups, as far as nothing is lost by it. Own rules of this project.

"Nothing flagged" is said only where it determines the answer: the file flags every other one of that field.
"""

import pytest
from narrating import Narrator

from handsfree.session.questions import what_stands


def told(narrator):
    session = narrator.session
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
def test_a_group_is_told_as_one_where_that_tells_every_answer(narrator, lines, words):
    narrator.lines(*lines)
    assert narrator.mode == "asking"
    assert told(narrator).lower() == words.lower()


def test_a_step_with_a_flagged_reading_is_not_called_unflagged(narrator):
    narrator.lines("right circulation, refill three", "affirmative")
    narrator.lines("right circulation, pulse present, color usual, temperature warm")
    if narrator.mode == "reading_back":
        narrator.lines("affirmative")
    assert "nothing flagged in right circulation" not in told(narrator)


def test_who_is_guided_hears_each_finding(fitting):
    narrator = Narrator(fitting, working="guided").lines("practice session")
    narrator.go_to("skin_before")
    narrator.lines("hand intact, wrist intact, forearm intact")
    assert "nothing flagged" not in narrator.said
    assert "intact" in narrator.said


def test_what_the_gate_has_read_back_is_not_read_back_again_with_a_correction(narrator):
    narrator.go_to("position")
    narrator.lines("nails parallel, crossing absent, seam straight, wrinkles absent, finger tips visible")
    narrator.lines("wrist two one, ring eight eight, little eight six")
    assert "nothing flagged in sleeve and rotation" in narrator.said.lower()
    narrator.lines("correction, wrist one eight")
    assert narrator.said.lower() == "wrist one eight, extension. correct?"
    narrator.lines("affirmative")
    assert {"rotation.nails", "position.ring"} <= narrator.confirmed().keys()
    assert narrator.mode == "asking"
