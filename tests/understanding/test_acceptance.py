"""How sure is sure enough.

Source of the order of costs: our own law that a missed stop costs skin. Source of good and bad evidence: our own
laboratory trial of the neural engine, which took readings with an average log-probability of at least -1.4 a token, a
free gap of at most 8 nats and a margin of at least 3 nats.
"""

import math
import tomllib
from dataclasses import replace
from decimal import Decimal
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.model.commands import Control, ControlCommand, DictateText, GiveValues, SlotValue, Wanted
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.model.readings import Exact, Option, Side
from handsfree.understanding.acceptance import (
    INSIDE,
    WHICH,
    DecisionOutcome,
    decide,
    features,
    kind_of,
    probability_right,
)

READING = GiveValues((SlotValue("pulse", Option("weak"), Side.LEFT),))
ANSWER = GiveValues((SlotValue("pulse", Option("weak")),))
WANTED = Wanted(controls=frozenset(Control))


def heard(average=-0.3, gap=0.0, margin=10.0, speech_s=0.5, ratio_db=25.0, words=("weak",), engine="neural"):
    return Hypothesis(words, words, 0.0, 1.0, engine, Evidence(average, gap, margin, speech_s, ratio_db))


def outcome(command, wanted=WANTED, **evidence):
    return decide(heard(**evidence), command, wanted).outcome


def test_typed_lines_are_taken_at_their_word():
    decision = decide(Hypothesis(("x",), ("x",), 0.0, 0.0, "typed"), READING, WANTED)
    assert (decision.outcome, decision.probability) == (DecisionOutcome.ACCEPT, 1.0)


def test_clear_readings_are_accepted():
    assert outcome(READING) is DecisionOutcome.ACCEPT
    assert outcome(READING, margin=math.inf) is DecisionOutcome.ACCEPT


def test_what_may_be_part_of_something_longer_is_asked_about():
    part = replace(heard(), is_part=True)
    assert decide(heard(), READING, WANTED).outcome is DecisionOutcome.ACCEPT
    assert decide(part, READING, WANTED).outcome is DecisionOutcome.ASK
    assert decide(replace(heard(gap=60.0), is_part=True), READING, WANTED).outcome is DecisionOutcome.IGNORE


@pytest.mark.parametrize(
    "weak",
    [
        {"average": -2.5, "gap": 9.0},
        {"gap": 16.0},
        {"margin": 0.2, "average": -1.0},
        {"average": -1.4, "gap": 8.0, "margin": 0.5},
    ],
)
def test_doubtful_readings_are_not_accepted(weak):
    assert outcome(READING, **weak) is not DecisionOutcome.ACCEPT


def test_a_stop_is_accepted_on_evidence_that_no_reading_would_be():
    weak = {"average": -1.3, "gap": 4.0, "margin": 0.4}
    assert outcome(ControlCommand(Control.STOP), **weak) is DecisionOutcome.ACCEPT
    assert outcome(ControlCommand(Control.LIGHT_OFF), **weak, wanted=Wanted()) is DecisionOutcome.ACCEPT
    assert outcome(READING, **weak) is not DecisionOutcome.ACCEPT


def test_a_mistake_costs_less_from_readings_over_commands_to_stop_words():
    text = files("handsfree.understanding").joinpath("acceptance.toml").read_text(encoding="utf-8")
    least = tomllib.loads(text)["least"]
    for outcome_name in ("accept", "ask"):
        steps = [least[name][outcome_name] for name in ("text", "stop", "navigation", "answer", "reading")]
        if outcome_name == "accept":
            assert steps == sorted(steps)
    assert all(table["ask"] <= table["accept"] for table in least.values())


def test_kinds_follow_the_cost_of_a_mistake():
    kinds = [kind_of(command) for command in (
        ControlCommand(Control.STOP), ControlCommand(Control.NEXT_STEP), READING, ANSWER, DictateText("note"),
        GiveValues((SlotValue("length", Exact(Decimal(7))),)),
    )]  # fmt: skip
    assert kinds == ["stop", "navigation", "reading", "answer", "text", "reading"]


def test_doubt_asks_and_nonsense_is_ignored():
    assert outcome(READING, margin=0.7, average=-0.8) is DecisionOutcome.ASK
    assert outcome(READING, average=-4.0, gap=60.0, margin=0.1) is DecisionOutcome.IGNORE


def test_words_that_take_much_longer_than_the_speech_count_against_themselves():
    assert probability_right(heard(speech_s=0.5)) > probability_right(heard(speech_s=4.0))
    assert probability_right(heard(speech_s=0.5)) > probability_right(heard(words=("one",) * 6, speech_s=0.3))


def test_noise_as_loud_as_the_speech_makes_it_less_sure():
    by_ratio = [probability_right(heard(ratio_db=ratio, engine="neural-both")) for ratio in (-5.0, 5.0, 10.0, 20.0)]
    assert by_ratio == sorted(by_ratio)
    assert by_ratio[0] < by_ratio[-1]
    level = probability_right(heard(ratio_db=0.0, engine="neural-both"))
    assert level == by_ratio[0]
    unknown, loud = (probability_right(heard(ratio_db=ratio, engine="neural-both")) for ratio in (None, 40.0))
    assert unknown == loud == by_ratio[-1]


def test_a_control_that_is_not_legal_is_ignored():
    assert outcome(ControlCommand(Control.NEXT_STEP), wanted=Wanted()) is DecisionOutcome.IGNORE


def test_dictation_is_kept_whatever_the_score():
    assert outcome(DictateText("note"), average=-9.0) is DecisionOutcome.ACCEPT


def test_speech_without_words_is_never_right():
    assert probability_right(heard(words=())) == 0.0


def test_engines_without_weights_of_their_own_use_the_default_ones():
    assert probability_right(heard(engine="another")) == probability_right(heard(engine="neural"))


def test_every_feature_has_a_weight_that_is_not_negative():
    text = files("handsfree.understanding").joinpath("acceptance.toml").read_text(encoding="utf-8")
    for weights in tomllib.loads(text)["engine"].values():
        assert set(weights) == {"inside", "which"}
        for part, names in (("inside", INSIDE), ("which", WHICH)):
            used = weights[part].keys() - {"bias"}
            assert {"certainty"} <= used <= set(names)
            assert all(weights[part][name] >= 0 for name in used)


FINITE = st.floats(-50, 50)


@given(st.floats(-50, 0), FINITE, st.floats(0, 50), st.floats(0, 5))
def test_better_evidence_is_never_less_probable(average, gap, margin, step):
    def probability(average, gap, margin):
        return probability_right(heard(average, gap, margin))

    plain = probability(average, gap, margin)
    assert 0.0 < plain < 1.0
    assert probability(min(0.0, average + step), gap, margin) >= plain
    assert probability(average, gap - step, margin) >= plain
    assert probability(average, gap, margin + step) >= plain


@given(FINITE, FINITE, st.floats(0, math.inf), st.floats(0, 100), st.one_of(st.none(), FINITE))
def test_features_are_finite_for_any_evidence(average, gap, margin, speech_s, ratio_db):
    found = features(("weak",), Evidence(average, gap, margin, speech_s, ratio_db))
    assert set(found) == {*INSIDE, *WHICH}
    assert all(math.isfinite(value) for value in found.values())
