"""Two sets of weights hear one utterance: one searches, the other judges what was found.

Neither is right alone: the tuned weights hear more in noise but take other talk for commands, and the base knows
ordinary speech but hears less. Where both find the same text likely it is seldom wrong.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Protocol

from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.beam_search import SearchOutcome
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import OVERRULED, Engine, nothing_heard
from handsfree.recognition.neural_engine import EncodedUtterance, Judged, meanings, reported
from handsfree.understanding.decision import probability_right

NAME = "neural-both"
RIVALS = 3
RIVAL_NATS = 4.0
"""At most so many meanings are judged, and none that is this much less likely than the likeliest."""
JUDGE_SHARE = 0.4
"""Weight of the judge's log-probability of a text in its score; the rest is the searcher's."""


class Searcher(Engine, Protocol):
    """Finds texts; `NeuralEngine` does."""

    def look_for(self, segment: Segment, graph: WordGraph) -> SearchOutcome:
        """Every likely text among what the graph allows."""


class Judge(Engine, Protocol):
    """Says how likely texts are that others found; `NeuralEngine` does."""

    def hear(self, segment: Segment) -> EncodedUtterance:
        """An utterance, ready to be judged."""

    def judge(self, heard: EncodedUtterance, texts: list[tuple[int, ...]]) -> list[Judged]:
        """How likely texts are."""

    def written(self, heard: EncodedUtterance) -> str:
        """An utterance without a graph."""


class RescoringEngine:
    """An engine of two.

    Args:
        searcher: Finds the likely texts.
        judge: Scores them; must read sound in pieces of the same vocabulary. Writes notes down.
    """

    def __init__(self, searcher: Searcher, judge: Judge) -> None:
        self._searcher = searcher
        self._judge = judge
        # Both listen at once: on two cores the second costs little time.
        self._beside = ThreadPoolExecutor(1, "second-weights")

    @property
    def name(self) -> str:
        """See `Engine.name`."""
        return NAME

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`."""
        self._searcher.prepare(graph)

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        """See `Engine.recognise`."""
        hearing = self._beside.submit(self._judge.hear, segment)
        outcome = self._searcher.look_for(segment, graph)
        heard = hearing.result()
        if not outcome.found:
            return nothing_heard(segment, NAME, self._judge.written(heard))
        found = meanings(outcome)
        first, best = found[0]
        pieces = [text.tokens for text, score in found[:RIVALS] if score > best - RIVAL_NATS]
        second = dict(zip(pieces, self._judge.judge(heard, pieces), strict=True))
        # What is not judged is taken to be as much likelier or less likely to the judge as the first.
        unjudged = second[first.tokens].logprob - first.logprob
        ranked = [
            (text, score + JUDGE_SHARE * (one.logprob - text.logprob if one is not None else unjudged))
            for text, score, one in ((text, score, second.get(text.tokens)) for text, score in found)
        ]
        ranked.sort(key=lambda item: item[1], reverse=True)
        judged = second[ranked[0][0].tokens]
        hypothesis = reported(segment, NAME, ranked, outcome.free_logprob, None, judged)
        if probability_right(hypothesis) >= OVERRULED:
            return hypothesis
        return replace(hypothesis, free_text=self._judge.written(heard))

    def write_down(self, pcm: bytes) -> str:
        """See `Engine.write_down`."""
        return self._judge.write_down(pcm)
