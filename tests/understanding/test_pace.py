"""Speech seconds against words.

Source of the syllable counts: the CMU Pronouncing Dictionary (vowels of the first pronunciation of each word).
Source of the rates: 4 to 7 syllables a second in conversation, common textbook figure, from memory.
"""

import pytest

from handsfree.understanding.speaking_rate import MOST_NATS, pace, pace_cost, syllables

SYLLABLES = {
    "zero": 2, "one": 1, "three": 1, "five": 1, "seven": 2, "nine": 1, "point": 1, "november": 3, "affirmative": 4,
    "negative": 3, "centimeter": 4, "numb": 1, "strap": 1, "correction": 3, "absent": 2, "please": 1, "people": 2,
    "whole": 1, "the": 1, "resume": 2,
}  # fmt: skip


@pytest.mark.parametrize(("word", "count"), SYLLABLES.items())
def test_syllables_as_in_the_dictionary(word: str, count: int) -> None:
    assert syllables(word) == count


@pytest.mark.parametrize(
    ("text", "speech_s"),
    [
        ("stop", 0.3),
        ("affirmative", 0.8),
        ("one seven point five", 1.3),
        ("wrist circumference one seven point five centimeters", 2.2),
    ],
)
def test_ordinary_rates_cost_nothing(text: str, speech_s: float) -> None:
    assert pace_cost(text.split(), speech_s) == 0.0


def test_few_words_for_much_speech_and_many_for_little_are_unlikely() -> None:
    assert pace_cost(("hand", "intact"), 3.5) > 3.0
    assert pace_cost(("oh",), 1.5) > 3.0
    assert pace_cost(("one", "seven", "point", "five"), 0.35) > 3.0
    assert pace(("stop",), 0.1) < 0 < pace(("stop",), 3.0)


def test_the_cost_has_a_limit() -> None:
    assert pace_cost(("oh",), 1000.0) == MOST_NATS
    assert pace_cost(("oh",), 0.0) <= MOST_NATS
