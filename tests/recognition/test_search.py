"""Beam search against a small network whose probabilities are written down here, and exhaustive search over it.

Source of the expected figures: the sum of the log-probabilities of every allowed text, computed here by brute force.
"""

import itertools
import math

import pytest
from recognition_helpers import phrases

from handsfree.recognition.automaton import Automaton
from handsfree.recognition.beam_search import ENOUGH_NATS, search
from handsfree.recognition.tokens import END, Vocabulary

np = pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")

SPARE = [b""] * 259
PIECES = [b"\xe2\x96\x81on", b"\xe2\x96\x81off", b"\xe2\x96\x81o", b"n", b"ff", b"\xe2\x96\x81stop", b"."]
VOCABULARY = Vocabulary([*SPARE, *PIECES])
FIRST = len(SPARE)
SIZE = FIRST + len(PIECES)


class TableNetwork:
    """The next piece depends on the last one only."""

    def __init__(self, seed: int) -> None:
        rows = np.random.default_rng(seed).normal(0, 2, (SIZE, SIZE)).astype(np.float32)
        rows[:, 3:FIRST] = -50
        self.table = rows - np.log(np.exp(rows).sum(axis=1, keepdims=True))
        self.table[:, : END - 1] = -50

    def begin(self, encoding, token):
        return self.table[[token]], [token]

    def advance(self, memory, rows, tokens):
        assert all(0 <= row < len(memory) for row in rows)
        return self.table[tokens], list(tokens)

    def logprob(self, tokens):
        return float(sum(self.table[a, b] for a, b in itertools.pairwise((1, *tokens, END))))


def every_text(network: TableNetwork, longest: int) -> dict[str, float]:
    """Log-probability of the likeliest pieces of each allowed phrase, by trying all runs of pieces."""
    best: dict[str, float] = {}
    for count in range(1, longest + 1):
        for tokens in itertools.product(range(FIRST, SIZE), repeat=count):
            text = b"".join(PIECES[token - FIRST] for token in tokens).decode().replace("\u2581", " ")
            phrase = text.strip().rstrip(".")
            if phrase in ("on", "off", "stop") and text.startswith(" "):
                best[phrase] = max(best.get(phrase, -math.inf), network.logprob(tokens))
    return best


@pytest.mark.parametrize("seed", range(12))
def test_finds_what_trying_everything_finds(seed: int) -> None:
    network = TableNetwork(seed)
    graph = phrases(("on", "a"), ("off", "b"), ("stop", "c"))
    outcome = search(network, np.zeros((1, 1, 1)), Automaton(graph, VOCABULARY.tree), 0.0, beams=30)
    expected = every_text(network, 4)
    ranked = sorted(expected, key=expected.__getitem__, reverse=True)
    assert outcome.candidates[0].words == (ranked[0],)
    assert outcome.candidates[0].logprob == pytest.approx(expected[ranked[0]], abs=1e-3)
    if expected[ranked[0]] - expected[ranked[1]] < ENOUGH_NATS - 1:
        second = next(one for one in outcome.candidates if one.words != (ranked[0],))
        assert second.words == (ranked[1],)
        assert second.logprob == pytest.approx(expected[ranked[1]], abs=1e-3)


def test_free_decoding_takes_the_likeliest_piece_each_time() -> None:
    network = TableNetwork(3)
    outcome = search(network, np.zeros((1, 1, 1)), None, 0.0)
    token, expected, count = 1, 0.0, 0
    while token != END and count < 8:
        following = int(network.table[token].argmax())
        expected += float(network.table[token, following])
        token, count = following, count + 1
    assert outcome.free_logprob == pytest.approx(expected, abs=1e-3)
    assert outcome.candidates == ()


def test_a_graph_with_nothing_to_say_finds_nothing() -> None:
    graph = phrases(("unheard", "a"))
    outcome = search(TableNetwork(0), np.zeros((1, 1, 1)), Automaton(graph, VOCABULARY.tree), 1.0)
    assert outcome.candidates == ()


def test_a_text_too_short_for_the_speech_loses_to_a_longer_one() -> None:
    network = TableNetwork(3)
    stop, on = FIRST + 5, FIRST
    network.table[[1, on, stop]] = -20.0
    network.table[1, [on, stop]] = -0.5, -2.0
    network.table[on, END] = network.table[stop, END] = -0.1
    graph = phrases(("on", "a"), ("stop", "b"))
    automaton = Automaton(graph, VOCABULARY.tree)
    nothing = np.zeros((1, 1, 1))
    assert search(network, nothing, automaton, 0.0).candidates[0].words == ("on",)
    long = Automaton(phrases(("on", "a"), ("stop on", "b")), VOCABULARY.tree)
    network.table[stop, on] = -0.1
    assert search(network, nothing, long, 0.0, speech_s=0.4).candidates[0].words == ("on",)
    assert search(network, nothing, long, 0.0, speech_s=1.6).candidates[0].words == ("stop", "on")


def test_rare_words_must_be_clearer_than_common_ones() -> None:
    network = TableNetwork(3)
    oh, on = FIRST + 2, FIRST
    network.table[[1, on, oh]] = -20.0
    network.table[1, [on, oh]] = -1.5, -0.5
    network.table[on, END] = network.table[oh, END] = -0.1
    pieces = Vocabulary([*SPARE, b"\xe2\x96\x81on", b"\xe2\x96\x81off", b"\xe2\x96\x81oh"])
    outcome = search(network, np.zeros((1, 1, 1)), Automaton(phrases(("on", "a"), ("oh", "b")), pieces.tree), 0.0)
    assert [one.words for one in outcome.candidates] == [("on",), ("oh",)]
    assert outcome.candidates[1].logprob > outcome.candidates[0].logprob
