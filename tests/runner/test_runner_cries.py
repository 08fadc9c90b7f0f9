"""A cry that reaches the runner while the light is on, typed or heard, ends the run; in the dark it is talk.

Sentences: common practice, no source.
"""

import math
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from silent_outputs import Nobody

from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle
from handsfree.model.commands import Control
from handsfree.model.events import CommandDoubted, CommandSpoken
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.runner.session_runner import SessionRunner
from handsfree.session.deadlines import CRY_WAIT_S
from handsfree.session.session import Session
from handsfree.session.state import Done
from handsfree.understanding.acceptance import probability_right


class Paper:
    """A journal that keeps nothing but the events."""

    def __init__(self):
        self.events = []

    def append(self, event, facts):
        del facts
        self.events.append(event)


@pytest.fixture
def runner():
    """A visit at its first step of light, with everything before it done."""
    session = Session(load_bundle("ulnar-splint-fitting"))
    visit, state = session._visit, session._state
    stage = next(one for one in visit.plan.stages if one.step.kind == "expose")
    clock = ManualClock(datetime(2026, 11, 25, 9, 0, tzinfo=UTC))
    made = SessionRunner(session, Paper(), Nobody(), clock)
    made.start("record-1", (), practice=True)
    state.done.update({one.id: Done.CONFIRMED for one in visit.plan.stages[: visit.plan.index(stage.id)]})
    state.place, state.zone_id = stage.id, session._state.ledger.zones[0].id
    clock.sleep_until(10)
    return made


def heard(runner, text, tags=(), gap=9.0, heat=None):
    now_s = runner._clock.monotonic_s()
    evidence = Evidence(average_logprob=-2.0, free_gap=gap, margin=math.inf, speech_s=1.0, second_free_gap=gap)
    words = tuple(tag.removeprefix("control:") for tag in tags)
    return Hypothesis(words, tags, now_s - 1.5, now_s - 0.5, "neural-both", evidence, free_text=text, heat=heat)


@pytest.mark.parametrize(
    ("line", "control", "mode"),
    [
        ("ouch, it is getting really hot", Control.HOT, "held"),
        ("that burns", Control.HOT, "held"),
        ("it hurts", Control.PAIN, "held"),
        ("take it off", Control.CRY, "cried"),
        ("I think my finger is burning a bit", Control.CRY, "cried"),
        ("it's too warm", Control.CRY, "cried"),
        ("I find it far too warm now", Control.CRY, "cried"),
        ("it's on fire", Control.CRY, "cried"),
        ("fire", Control.CRY, "cried"),
        ("scalding", Control.HOT, "held"),
        ("it is boiling hot", Control.HOT, "held"),
        ("my wrist is roasting under there", Control.CRY, "cried"),
        ("switch it off", Control.CRY, "cried"),
        ("please turn that off", Control.CRY, "cried"),
        ("get it off me", Control.CRY, "cried"),
    ],
)
def test_typed_sentences_end_the_light(runner, line, control, mode):
    runner.type("light on")
    assert runner.session.snapshot.is_lit
    runner.type(line)
    assert not runner.session.snapshot.is_lit
    assert runner.session.snapshot.mode == mode
    assert runner._journal.events[-1].command.control is control


OWN_WORDS = [
    ("ouch, it is getting really hot", "held"),
    ("that burns", "held"),
    ("it hurts", "held"),
    ("it is getting hot", "held"),
    ("take it off", "cried"),
    ("too warm", "cried"),
    ("it is not cool at all, it stings", "cried"),
    ("the skin got rather hot", "cried"),
]


@pytest.mark.parametrize(("line", "mode"), OWN_WORDS)
@pytest.mark.parametrize(
    ("way", "place"),
    [
        (("light on", "light off"), "warmth"),
        (("light on", "ouch"), "cried"),
        (("light on", "stop"), "paused"),
        (("wait", "light on"), "stray"),
    ],
)
def test_a_patients_own_words_count_wherever_light_may_be_on_or_heat_is_asked_about(runner, way, place, line, mode):
    for said in way:
        runner.type(said)
        runner._clock.sleep_until(runner._clock.monotonic_s() + 2)
    assert runner.session.snapshot.mode == place
    runner.type(line)
    assert runner.session.snapshot.mode == mode
    before = runner.session.snapshot
    runner.type("light on")
    assert not runner.session.snapshot.is_lit, before


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("it's cool", "cool"),
        ("a bit warm", "warm"),
        ("it is a little warm", "warm"),
        ("slightly warm", "warm"),
        ("just warm", "warm"),
        ("getting warm", "warm"),
    ],
)
def test_own_words_for_warm_are_taken_for_what_they_say(runner, line, answer):
    runner.type("light on")
    runner._clock.sleep_until(14)
    runner.type("light off")
    runner.type(line)
    (said,) = runner._journal.events[-1].command.values
    assert said.value.value == answer
    assert runner.session.snapshot.mode == "asking"


@pytest.mark.parametrize(
    "line", ["not hot", "it is not warm", "no", "fine", "very warm", "so warm", "quite warm, really"]
)
def test_other_words_at_the_question_are_no_answer_that_lets_the_work_go_on(runner, line):
    runner.type("light on")
    runner._clock.sleep_until(14)
    runner.type("light off")
    runner.type(line)
    assert runner.session.snapshot.mode in {"warmth", "cried"}


def test_free_text_ends_the_light_whatever_the_grammar_found(runner):
    runner.type("light on")
    runner.hear(heard(runner, "Oh dear, this is really burning.", ("control:strap_off",)))
    event = runner._journal.events[-1]
    assert isinstance(event, CommandDoubted)
    assert event.command.control is Control.CRY
    assert runner.session.snapshot.mode == "cried"


def test_noise_over_it_and_another_question_before_it_change_nothing(runner):
    runner.type("light on")
    before = runner.wanted
    runner.hear(heard(runner, "It stings!"), listened_for=type(before)(), spoilt=None)
    assert runner.session.snapshot.mode == "cried"


def test_heat_that_was_matched_in_a_longer_sentence_is_asked_about_and_sets_no_hold(runner):
    runner.type("light on")
    hot = heard(runner, "There is a parcel in the office that nobody has opened.", ("control:hot",), gap=5.0)
    evidence = replace(hot.evidence, average_logprob=-0.3, margin=0.0)
    assert 0.15 < probability_right(replace(hot, evidence=evidence)) < 0.5
    runner.hear(replace(hot, evidence=evidence))
    assert runner.session.snapshot.mode == "cried"


def doubtful(runner, text, heat):
    hot = heard(runner, text, ("control:hot",), gap=5.0)
    found = replace(hot, evidence=replace(hot.evidence, average_logprob=-0.3, margin=0.0), heat=heat)
    assert 0.15 < probability_right(found) < 0.5
    return found


def test_heat_that_nobody_makes_out_in_what_was_written_is_asked_about(runner):
    runner.type("light on")
    runner.hear(doubtful(runner, "Hop.", 0.0))
    assert not runner.session.snapshot.is_lit
    assert runner.session.snapshot.mode == "cried"


def test_heat_that_was_made_out_there_sets_the_hold(runner):
    runner.type("light on")
    runner.hear(doubtful(runner, "Hop.", 0.4))
    assert runner.session.snapshot.mode == "held"


def test_of_a_longer_sentence_without_a_trace_of_heat_nothing_is_taken(runner):
    runner.type("light on")
    runner.hear(doubtful(runner, "There is a parcel in the office that nobody has opened.", 0.0))
    assert runner.session.snapshot.is_lit


def test_a_false_stop_costs_seconds_and_one_sentence_goes_on(runner):
    runner.type("light on")
    runner.hear(heard(runner, "Hey, you are learning a lot.", heat=0.1))
    assert runner.session.snapshot.mode == "cried"
    runner.type("negative")
    assert runner.session.snapshot.mode == "asking"
    runner.type("light on")
    assert runner.session.snapshot.is_lit


def test_a_doubt_that_nobody_answers_becomes_a_stop_in_seconds(runner):
    runner.type("light on")
    runner.hear(heard(runner, "Hey, you are learning a lot.", heat=0.1))
    begun_s = runner._clock.monotonic_s()
    while runner.session.snapshot.mode == "cried":
        assert runner.patience_s(60) <= CRY_WAIT_S
        runner._clock.sleep_until(runner._clock.monotonic_s() + runner.patience_s(60))
        runner.tick()
    assert runner.session.snapshot.mode == "paused"
    assert runner._clock.monotonic_s() - begun_s == pytest.approx(CRY_WAIT_S)
    assert not runner.session.snapshot.is_lit


def test_other_talk_lets_the_light_be(runner):
    runner.type("light on")
    runner.hear(heard(runner, "Could you pass me the scissors?", ("control:strap_off",)))
    assert runner.session.snapshot.is_lit


def test_in_the_dark_it_is_talk(runner):
    runner.hear(heard(runner, "It stings!"))
    assert runner.session.snapshot.mode == "asking"
    runner.type("I think my finger is burning a bit")
    assert runner.session.snapshot.mode == "asking"


def test_light_on_that_answers_an_earlier_question_is_asked_about(runner):
    now_s = runner._clock.monotonic_s()
    said = Hypothesis(("light", "on"), ("control:light_on",), now_s - 1, now_s - 0.4, "typed")
    runner.hear(said, listened_for=runner.wanted.__class__(frozenset({Control.LIGHT_ON})))
    assert not runner.session.snapshot.is_lit
    assert runner.session.snapshot.mode == "doubting"
    runner.hear(Hypothesis(("light", "on"), ("control:light_on",), now_s, now_s, "typed"))
    assert isinstance(runner._journal.events[-1], CommandSpoken)
    assert runner.session.snapshot.is_lit
