"""How much of a prompt must be heard out, and what may be said before. Rules of our own, no source:

what states a value is confirmed by nobody who has not heard it, and a caution, a hold or a doubt is heard to its end.
"""

from dataclasses import dataclass

import pytest
from talking import Talk
from test_session_going_on import files

from handsfree.model.commands import Control
from handsfree.model.effects import Priority, Say
from handsfree.session.heard_out import heard_out
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.sentence_codes import FileText, Prompt, ScoreTaken, Sentence


def parts(talk):
    """Of each prompt of the last event: what must be heard out, and what may be broken off."""
    said = [effect for effect in talk.effects if isinstance(effect, Say)]
    return [(say.text[: say.heard_out].strip(), say.text[say.heard_out :].strip()) for say in said]


def test_cautions_are_heard_out_and_the_question_after_them_is_not(talk):
    *cautions, question = parts(talk)
    assert ("The product's own instructions come first.", "") in cautions
    assert all(not rest for _, rest in cautions)
    assert question == ("", "Live or practice session?")


def test_a_read_back_is_heard_out_whole(talk):
    talk.give(kind="practice")
    assert talk.mode == "reading_back"
    ((whole, rest),) = parts(talk)
    assert whole.endswith("Correct?")
    assert rest == ""


def test_what_was_taken_is_heard_out_and_the_next_question_is_not(tmp_path):
    talk = Talk(files(tmp_path), going_on=True).go_to("skin")
    talk.give(hand="intact", arm="intact")
    assert parts(talk) == [("Hand and arm intact.", "Window, door?")]


def test_a_value_that_is_only_echoed_is_heard_before_the_next_question(tmp_path):
    talk = Talk(files(tmp_path)).go_to("remark")
    talk.give(room="cool")
    said = parts(talk)
    assert len(said) > 1
    assert all(not rest for _, rest in said[:-1])


def test_holds_doubts_and_overrides_are_heard_out(tmp_path):
    talk = Talk(files(tmp_path)).go_to("ring")
    talk.give(ring="stuck", doubted=True)
    assert all(not rest for _, rest in parts(talk)), "Did you say"
    talk.affirm()
    assert talk.mode == "held"
    assert all(not rest for _, rest in parts(talk))
    for answer in (lambda: talk.say("override"), lambda: talk.give(role="surgeon")):
        answer()
        assert all(not rest for _, rest in parts(talk))


def test_whatever_a_stop_says_is_heard_out(tmp_path):
    talk = Talk(files(tmp_path)).go_to("ring")
    talk.say("stop")
    assert [effect.priority for effect in talk.effects if isinstance(effect, Say)] == [Priority.STOP]
    assert all(not rest for _, rest in parts(talk))


def test_a_read_back_is_taken_back_before_its_end_and_nothing_else_is(tmp_path):
    talk = Talk(files(tmp_path)).go_to("skin")
    assert talk.session.taken_back_by == frozenset()
    talk.give(hand="intact", arm="intact")
    assert talk.session.taken_back_by == {Control.NEGATE, Control.CORRECTION}
    talk.affirm()
    assert talk.session.taken_back_by == frozenset()
    talk = Talk(files(tmp_path)).go_to("ring")
    talk.give(ring="stuck")
    assert talk.mode == "held"
    assert talk.session.taken_back_by == frozenset(), "no hold is answered before it was told"


@dataclass(frozen=True)
class Unheard(Sentence):
    """A sentence that nobody has thought of."""


class Words:
    def prompt(self, prompt):
        return " ".join("x" for _ in prompt.sentences)


@pytest.mark.parametrize(
    ("sentences", "characters"),
    [
        ((Fixed.ASK_WARMTH,), 0),
        ((ScoreTaken(7), Fixed.ASK_WARMTH), 1),
        ((Unheard(), FileText("Which?")), 1),
        ((FileText("Which?"), Unheard()), 3),
    ],
)
def test_only_what_is_known_to_state_nothing_may_be_broken_off(sentences, characters):
    assert heard_out([Prompt(sentences)], 0, Mode.ASKING, Words()) == characters
