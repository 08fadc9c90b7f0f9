"""Two sets of weights: what one finds, the other judges.

Reference: two probabilities are pooled as their weighted geometric mean, the logarithmic opinion pool of C. Genest and
J. V. Zidek, "Combining probability distributions", Statistical Science 1(1), 1986 (from memory); the numbers are ours.
"""

import math
from collections.abc import Sequence

import numpy as np
import pytest

from handsfree.errors import ModelError
from handsfree.model.graph import Arc, WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.candidates import Candidate, SearchOutcome, Spotted
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import OVERRULED
from handsfree.recognition.models import locate
from handsfree.recognition.neural_decoder import EncodedUtterance
from handsfree.recognition.neural_engine import BOTH, NeuralEngine
from handsfree.recognition.neural_network import Network
from handsfree.recognition.rescoring import JUDGE_SHARE, RIVAL_NATS, RIVALS, Judgement
from handsfree.recognition.routing import KINDS
from handsfree.recognition.tokens import BEGIN, END
from handsfree.understanding.acceptance import probability_right
from handsfree.understanding.heat_words import CRY_TAG

GRAPH = WordGraph(0, frozenset({1}), (Arc(0, 1, "four"),), 2)
SEGMENT = Segment(b"\0\0" * 16000, 0.5, 1.0, 0.5, 0.4, 20.0)


def pooled(searcher: float, judge: float) -> float:
    """Logarithm of the weighted geometric mean."""
    return math.log(math.exp(searcher) ** (1 - JUDGE_SHARE) * math.exp(judge) ** JUDGE_SHARE)


def found(word: str, logprob: float, piece: int) -> Candidate:
    return Candidate(logprob, (Arc(0, 1, word, (f"option:{word}",)),), logprob, (piece,))


class Weights:
    """Finds what it is given, and scores pieces by a table; makes out "burning" where it is watched for."""

    def __init__(
        self, texts: tuple[Candidate, ...] = (), scores: dict[int, float] | None = None, burning: float = 0.0
    ) -> None:
        self.burning = Spotted("burning", burning) if burning else None
        self.name = "fake"
        self.texts = texts
        self.scores = scores or {}
        self.judged: list[Candidate] = []

    def prepare(self, graph: WordGraph) -> None:
        pass

    def encode(self, pcm: bytes) -> EncodedUtterance:
        return EncodedUtterance(np.zeros((1, 1, 1), np.float32), 1.0)

    def search(
        self, heard: EncodedUtterance, graph: WordGraph | None, speech_s: float, watched: WordGraph | None = None
    ) -> SearchOutcome:
        return SearchOutcome(self.texts, [], -0.5, self.burning if watched is not None else None)

    def judge(self, heard: EncodedUtterance, candidates: Sequence[Candidate]) -> list[Judgement]:
        self.judged = list(candidates)
        scores = [self.scores[candidate.tokens[0]] for candidate in candidates]
        return [Judgement(score, -score / 2, 0.25) for score in scores]

    def write(self, heard: EncodedUtterance) -> str:
        return "what was written"

    def text(self, tokens: list[int]) -> str:
        return "searched freely"


def hear(searcher: Weights, judge: Weights, graph: WordGraph = GRAPH) -> Hypothesis:
    return NeuralEngine(judge, searcher, dict.fromkeys(KINDS, "both")).recognise(SEGMENT, graph)


def test_the_text_that_both_find_likely_wins() -> None:
    searcher = Weights((found("four", -1.0, 4), found("five", -2.0, 5)))
    heard = hear(searcher, Weights(scores={4: -9.0, 5: -3.0}))
    assert (heard.words, heard.runner_up, heard.engine) == (("five",), ("four",), BOTH)
    evidence = heard.evidence
    assert evidence is not None
    assert evidence.margin == pytest.approx(pooled(-2.0, -3.0) - pooled(-1.0, -9.0))
    assert (evidence.free_gap, evidence.second_free_gap) == (pytest.approx(1.5), pytest.approx(1.5))
    assert (evidence.average_logprob, evidence.second_end_gap) == (pytest.approx(-1.0), 0.25)


def test_only_the_likeliest_meanings_are_judged() -> None:
    texts = tuple(found(f"word{number}", -float(number), number) for number in range(1, RIVALS + 3))
    judge = Weights(scores=dict.fromkeys(range(1, RIVALS + 3), -1.0))
    hear(Weights(texts), judge)
    assert judge.judged == list(texts[:RIVALS])
    behind = found("five", -1.0 - RIVAL_NATS, 5)
    hear(Weights((found("four", -1.0, 4), behind)), judge)
    assert [one.tokens for one in judge.judged] == [(4,)]


@pytest.mark.parametrize("score", [-0.5, -9.0])
def test_a_meaning_that_is_not_judged_stays_as_far_behind_as_it_was_found(score: float) -> None:
    texts = (found("four", -1.0, 4), found("five", -1.5 - RIVAL_NATS, 5))
    heard = hear(Weights(texts), Weights(scores={4: score}))
    assert (heard.words, heard.runner_up) == (("four",), ("five",))
    assert heard.evidence is not None
    assert heard.evidence.margin == pytest.approx(RIVAL_NATS + 0.5)


def test_what_the_judge_would_write_itself_is_asked_for_only_in_doubt() -> None:
    sure, doubted = (hear(Weights((found("four", score, 4),)), Weights(scores={4: score})) for score in (-0.5, -12.0))
    assert probability_right(doubted) < OVERRULED <= probability_right(sure)
    assert (sure.free_text, doubted.free_text) == (None, "what was written")


def test_one_meaning_has_no_rival() -> None:
    heard = hear(Weights((found("four", -1.0, 4),)), Weights(scores={4: -1.0}))
    assert heard.evidence is not None
    assert (heard.evidence.margin, heard.runner_up) == (math.inf, None)


def test_speech_that_fits_nothing_is_reported_with_the_text_of_the_judge() -> None:
    heard = hear(Weights(), Weights())
    assert (heard.words, heard.engine, heard.free_text) == ((), BOTH, "what was written")


CRIES = WordGraph(0, frozenset({1}), (Arc(0, 1, "four"), Arc(0, 1, "ouch", (CRY_TAG,))), 2)


@pytest.mark.parametrize(("searcher", "judge", "heat"), [(0.2, 0.1, 0.2), (0.1, 0.2, 0.2), (0.0, 0.0, 0.0)])
@pytest.mark.parametrize("texts", [(), (found("four", -12.0, 4),)])
def test_where_cries_are_listened_for_the_likelier_word_of_heat_of_both_is_told(
    searcher: float, judge: float, heat: float, texts: tuple[Candidate, ...]
) -> None:
    heard = hear(Weights(texts, burning=searcher), Weights(scores={4: -12.0}, burning=judge), CRIES)
    assert heard.heat == heat
    assert heard.runner_up == (("burning",) if heat else None)
    assert heard.free_text == "searched freely"


def test_a_faint_word_of_heat_takes_nobodys_place() -> None:
    texts = (found("four", -12.0, 4), found("five", -13.0, 5))
    judge = Weights(scores={4: -12.0, 5: -13.0})
    heard = hear(Weights(texts, burning=0.02), judge, CRIES)
    assert (heard.heat, heard.runner_up) == (0.02, ("five",))


def test_beyond_doubt_and_where_no_cries_are_listened_for_no_word_of_heat_is_told() -> None:
    sure = hear(Weights((found("four", -0.5, 4),), burning=0.2), Weights(scores={4: -0.5}), CRIES)
    elsewhere = hear(Weights((found("four", -12.0, 4),), burning=0.2), Weights(scores={4: -12.0}, burning=0.2))
    assert (sure.heat, elsewhere.heat) == (None, None)


@pytest.mark.parametrize("texts", [(), (found("four", -0.5, 4),)])
def test_one_set_of_weights_tells_it_too(texts: tuple[Candidate, ...]) -> None:
    alone = NeuralEngine(Weights(texts, burning=0.2))
    assert (alone.recognise(SEGMENT, CRIES).heat, alone.recognise(SEGMENT, GRAPH).heat) == (0.2, None)


@pytest.mark.sound
def test_texts_scored_at_once_are_as_likely_as_piece_by_piece() -> None:
    try:
        network = Network(locate())
    except ModelError as error:
        pytest.skip(str(error))
    encoding = network.encode(np.random.default_rng(1).normal(0, 0.05, 16000).astype(np.float32))
    texts = ((13, 300, 29889), (450,), ())
    together = network.score(encoding, texts, BEGIN, END)
    for number, text in enumerate(texts):
        logits, memory = network.begin(encoding, BEGIN)
        total = likeliest = 0.0
        for piece in text:
            total += float(logits[0, piece])
            likeliest += float(logits[0].max())
            logits, memory = network.advance(memory, [0], [piece])
        likeliest += float(logits[0].max())
        total += float(logits[0, END])
        last = float(logits[0].max() - logits[0, END])
        # Activations are rounded to the largest of each call, so that calls differ a little, and more with more texts.
        for (scores, behind), at, near in (
            (network.score(encoding, (text,), BEGIN, END), 0, 0.05 * (len(text) + 1) + 0.02 * abs(total)),
            (together, number, 1.0),
        ):
            assert (scores[at], behind[at].sum()) == (
                pytest.approx(total, abs=near),
                pytest.approx(likeliest - total, abs=near),
            )
            assert (len(behind[at]), behind[at][-1]) == (len(text) + 1, pytest.approx(last, abs=near))
