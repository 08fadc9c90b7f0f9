"""How sure is sure enough.

Source of the three gates: our own laboratory trial of the neural engine (average log-probability at least -1.4 a token,
free gap at most 8 nats, margin at least 3 nats); the order of costs: our own law that a missed stop costs skin.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.model.commands import Control, ControlCommand, DictateText, GiveValues, SlotValue, Wanted
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.model.readings import Option
from handsfree.understanding.decision import Outcome, decide, probability_right

READING = GiveValues((SlotValue("pulse", Option("weak")),))
WANTED = Wanted(controls=frozenset(Control))


def outcome(command, average=-0.3, gap=0.0, margin=10.0, wanted=WANTED):
    heard = Hypothesis(("x",), ("x",), 0.0, 1.0, "any", Evidence(average, gap, margin, speech_s=1.0))
    return decide(heard, command, wanted).outcome


def test_typed_lines_are_taken_at_their_word():
    decision = decide(Hypothesis(("x",), ("x",), 0.0, 0.0, "typed"), READING, WANTED)
    assert (decision.outcome, decision.probability) == (Outcome.ACCEPT, 1.0)


@pytest.mark.parametrize(
    ("features", "accepted"),
    [
        ({"average": -1.39, "gap": 7.9, "margin": 3.1}, True),
        ({"average": -1.41, "gap": 7.9, "margin": 3.1}, False),
        ({"average": -1.39, "gap": 8.1, "margin": 3.1}, False),
        ({"average": -1.39, "gap": 7.9, "margin": 2.9}, False),
        ({"margin": math.inf}, True),
    ],
)
def test_readings_are_accepted_inside_all_three_gates_only(features, accepted):
    assert (outcome(READING, **features) is Outcome.ACCEPT) == accepted


def test_a_stop_is_accepted_on_evidence_that_no_reading_would_be():
    weak = {"average": -2.0, "gap": 12.0, "margin": 1.0}
    assert outcome(ControlCommand(Control.STOP), **weak) is Outcome.ACCEPT
    assert outcome(ControlCommand(Control.LIGHT_OFF), **weak, wanted=Wanted()) is Outcome.ACCEPT
    assert outcome(READING, **weak) is not Outcome.ACCEPT
    assert outcome(ControlCommand(Control.NEXT_STEP), **weak) is not Outcome.ACCEPT


def test_doubt_asks_and_nonsense_is_ignored():
    assert outcome(READING, margin=1.5) is Outcome.ASK
    assert outcome(READING, average=-4.0, gap=60.0, margin=0.1) is Outcome.IGNORE


def test_a_control_that_is_not_legal_is_ignored():
    assert outcome(ControlCommand(Control.NEXT_STEP), wanted=Wanted()) is Outcome.IGNORE


def test_dictation_is_kept_whatever_the_score():
    assert outcome(DictateText("note"), average=-9.0) is Outcome.ACCEPT


FINITE = st.floats(-50, 50)


@given(st.floats(-50, 0), FINITE, st.floats(0, 50), st.floats(0, 5))
def test_better_evidence_is_never_less_probable(average, gap, margin, step):
    plain = probability_right(Evidence(average, gap, margin, 1.0))
    assert 0.0 < plain < 1.0
    assert probability_right(Evidence(min(0.0, average + step), gap, margin, 1.0)) >= plain
    assert probability_right(Evidence(average, gap - step, margin, 1.0)) >= plain
    assert probability_right(Evidence(average, gap, margin + step, 1.0)) >= plain
