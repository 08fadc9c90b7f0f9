"""Words that may stand where another was written, against a small network whose probabilities are written down here.

Source of the expected figures: the product of the probabilities of its pieces and of a boundary after it, by hand.
"""

import pytest
from recognition_helpers import phrases

from handsfree.recognition.tokens import END, Vocabulary

np = pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")

from handsfree.recognition.beam_search import search  # noqa: E402 - needs numpy
from handsfree.recognition.word_watch import WatchedWords  # noqa: E402 - needs numpy

SPARE = [b""] * 259
TEXTS = ["\u2581it", "\u2581turns", "\u2581burn", "s", "\u2581hot", "el", ".", "\u2581here", "hot"]
PIECES = Vocabulary([*SPARE, *(text.encode() for text in TEXTS)])
IT, TURNS, BURN, S, HOT, EL, STOP, HERE, END_OF_SHOT = range(len(SPARE), len(SPARE) + len(TEXTS))
WATCHED = WatchedWords(phrases(("burns", "a"), ("burn", "b"), ("hot", "c")), PIECES)


class TableNetwork:
    """The next piece depends on the last one only; the likeliest text is "it turns.", whatever is watched for."""

    def __init__(self, rows):
        self.table = np.full((len(SPARE) + len(TEXTS),) * 2, 1e-9, dtype=np.float32)
        for piece, following in rows.items():
            for to, probability in following.items():
                self.table[piece, to] = probability
        self.table = np.log(self.table)
        self.asked = []

    def begin(self, encoding, token):
        del encoding
        return self.table[[token]], [token]

    def advance(self, memory, rows, tokens):
        assert all(0 <= row < len(memory) for row in rows)
        self.asked.append(len(rows))
        return self.table[tokens], list(tokens)


TURNS_OR_BURNS = {
    1: {IT: 0.9, HOT: 0.1},
    IT: {TURNS: 0.7, BURN: 0.2, HOT: 0.1},
    TURNS: {STOP: 0.9, END: 0.1},
    STOP: {END: 1.0},
    BURN: {S: 0.75, HERE: 0.25},
    S: {END: 0.6, STOP: 0.4},
    HOT: {EL: 0.9, END: 0.1},
    EL: {END: 1.0},
}


def heard(rows, watched=WATCHED):
    return search(TableNetwork(rows), np.zeros((1, 1, 1)), None, 0.0, watched=watched)


def test_the_words_that_may_stand_in_one_place_count_together():
    found = heard(TURNS_OR_BURNS)
    # In the place of "turns": "burns" .2 * .75, "burn" .2 * .25 before a blank, "hot" .1 * .1 at the end.
    assert found.spotted.probability == pytest.approx(0.15 + 0.05 + 0.01, abs=1e-3)
    assert found.spotted.word == "burns"


def test_the_text_is_what_it_would_have_been():
    assert heard(TURNS_OR_BURNS).free_tokens == heard(TURNS_OR_BURNS, None).free_tokens == [IT, TURNS, STOP]
    assert heard(TURNS_OR_BURNS, None).spotted is None


def test_the_beginning_of_another_word_is_none():
    found = heard({1: {IT: 0.4, HOT: 0.6}, HOT: {EL: 1.0}, EL: {END: 1.0}})
    assert found.spotted is None or found.spotted.probability < 1e-3


def test_the_end_of_another_word_is_none():
    found = heard({1: {IT: 0.4, S: 0.6}, S: {END_OF_SHOT: 1.0}, END_OF_SHOT: {END: 1.0}})
    assert found.free_tokens == [S, END_OF_SHOT]
    assert found.spotted is None


def test_a_word_that_was_written_itself_is_certain():
    found = heard({1: {HOT: 1.0}, HOT: {STOP: 0.5, END: 0.5}, STOP: {END: 1.0}})
    assert found.free_tokens[0] == HOT
    assert found.spotted.probability == pytest.approx(1.0, abs=1e-3)


def test_a_word_that_ends_after_the_text_is_followed_to_its_end():
    found = heard({1: {END: 0.6, BURN: 0.4}, BURN: {S: 1.0}, S: {END: 1.0}})
    assert found.free_tokens == []
    assert found.spotted.probability == pytest.approx(0.4, abs=1e-3)


def test_what_is_hardly_likely_costs_nothing():
    network = TableNetwork({1: {IT: 1.0, HOT: 0.001}, IT: {END: 1.0}})
    assert search(network, np.zeros((1, 1, 1)), None, 0.0, watched=WATCHED).spotted is None
    assert network.asked == [1]
