"""The neural engine: constrained and free decoding of one utterance."""

import math
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.automaton import Automaton
from handsfree.recognition.beam_search import Found, SearchOutcome, search
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import nothing_heard
from handsfree.recognition.models import locate
from handsfree.recognition.neural_network import Floats, Network
from handsfree.recognition.same_meaning import same_meaning_key
from handsfree.recognition.tokens import BEGIN, END, read_vocabulary

NAME = "neural"
_COMPILED_KEPT = 32


@dataclass(frozen=True, slots=True)
class EncodedUtterance:
    """An utterance as one set of weights hears it.

    Attributes:
        encoding: From `Network.encode`.
        seconds: Length of the sound.
    """

    encoding: Floats
    seconds: float


@dataclass(frozen=True, slots=True)
class Judged:
    """What one set of weights makes of a text.

    Attributes:
        logprob: Natural-log probability of the text.
        gap: How much less likely its pieces are than the likeliest in each place, nats; 0 for what these weights would
            have written themselves.
        end_gap: The share of it where the text ends: large where they would have gone on.
    """

    logprob: float
    gap: float
    end_gap: float


class NeuralEngine:
    """Searches the word graph with a neural network.

    Args:
        folder: Where its weights are; None finds the installed default.
        name: What `Hypothesis.engine` says; decisions have weights of their own for each name.

    Raises:
        ModelError: The weights or onnxruntime are not installed, or cannot be loaded.
    """

    def __init__(self, folder: Path | None = None, name: str = NAME) -> None:
        folder = folder or locate()
        self._name = name
        self._network = Network(folder)
        self._vocabulary = read_vocabulary(folder / "tokenizer.bin")
        self._compiled: OrderedDict[str, Automaton] = OrderedDict()

    @property
    def name(self) -> str:
        """See `Engine.name`."""
        return self._name

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`. Every word can be heard."""
        automaton = self._automaton(graph)
        automaton.steps(automaton.start)

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        """See `Engine.recognise`."""
        outcome = self.look_for(segment, graph)
        free_text = self._vocabulary.text(outcome.free_tokens)
        if not outcome.found:
            return nothing_heard(segment, self._name, free_text)
        return reported(segment, self._name, meanings(outcome), outcome.free_logprob, free_text)

    def look_for(self, segment: Segment, graph: WordGraph) -> SearchOutcome:
        """Every likely text among what the graph allows."""
        samples = _samples(segment.pcm)
        return search(
            self._network,
            self._network.encode(samples),
            self._automaton(graph),
            len(samples) / SAMPLE_RATE_HZ,
            segment.speech_s,
        )

    def hear(self, segment: Segment) -> EncodedUtterance:
        """An utterance, ready to be judged."""
        samples = _samples(segment.pcm)
        return EncodedUtterance(self._network.encode(samples), len(samples) / SAMPLE_RATE_HZ)

    def judge(self, heard: EncodedUtterance, texts: Sequence[Sequence[int]]) -> list[Judged]:
        """How likely texts are that others have found.

        Args:
            heard: From `hear`.
            texts: Pieces of each text, at least one text.
        """
        scores = self._network.score(heard.encoding, texts, BEGIN, END)
        return [
            Judged(float(logprob), float(behind.sum()), float(behind[-self._closing_pieces(text) :].sum()))
            for text, logprob, behind in zip(texts, *scores, strict=True)
        ]

    def _closing_pieces(self, text: Sequence[int]) -> int:
        """How many places say that a text ends: the end itself, and a full stop before it."""
        return 2 if text and self._vocabulary.text([text[-1]]).strip() == "." else 1

    def written(self, heard: EncodedUtterance) -> str:
        """What these weights would write without a graph."""
        free = search(self._network, heard.encoding, None, heard.seconds)
        return self._vocabulary.text(free.free_tokens)

    def write_down(self, pcm: bytes) -> str:
        """See `Engine.write_down`."""
        samples = _samples(pcm)
        outcome = search(self._network, self._network.encode(samples), None, len(samples) / SAMPLE_RATE_HZ)
        return self._vocabulary.text(outcome.free_tokens)

    def _automaton(self, graph: WordGraph) -> Automaton:
        found = self._compiled.pop(graph.key, None)
        if found is None:
            found = Automaton(graph, self._vocabulary.tree)
        self._compiled[graph.key] = found
        if len(self._compiled) > _COMPILED_KEPT:
            self._compiled.popitem(last=False)
        return found


def meanings(outcome: SearchOutcome) -> list[tuple[Found, float]]:
    """The likeliest meanings, each with its best text and the score of all its texts together.

    "Six, one, five." and "615" are one reading written twice: what speaks for either speaks for both.
    """
    texts: dict[tuple[str, ...], list[Found]] = {}
    for found in outcome.found:
        texts.setdefault(same_meaning_key(found.tags), []).append(found)
    scored = [(several[0], float(np.logaddexp.reduce([text.score for text in several]))) for several in texts.values()]
    scored.sort(key=lambda item: item[1], reverse=True)
    return scored


def reported(
    segment: Segment,
    engine: str,
    ranked: Sequence[tuple[Found, float]],
    free_logprob: float,
    free_text: str | None,
    judged: Judged | None = None,
) -> Hypothesis:
    """The first of the ranked meanings, with what speaks for it.

    Args:
        segment: The utterance.
        engine: Who heard it.
        ranked: Meanings with their scores, the likeliest first; at least one.
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


def _samples(pcm: bytes) -> Floats:
    return np.frombuffer(pcm, dtype="<i2").astype(np.float32) / np.float32(32768.0)
