"""The neural engine: for each kind of graph one set of weights searches, and another judges the candidates or not."""

import math
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Protocol

from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.candidates import Candidate, Ranked, SearchOutcome, by_meaning
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import OVERRULED, nothing_heard
from handsfree.recognition.neural_decoder import EncodedUtterance
from handsfree.recognition.rescoring import Judgement, rescored, to_judge
from handsfree.recognition.routing import KINDS, kind_of
from handsfree.understanding.acceptance import probability_right

BASE = "neural"
TUNED = "neural-tuned"
BOTH = "neural-both"
"""What `Hypothesis.engine` says, by the weights that heard it."""


class Decoder(Protocol):
    """What the engine asks of a set of weights. `NeuralDecoder` is the real one."""

    name: str

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`."""

    def encode(self, pcm: bytes) -> EncodedUtterance:
        """Hear an utterance."""

    def search(self, heard: EncodedUtterance, graph: WordGraph, speech_s: float) -> SearchOutcome:
        """Every likely text among what the graph allows."""

    def judge(self, heard: EncodedUtterance, candidates: Sequence[Candidate]) -> list[Judgement]:
        """How likely texts are that others have found."""

    def write(self, heard: EncodedUtterance) -> str:
        """What these weights would write without a graph."""

    def text(self, tokens: list[int]) -> str:
        """The text of a run of pieces."""


class NeuralEngine:
    """An engine with one set of weights or two.

    Args:
        base: The weights that write notes down, and judge where two hear a graph.
        tuned: Others; must read sound in pieces of the same vocabulary.
        use: Which hear each kind of graph, as from `routing.choice`; None: the base hears all.
    """

    def __init__(self, base: Decoder, tuned: Decoder | None = None, use: Mapping[str, str] | None = None) -> None:
        tuned = tuned or base
        self._base = base
        # Who searches, and who judges.
        ways: dict[str, tuple[Decoder, Decoder | None]] = {
            "base": (base, None),
            "tuned": (tuned, None),
            "both": (tuned, base),
        }
        self._routes = {kind: ways[use[kind] if use is not None else "base"] for kind in KINDS}
        self._kinds: dict[str, str] = {}
        # Both listen at once: on two cores the second costs little time.
        self._beside = ThreadPoolExecutor(1, "judge")

    @property
    def name(self) -> str:
        """See `Engine.name`."""
        return self._base.name

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`."""
        searcher, _ = self._route(graph)
        searcher.prepare(graph)

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        """See `Engine.recognise`."""
        searcher, judge = self._route(graph)
        if judge is not None:
            return self._judged(segment, graph, searcher, judge)
        outcome = searcher.search(searcher.encode(segment.pcm), graph, segment.speech_s)
        free_text = searcher.text(outcome.free_tokens)
        if not outcome.candidates:
            return nothing_heard(segment, searcher.name, free_text)
        return _reported(segment, searcher.name, by_meaning(outcome.candidates), outcome.free_logprob, free_text)

    def write_down(self, pcm: bytes) -> str:
        """See `Engine.write_down`."""
        return self._base.write(self._base.encode(pcm))

    def _judged(self, segment: Segment, graph: WordGraph, searcher: Decoder, judge: Decoder) -> Hypothesis:
        hearing = self._beside.submit(judge.encode, segment.pcm)
        outcome = searcher.search(searcher.encode(segment.pcm), graph, segment.speech_s)
        heard = hearing.result()
        if not outcome.candidates:
            return nothing_heard(segment, BOTH, judge.write(heard))
        found = by_meaning(outcome.candidates)
        asked = to_judge(found)
        judgements = judge.judge(heard, asked)
        ranked = rescored(found, asked, judgements)
        of_best = next(one for text, one in zip(asked, judgements, strict=True) if text is ranked[0][0])
        hypothesis = _reported(segment, BOTH, ranked, outcome.free_logprob, None, of_best)
        # What the judge would write is asked for only in doubt: it costs as much as a search.
        if probability_right(hypothesis) >= OVERRULED:
            return hypothesis
        return replace(hypothesis, free_text=judge.write(heard))

    def _route(self, graph: WordGraph) -> tuple[Decoder, Decoder | None]:
        kind = self._kinds.get(graph.key)
        if kind is None:
            kind = self._kinds[graph.key] = kind_of(graph)
        return self._routes[kind]


def _reported(
    segment: Segment,
    engine: str,
    ranked: Ranked,
    free_logprob: float,
    free_text: str | None,
    judged: Judgement | None = None,
) -> Hypothesis:
    """The first of the ranked meanings, with what speaks for it.

    Args:
        segment: The utterance.
        engine: Who heard it.
        ranked: At least one.
        free_logprob: Of the text without a graph, by the weights that searched.
        free_text: That text, or a better one; None where nobody asked for it.
        judged: What other weights make of the first, where they were asked.
    """
    best, score = ranked[0]
    rival = ranked[1] if len(ranked) > 1 else None
    return Hypothesis(
        words=best.words,
        tags=best.tags,
        spoken_from_s=segment.speech_from_s,
        spoken_to_s=segment.speech_to_s,
        engine=engine,
        evidence=Evidence(
            average_logprob=best.average_logprob,
            free_gap=free_logprob - best.logprob,
            margin=max(0.0, score - rival[1]) if rival is not None else math.inf,
            speech_s=segment.speech_s,
            signal_to_noise_db=segment.signal_to_noise_db,
            second_free_gap=judged.gap if judged is not None else None,
            second_end_gap=judged.end_gap if judged is not None else None,
        ),
        runner_up=rival[0].words if rival is not None else None,
        free_text=free_text,
        clip=segment.pcm,
    )
