"""Whether a reading is likely to go on. Rules of our own: a pause must not shorten a number."""

from decimal import Decimal

import pytest

from handsfree.model.commands import Control, IdentifierSlot, NumberSlot, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.understanding.completeness import is_unfinished
from handsfree.understanding.interpreter import typed

LENGTH = Wanted(
    frozenset({Control.AFFIRM}), (NumberSlot("length", ("length",), "cm", Decimal(10), Decimal(30), decimals=1),)
)
ANGLE = Wanted(slots=(NumberSlot("angle", ("angle",), "deg", Decimal(0), Decimal(90)),))
BEND = Wanted(slots=(NumberSlot("bend", ("bend",), "deg", Decimal(-120), Decimal(120)),))
CODE = Wanted(slots=(IdentifierSlot("lot", ("lot",), max_length=3),))


@pytest.mark.parametrize(
    ("said", "wanted", "unfinished"),
    [
        ("one seven", LENGTH, True),  # tenths are asked for
        ("seventeen", LENGTH, True),
        ("one seven point five", LENGTH, False),
        ("one point five", LENGTH, True),  # below what is plausible
        ("two five point five", LENGTH, False),
        ("two", ANGLE, True),  # 20 to 29 degrees are plausible
        ("two five", ANGLE, False),
        ("affirmative", LENGTH, False),
        ("nine", ANGLE, True),  # 90 degrees are plausible
        ("zero", ANGLE, False),
        ("one one", BEND, True),
        ("one three", BEND, False),  # 130 is not plausible
        ("minus one two", BEND, True),
        ("minus one three", BEND, False),
        ("one one degrees", BEND, False),
        ("alpha four", CODE, True),
        ("alpha four two", CODE, False),
    ],
)
def test_what_is_missing_is_known_from_what_is_asked(said: str, wanted: Wanted, unfinished: bool) -> None:
    heard = typed(said, wanted, 0.0)
    assert heard is not None
    assert is_unfinished(heard, wanted) is unfinished


def test_what_means_nothing_is_not_waited_for() -> None:
    assert not is_unfinished(Hypothesis((), (), 0.0, 1.0, "typed"), LENGTH)
