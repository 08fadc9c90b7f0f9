"""The scales of the evidence, the product of two logistic functions, and the limits, worked by hand.

The bounds of each scale are this project's own: the weights of `acceptance.toml` were fitted on evidence kept within
them, so that another bound asks for another fit. The logistic function 1/(1 + e^-x): D. R. Cox, J. R. Stat. Soc. B 20
(1958) 215, from memory.
"""

import dataclasses
import math

import pytest

from handsfree.model.commands import Control, ControlCommand, GiveValues, SlotValue, Wanted
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.model.readings import Absent, AbsentReason, Exact, Option, Side
from handsfree.understanding import acceptance
from handsfree.understanding.acceptance import Decision, DecisionOutcome, decide, features, kind_of, probability_right

WORDS = ("ulnar", "strong")
"""Three syllables: 0.12 + 2 x 0.15 + 3 x 0.17 = 0.93 s at a middling rate."""
MIDDLING_S = 0.93
READING = GiveValues((SlotValue("length", Exact(7)),))


def evidence(average=0.0, gap=0.0, margin=0.0, speech_s=MIDDLING_S, ratio_db=20.0, second=None, end=None, third=()):
    return Evidence(average, gap, margin, speech_s, ratio_db, second, end, *third)


def heard(engine="neural", words=WORDS, **given):
    return Hypothesis(words, words, 0.0, 1.0, engine, evidence(**given))


@pytest.mark.parametrize(
    ("given", "name", "value"),
    [
        ({"average": -0.3}, "certainty", -0.3),
        ({"average": -5.0}, "certainty", -5.0),
        ({"average": -7.0}, "certainty", -5.0),
        ({"average": 0.5}, "certainty", 0.0),  # no probability is above one
        # Gaps count by the syllable.
        ({"gap": -3.0}, "gap", 0.0),
        ({"gap": 6.0}, "gap", -2.0),
        ({"gap": 12.0}, "gap", -3.0),
        ({"gap": 9.0}, "far_gap", 0.0),
        ({"gap": 12.0}, "far_gap", -1.0),
        ({"gap": 60.0}, "far_gap", -6.0),
        ({}, "second_gap", 0.0),
        ({"second": -3.0}, "second_gap", 0.0),
        ({"second": 6.0}, "second_gap", -2.0),
        ({"second": 12.0}, "second_gap", -3.0),
        ({}, "second_far_gap", 0.0),
        ({"second": 9.0}, "second_far_gap", 0.0),
        ({"second": 12.0}, "second_far_gap", -1.0),
        ({"second": 60.0}, "second_far_gap", -6.0),
        ({}, "second_end", 0.0),
        ({"end": -1.0}, "second_end", 0.0),
        ({"end": 3.0}, "second_end", -1.5),
        ({"end": 8.0}, "second_end", -3.0),
        ({}, "third_margin", 0.0),
        ({"third": (math.inf, 0.0, 0.0)}, "third_margin", 3.0),
        ({"third": (-5.0, 0.0, 0.0)}, "third_margin", -2.5),
        ({"third": (-7.0, 0.0, 0.0)}, "third_margin", -3.0),
        # Two words, not three syllables: figures are written word by word.
        ({"third": (0.0, 4.0, 0.0)}, "third_gap", -2.0),
        ({"third": (0.0, 8.0, 0.0)}, "third_gap", -3.0),
        ({}, "third_end", 0.0),
        ({"third": (0.0, 0.0, 3.0)}, "third_end", -1.5),
        ({"third": (0.0, 0.0, 8.0)}, "third_end", -3.0),
        ({"margin": 0.0}, "margin", 0.0),
        ({"margin": 3.0}, "margin", 1.5),
        ({"margin": math.inf}, "margin", 2.0),
        ({"ratio_db": 25.0}, "quiet", 0.0),
        ({"ratio_db": None}, "quiet", 0.0),
        ({"ratio_db": 10.0}, "quiet", -2.0),
        ({"ratio_db": -5.0}, "quiet", -3.0),
        ({"speech_s": MIDDLING_S * math.exp(0.29)}, "pace", 0.0),
        ({"speech_s": MIDDLING_S * math.exp(1.0)}, "pace", -1.4),
        ({"speech_s": MIDDLING_S * math.exp(-1.0)}, "pace", -1.4),
        ({"speech_s": MIDDLING_S * math.exp(2.5)}, "pace", -3.0),
    ],
)
def test_each_piece_of_evidence_has_the_scale_that_the_weights_were_fitted_on(given, name, value):
    assert features(WORDS, evidence(**given))[name] == pytest.approx(value, abs=1e-9)


@pytest.fixture
def weights(monkeypatch):
    """Sets least probabilities and weights instead of those of `acceptance.toml`."""

    def put(least=None, **engines):
        monkeypatch.setattr(acceptance, "_parameters", lambda: (least or {}, engines))

    return put


def test_the_probability_is_the_product_of_inside_and_which(weights):
    # Odds of 3 to 1 are a probability of 3/4, odds of 1 to 1 one of 1/2; a bias counts once, whatever was heard.
    inside, which = {"bias": math.log(3) + 2.0, "certainty": 2.0}, {"bias": -1.5, "margin": 1.0}
    weights(neural={"inside": inside, "which": which})
    assert probability_right(heard(average=-1.0, margin=3.0)) == pytest.approx(0.75 * 0.5)


def test_an_engine_is_judged_by_its_own_weights(weights):
    even = {"inside": {"bias": 0.0}, "which": {"bias": 0.0}}
    weights(neural=even, other={"inside": {"bias": math.log(3)}, "which": {"bias": 0.0}})
    assert probability_right(heard("other")) == pytest.approx(0.375)
    assert probability_right(heard("unknown")) == pytest.approx(0.25)


@pytest.mark.parametrize(("bias", "odds"), [(31.0, 30.0), (900.0, 30.0), (-31.0, -30.0), (-900.0, -30.0)])
def test_odds_beyond_thirty_nats_count_no_more(weights, bias, odds):
    even = {"bias": 0.0}
    weights(neural={"inside": {"bias": bias}, "which": even})
    found = 2 * probability_right(heard())
    assert min(found, 1 - found) == pytest.approx(math.exp(-abs(odds)), rel=1e-2)
    assert (found > 0.5) is (odds > 0)


def test_what_is_exactly_sure_enough_is_taken(weights):
    engine = {"inside": {"bias": 0.0}, "which": {"bias": 0.0}}
    for accept, ask, outcome in (
        (0.25, 0.1, DecisionOutcome.ACCEPT),
        (0.2501, 0.25, DecisionOutcome.ASK),
        (0.3, 0.2501, DecisionOutcome.IGNORE),
    ):
        weights(least={"reading": {"accept": accept, "ask": ask}}, neural=engine)
        assert decide(heard(), READING, Wanted()) == Decision(outcome, 0.25)


def test_a_control_that_is_not_legal_counts_as_not_said_at_all():
    # Typed lines too: whoever types is as wrong as whoever speaks.
    typed = Hypothesis(("next",), ("next",), 0.0, 0.0, "typed")
    for hypothesis in (typed, heard()):
        found = decide(hypothesis, ControlCommand(Control.NEXT_STEP), Wanted())
        assert found == Decision(DecisionOutcome.IGNORE, 0.0)


def test_a_typed_line_is_certain():
    assert probability_right(Hypothesis(("x",), ("x",), 0.0, 0.0, "typed")) == 1.0


@pytest.mark.parametrize(
    ("values", "kind"),
    [
        ((SlotValue("pulse", Option("weak")),), "answer"),
        ((SlotValue("pulse", Absent(AbsentReason.NOT_PERFORMED)),), "answer"),
        ((SlotValue("pulse", Option("weak")), SlotValue("length", Exact(7))), "reading"),
        ((SlotValue("pulse", Option("weak")), SlotValue("pulse", Option("weak"), Side.LEFT)), "reading"),
        ((SlotValue("pulse", Absent(AbsentReason.NOT_PERFORMED), Side.LEFT),), "reading"),
        ((), "reading"),
    ],
)
def test_only_what_comes_from_lists_alone_and_names_no_side_is_an_answer(values, kind):
    assert kind_of(GiveValues(values)) == kind


def test_a_decision_is_not_changed_afterwards():
    found = Decision(DecisionOutcome.ASK, 0.5)
    with pytest.raises(dataclasses.FrozenInstanceError):
        found.outcome = DecisionOutcome.ACCEPT
    assert not hasattr(found, "__dict__")
