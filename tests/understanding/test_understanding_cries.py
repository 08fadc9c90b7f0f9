"""Which texts may be cries of heat or pain. Sentences and words: common practice, no source."""

import math
from dataclasses import replace
from decimal import Decimal

import pytest

from handsfree.model.commands import Control, ControlCommand, IdentifierSlot, NumberSlot, Wanted
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.understanding.acceptance import probability_right
from handsfree.understanding.graphs import match
from handsfree.understanding.heat_words import as_written_down, may_be_cry, means_stop, stands_as_cry
from handsfree.understanding.interpreter import interpret, typed
from handsfree.understanding.listening_graph import graph_for

LIT = Wanted(frozenset({Control.CRY, Control.LIGHT_ON, Control.STRAP_ON, Control.STRAP_OFF}))


@pytest.mark.parametrize(
    ("text", "control"),
    [
        ("ouch, it is getting really hot", Control.HOT),
        ("It's hot.", Control.HOT),
        ("that's too hot", Control.HOT),
        ("getting hot", Control.HOT),
        ("that burns", Control.HOT),
        ("it is burning", Control.HOT),
        ("it hurts", Control.PAIN),
        ("ow that hurts me", Control.PAIN),
        ("it is really painful", Control.PAIN),
        ("ouch", Control.CRY),
        ("ow, ow!", Control.CRY),
        ("take it off", Control.CRY),
        ("take that away", Control.CRY),
    ],
)
def test_whole_sentences_are_understood_while_lit(text, control):
    hypothesis = typed(text, LIT, 1.0)
    assert hypothesis is not None
    assert interpret(hypothesis, LIT) == ControlCommand(control)


@pytest.mark.parametrize("text", ["ouch, it is getting really hot", "that burns", "take it off"])
def test_outside_the_light_they_are_nothing(text):
    assert typed(text, Wanted(), 1.0) is None


LOW = {"gap": 6.0, "average": -1.0, "margin": 0.0}
"""Evidence that accepts no stop word."""


def heard(tags=(), free_text=None, gap=0.0, average=-0.3, margin=math.inf, heat=None):
    words = tuple(tag.removeprefix("control:") for tag in tags)
    evidence = Evidence(average_logprob=average, free_gap=gap, margin=margin, speech_s=0.6, second_free_gap=gap)
    return Hypothesis(words, tags, 1.0, 2.0, "neural-both", evidence, free_text=free_text, heat=heat)


@pytest.mark.parametrize(
    "text",
    [
        "My hand is getting rather hot, I think.",
        "Oh, this is burning me!",
        "Ouch!",
        "he says it stings",
        "Is it supposed to hurt?",
        "That stung!",
        "This is unbearable.",
        "It gets too warm in there.",
        "That was so warm just now!",
        "Fire!",
        "Like fire, really.",
        "The plaster is roasting my wrist.",
        "It is killing me.",
    ],
)
def test_a_word_of_heat_or_pain_in_the_free_text_is_enough(text):
    assert may_be_cry(heard(free_text=text))
    # The grammar found something else: what was written down counts.
    assert may_be_cry(heard(("control:light_on",), text))


@pytest.mark.parametrize(
    "text",
    [
        None,
        "",
        "Could you pass me the scissors?",
        "A photo of the shot.",
        "The hotel is in Paintown.",
        "You may feel some warmth.",
        "It gets a bit warm.",
        "Keep it warm today.",
        "That is fine.",
        "The fireman fell off the ladder.",
    ],
)
def test_other_talk_is_none(text):
    assert not may_be_cry(heard(free_text=text))


def test_a_longer_sentence_that_was_written_down_is_another_one():
    talk = "I think the second one fits better, but let us look at it again."
    assert not may_be_cry(heard(("control:hot",), talk, **LOW))
    assert may_be_cry(heard(("control:hot",), talk, gap=0.0, average=-0.1))
    assert may_be_cry(heard(("control:hot",), "It's things.", **LOW))


@pytest.mark.parametrize("tag", ["hot", "pain", "cry"])
def test_a_low_score_is_enough_but_not_any(tag):
    assert 0.05 < probability_right(heard((f"control:{tag}",), **LOW)) < 0.15
    assert may_be_cry(heard((f"control:{tag}",), **LOW))
    assert not may_be_cry(heard((f"control:{tag}",), gap=30.0, average=-4.0))
    assert not may_be_cry(heard(("control:stop",), **LOW))


def test_speech_that_fits_nothing_has_no_meaning():
    assert interpret(heard(free_text="It stings!"), LIT) is None


LISTENED = {"gap": 3.0, "average": -0.5, "margin": 0.0}
"""Evidence that accepts a stop word, and is in doubt."""


def test_a_word_of_heat_that_another_was_written_for_is_enough():
    assert may_be_cry(heard(free_text="Hey, you are learning my term.", heat=0.03))
    assert may_be_cry(heard(("control:strap_on",), "Something heard thunder.", heat=0.2, **LOW))
    assert not may_be_cry(heard(free_text="Hey, you are learning my term.", heat=0.02))


def test_it_does_not_overrule_what_is_beyond_doubt():
    assert probability_right(heard(("control:strap_on",))) > 0.5
    assert not may_be_cry(heard(("control:strap_on",), heat=0.2))


def test_a_trace_of_one_bears_out_what_was_matched_and_none_at_all_does_not():
    talk = "I think the second one fits better, but let us look at it again."
    assert 0.15 < probability_right(heard(("control:hot",), **LISTENED)) < 0.5
    assert may_be_cry(heard(("control:hot",), talk, heat=0.01, **LISTENED))
    assert not may_be_cry(heard(("control:hot",), talk, heat=0.0, **LISTENED))
    # All that was said may have been a short cry that nobody could write down.
    assert may_be_cry(heard(("control:hot",), "Hop.", heat=0.0, **LISTENED))
    faint = {"gap": 8.5, "average": -1.0, "margin": 0.0}
    assert 0.02 < probability_right(heard(("control:hot",), **faint)) < 0.05
    assert may_be_cry(heard(("control:hot",), "Hop.", heat=0.01, **faint))
    assert not may_be_cry(heard(("control:hot",), "Hop.", heat=0.0, **faint))


@pytest.mark.parametrize("text", ["No, stop, I can't take it.", "Could you stop it, please."])
def test_the_word_stop_anywhere_is_enough(text):
    assert may_be_cry(heard(free_text=text))


def test_matched_heat_that_nobody_makes_out_is_asked_about_and_a_stop_is_not():
    for tag, heat, text, clear in (
        ("hot", 0.0, "Hop.", False),
        ("hot", 0.02, "Hop.", False),
        ("hot", 0.03, "Hop.", True),
        ("hot", 0.0, "It's hot.", True),
        ("hot", None, None, True),
        ("stop", 0.0, "Top.", True),
        ("light_off", 0.0, "Right of.", True),
    ):
        one = heard((f"control:{tag}",), text, heat=heat, **LISTENED)
        assert means_stop(one, interpret(one, LIT), LIT) is clear, (tag, heat, text)
    sure = heard(("control:hot",), heat=0.0)
    assert means_stop(sure, interpret(sure, LIT), LIT)


def test_a_cry_is_kept_in_the_words_that_were_written_with_what_made_it_one_beside_them():
    matched = as_written_down(heard(("control:pain",), "It's things.", **LOW))
    assert (matched.text, matched.tags, matched.runner_up) == ("It's things.", (), ("pain",))
    made_out = as_written_down(replace(heard(("control:cool",), "A term.", heat=0.2), runner_up=("burning",)))
    assert (made_out.text, made_out.runner_up) == ("A term.", ("burning",))
    untold = heard(("control:cry",))
    assert as_written_down(untold) is untold
    assert all(map(stands_as_cry, (matched, made_out, untold)))
    assert stands_as_cry(replace(matched, runner_up=("take", "it", "off")))
    assert not stands_as_cry(replace(matched, runner_up=("strap", "off")))


@pytest.mark.parametrize("text", ["four", "ten", "off", "up", "now"])
def test_counting_aloud_and_little_words_mean_nothing_and_are_no_cry(text):
    said = typed(text, LIT, 1.0)
    assert said is not None
    assert interpret(said, LIT) is None
    assert not may_be_cry(said)
    # Heard well, whatever else it sounds like; a word of heat written down still counts.
    sure = replace(heard(said.tags, "Oh,"), words=said.words, runner_up=("ow",))
    assert not may_be_cry(sure)
    assert may_be_cry(replace(sure, free_text="Ow,"))


def test_a_little_word_in_doubt_does_not_keep_a_cry_that_sounds_like_it_from_being_one():
    said = typed("four", LIT, 1.0)
    assert said is not None
    doubted = replace(heard(said.tags, "Oh, capital.", **LOW), words=said.words, runner_up=("ow", "ow"))
    assert may_be_cry(doubted)
    kept = as_written_down(doubted)
    assert kept.runner_up == ("ow", "ow")
    assert stands_as_cry(kept)
    assert not may_be_cry(replace(doubted, runner_up=("strap", "off")))
    # Four words more were written than "four": it is another sentence.
    assert not may_be_cry(replace(doubted, free_text="But the marks on the shelf"))


def test_what_may_be_answered_is_no_aside():
    score = NumberSlot("score", ("score",), "{score}", Decimal(0), Decimal(10), allow_absent=False)
    code = IdentifierSlot("lot", ("lot",), 8)
    for slots in ((score,), (code,), (score, code)):
        wanted = replace(LIT, slots=slots)
        assert match(graph_for(wanted), ["off"]) is None
        given = match(graph_for(wanted), ["score", "four"] if score in slots else ["four"])
        assert given is not None
        assert given.tags[0].startswith("slot:")
        assert given.other is None
