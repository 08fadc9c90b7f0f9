"""How fast words are said: whether so many can have been said in so much speech.

A decoder that writes text may end too early or leave words out, and be sure of it; the seconds of speech tell.
"""

import re
from collections.abc import Sequence
from functools import lru_cache
from math import log

# Source: our own measurement of detected speech, real people: 395 single words of one syllable, median 0.48 s; 201
# readings of three joined digits, medians 1.25 s with three syllables, 1.38 s with four. Synthetic voices that say
# whole sentences are faster; the free range below covers both.
_PAUSE_S = 0.12
_WORD_S = 0.15
_SYLLABLE_S = 0.17
_FREE_FASTER = 0.55
_FREE_SLOWER = 0.55
"""Natural log of how far from the expected length speech may be before it counts against the words."""
_SPREAD = 0.2
MOST_NATS = 12.0

_VOWELS = re.compile("[aeiouy]+")
_SILENT_E = re.compile("(?<=[^aeiouyl])e$|(?<=[aeiou]l)e$")


@lru_cache(maxsize=4096)
def syllables(word: str) -> int:
    """Syllables of an English word, counted by its groups of vowel letters; at least 1."""
    return max(1, len(_VOWELS.findall(_SILENT_E.sub("", word.lower()))))


def pace(words: Sequence[str], speech_s: float) -> float:
    """Natural log of the speech heard over the speech that the words take at a middling rate.

    Args:
        words: What is thought to have been said; at least one.
        speech_s: Seconds of speech.

    Returns:
        0 for a middling rate; above it, there is more speech than words; below it, less.
    """
    expected_s = _PAUSE_S + sum(_WORD_S + _SYLLABLE_S * syllables(word) for word in words)
    return log(max(speech_s, 0.03) / expected_s)


def pace_cost(words: Sequence[str], speech_s: float) -> float:
    """How much less likely the words are for being said at an unlikely rate, nats, 0 … `MOST_NATS`."""
    rate = pace(words, speech_s)
    beyond = max(0.0, rate - _FREE_SLOWER, -rate - _FREE_FASTER)
    return min(MOST_NATS, (beyond / _SPREAD) ** 2 / 2)
