"""The neural engine: for each kind of graph one set of weights searches, and another judges the candidates or not."""

import math
from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from typing import Protocol

from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.candidates import Candidate, Ranked, SearchOutcome, Spotted, by_meaning
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import OVERRULED, nothing_heard
from handsfree.recognition.general_network import Encoding
from handsfree.recognition.neural_decoder import EncodedUtterance
from handsfree.recognition.opinion import Opinion
from handsfree.recognition.rescoring import Judgement, rescored, to_judge, with_third
from handsfree.recognition.routing import KINDS, kind_of
from handsfree.understanding.acceptance import least_heat, probability_right
from handsfree.understanding.heat_words import CRY_TAG, watched_words

BASE = "neural"
TUNED = "neural-tuned"
BOTH = "neural-both"
THREE = "neural-three"
"""What `Hypothesis.engine` says, by the weights that heard it."""


class Decoder(Protocol):
    """What the engine asks of a set of weights. `NeuralDecoder` is the real one."""

    name: str

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`."""

    def encode(self, pcm: bytes) -> EncodedUtterance:
        """Hear an utterance."""

    def search(
        self, heard: EncodedUtterance, graph: WordGraph | None, speech_s: float, watched: WordGraph | None = None
    ) -> SearchOutcome:
        """Every likely text among what the graph allows, if there is one; words to look out for beside it."""

    def judge(self, heard: EncodedUtterance, candidates: Sequence[Candidate]) -> list[Judgement]:
        """How likely texts are that others have found."""

    def write(self, heard: EncodedUtterance) -> str:
        """What these weights would write without a graph."""

    def text(self, tokens: list[int]) -> str:
        """The text of a run of pieces."""


class Third(Protocol):
    """What the engine asks of weights of another family. `ThirdOpinion` is the real one."""

    def hear(self, pcm: bytes) -> Encoding:
        """Hear an utterance."""

    def judge(self, heard: Encoding, sentences: Sequence[Sequence[str]]) -> list[Opinion]:
        """How likely sentences are, each given by its words."""


class NeuralEngine:
    """An engine with one set of weights, two or three.

    Args:
        base: The weights that write notes down, and judge where two hear a graph.
        tuned: Others; must read sound in pieces of the same vocabulary.
        use: Which hear each kind of graph, as from `routing.choice`; None: the base hears all.
        third: Weights of another family; None: nobody else is asked.
    """

    def __init__(
        self,
        base: Decoder,
        tuned: Decoder | None = None,
        use: Mapping[str, str] | None = None,
        third: Third | None = None,
    ) -> None:
        tuned = tuned or base
        self._base = base
        # Who searches, and who judges.
        ways: dict[str, tuple[Decoder, Decoder | None]] = {
            "base": (base, None),
            "tuned": (tuned, None),
            "both": (tuned, base),
            "three": (tuned, base),
        }
        self._routes = {kind: ways[use[kind] if use is not None else "base"] for kind in KINDS}
        self._third = third
        self._asking = frozenset(kind for kind in KINDS if use is not None and use[kind] == "three")
        self._kinds: dict[str, str] = {}
        self._hears_cries: dict[str, bool] = {}
        # All listen at once: on two cores the others cost little time.
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
        watched = self._watched(graph)
        outcome = searcher.search(searcher.encode(segment.pcm), graph, segment.speech_s, watched)
        free_text = searcher.text(outcome.free_tokens)
        hypothesis = (
            _reported(segment, searcher.name, by_meaning(outcome.candidates), outcome.free_logprob, free_text)
            if outcome.candidates
            else nothing_heard(segment, searcher.name, free_text)
        )
        return hypothesis if watched is None else _with_heat(hypothesis, (outcome.spotted,))

    def write_down(self, pcm: bytes) -> str:
        """See `Engine.write_down`."""
        return self._base.write(self._base.encode(pcm))

    def _judged(self, segment: Segment, graph: WordGraph, searcher: Decoder, judge: Decoder) -> Hypothesis:
        hearing = self._beside.submit(judge.encode, segment.pcm)
        third = self._hearing_third(segment, graph)
        watched = self._watched(graph)
        outcome = searcher.search(searcher.encode(segment.pcm), graph, segment.speech_s, watched)
        heard = hearing.result()
        if not outcome.candidates:
            return self._doubted(nothing_heard(segment, BOTH), heard, judge, watched, outcome)
        found = by_meaning(outcome.candidates)
        asked = to_judge(found)
        judgements = judge.judge(heard, asked)
        ranked = rescored(found, asked, judgements)
        opinions: list[Opinion] | None = None
        if third is not None:
            opinions = third[0].judge(third[1].result(), [text.words for text in asked])
            ranked = with_third(ranked, asked, opinions)
        place = next(number for number, text in enumerate(asked) if text is ranked[0][0])
        hypothesis = _reported(segment, BOTH, ranked, outcome.free_logprob, None, judgements[place])
        if opinions is not None:
            hypothesis = _with_opinion(hypothesis, opinions, place)
        # What the judge would write is asked for only in doubt: it costs as much as a search.
        if probability_right(hypothesis) >= OVERRULED:
            return hypothesis
        return self._doubted(hypothesis, heard, judge, watched, outcome)

    def _doubted(
        self,
        hypothesis: Hypothesis,
        heard: EncodedUtterance,
        judge: Decoder,
        watched: WordGraph | None,
        outcome: SearchOutcome,
    ) -> Hypothesis:
        """With what the judge would write, and the likeliest word of heat that either set of weights makes out."""
        if watched is None:
            return replace(hypothesis, free_text=judge.write(heard))
        freely = judge.search(heard, None, 0.0, watched)
        written = replace(hypothesis, free_text=judge.text(freely.free_tokens))
        return _with_heat(written, (outcome.spotted, freely.spotted))

    def _watched(self, graph: WordGraph) -> WordGraph | None:
        """The words to look out for where cries are listened for."""
        hears = self._hears_cries.get(graph.key)
        if hears is None:
            hears = self._hears_cries[graph.key] = any(CRY_TAG in arc.tags for arc in graph.arcs)
        return watched_words() if hears else None

    def _hearing_third(self, segment: Segment, graph: WordGraph) -> tuple[Third, Future[Encoding]] | None:
        """The third weights and what they are about to hear, where they are asked about this graph."""
        if self._third is None or self._kind(graph) not in self._asking:
            return None
        return self._third, self._beside.submit(self._third.hear, segment.pcm)

    def _route(self, graph: WordGraph) -> tuple[Decoder, Decoder | None]:
        return self._routes[self._kind(graph)]

    def _kind(self, graph: WordGraph) -> str:
        kind = self._kinds.get(graph.key)
        if kind is None:
            kind = self._kinds[graph.key] = kind_of(graph)
        return kind


def _with_opinion(hypothesis: Hypothesis, opinions: Sequence[Opinion], place: int) -> Hypothesis:
    """What was heard, with the third opinion on it beside the opinion on its rivals."""
    own = opinions[place]
    others = [opinion.logprob for number, opinion in enumerate(opinions) if number != place]
    assert hypothesis.evidence is not None  # noqa: S101 - `_reported` always gives it
    evidence = replace(
        hypothesis.evidence,
        third_margin=own.logprob - max(others, default=-math.inf),
        third_gap=own.gap,
        third_end_gap=own.end_gap,
    )
    return replace(hypothesis, engine=THREE, evidence=evidence)


def _with_heat(hypothesis: Hypothesis, found: Sequence[Spotted | None]) -> Hypothesis:
    """With the likeliest word of heat, which stands as runner-up where it is likely enough to count."""
    best = max((one for one in found if one is not None), key=lambda one: one.probability, default=None)
    if best is None:
        return replace(hypothesis, heat=0.0)
    rival = (best.word,) if best.probability >= least_heat() else hypothesis.runner_up
    return replace(hypothesis, heat=best.probability, runner_up=rival)


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
