"""Words that began before what was asked last had been said: where people narrate, some answer no question at all.

Common practice, no source: the answer to one question is none to the next.
"""

from contextlib import ExitStack
from datetime import UTC, datetime

import pytest
from slow_disk import Heard as Outputs

from handsfree.application.opening import open_session
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.model.audio import Heard
from handsfree.model.commands import Control, Wanted
from handsfree.model.working import Working
from handsfree.understanding.interpreter import typed

TO_THE_SIDE = "order right, consent right, image right, patient right, mark right"
NAMED = "jewelry removed, varnish absent"


@pytest.fixture
def begin(tmp_path):
    """Begins a fitting, a narrated one with the side affirmed: its runner, and what was listened for before that."""
    with ExitStack() as opened:

        def begin(working):
            runner, journal = open_session(
                load_bundle("ulnar-splint-fitting"),
                tmp_path / "record",
                ManualClock(datetime(2026, 11, 25, 9, 0, tzinfo=UTC)),
                Outputs(),
                practice=True,
                engine="typed",
                keep_clips=False,
                working=working,
            )
            opened.enter_context(journal)
            if working is Working.NARRATED:
                runner.type("practice session")
                runner.type(TO_THE_SIDE)
            earlier = runner.wanted
            runner.type("affirmative" if working is Working.NARRATED else "practice session")
            assert runner.session.snapshot.mode == "asking"
            return runner, earlier

        yield begin


def takes(runner, words, answers, earlier):
    """Whether words that began so early are taken."""
    heard = typed(words, runner.wanted, 1.0)
    assert heard is not None, words
    before = runner.session.snapshot
    runner.hear(heard, answers=answers, earlier=earlier)
    after = runner.session.snapshot
    return before.step_id != after.step_id or before.standing != after.standing or before.mode != after.mode


@pytest.mark.parametrize(
    ("words", "answers"),
    [*((NAMED, answers) for answers in Heard), ("refill two seconds on the left", Heard.TOO_LITTLE)],
)
def test_who_narrates_and_says_what_it_is_of_answers_nothing_and_is_taken(begin, words, answers):
    runner, earlier = begin(Working.NARRATED)
    assert takes(runner, words, answers, earlier)


@pytest.mark.parametrize("answers", [Heard.NOTHING, Heard.TOO_LITTLE])
@pytest.mark.parametrize("words", ["refill two seconds", "next step", "correction, order left"])
def test_what_the_place_gives_a_meaning_is_not(begin, words, answers):
    runner, earlier = begin(Working.NARRATED)
    assert not takes(runner, words, answers, earlier)


@pytest.mark.parametrize("earlier", [None, Wanted(frozenset({Control.NEXT_STEP}))], ids=["two questions ago", "other"])
def test_what_meant_something_else_when_it_began_is_not(begin, earlier):
    runner, _ = begin(Working.NARRATED)
    assert not takes(runner, NAMED, Heard.NOTHING, earlier)
    assert takes(runner, NAMED, Heard.ALL, earlier)


@pytest.mark.parametrize("answers", [Heard.NOTHING, Heard.TOO_LITTLE])
def test_where_the_tool_asks_the_answer_to_one_question_is_none_to_the_next(begin, answers):
    runner, earlier = begin(Working.GUIDED)
    assert not takes(runner, "hand therapist", answers, earlier)
    assert takes(runner, "hand therapist", Heard.ALL, earlier)


def test_while_what_is_said_back_waits_for_an_answer_nothing_that_began_before_it_is_taken(begin):
    runner, earlier = begin(Working.NARRATED)
    runner.type("lot number alfa four bravo two")
    assert runner.session.snapshot.mode == "reading_back"
    assert not takes(runner, NAMED, Heard.NOTHING, earlier)


@pytest.mark.parametrize(("answers", "taken"), [(Heard.TOO_LITTLE, False), (Heard.ENOUGH, True), (Heard.ALL, True)])
def test_a_side_alone_answers_the_question_which_one_only_once_that_was_said(begin, answers, taken):
    runner, earlier = begin(Working.NARRATED)
    runner.type("refill two seconds")
    assert takes(runner, "on the left", answers, earlier) is taken
