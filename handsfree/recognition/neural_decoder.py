"""One set of weights of the neural network, and what it can do with an utterance: search, judge, write."""

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.model.graph import WordGraph
from handsfree.recognition.automaton import Automaton
from handsfree.recognition.beam_search import search
from handsfree.recognition.candidates import Candidate, SearchOutcome
from handsfree.recognition.neural_network import Floats, Network
from handsfree.recognition.rescoring import Judgement
from handsfree.recognition.tokens import BEGIN, END, read_vocabulary
from handsfree.recognition.word_watch import WatchedWords

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


class NeuralDecoder:
    """A network with one set of weights.

    Args:
        folder: Where they are.
        name: What `Hypothesis.engine` says where these weights hear alone; decisions have weights of their own for
            each name.

    Raises:
        ModelError: The weights or onnxruntime are not installed, or cannot be loaded.
    """

    def __init__(self, folder: Path, name: str) -> None:
        self.name = name
        self._network = Network(folder)
        self._vocabulary = read_vocabulary(folder / "tokenizer.bin")
        self._compiled: OrderedDict[str, Automaton] = OrderedDict()
        self._watched: dict[str, WatchedWords] = {}

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`. Every word can be heard."""
        automaton = self._automaton(graph)
        automaton.steps(automaton.start)

    def encode(self, pcm: bytes) -> EncodedUtterance:
        """Hear an utterance: 16-bit mono samples at 16 kHz."""
        samples = np.frombuffer(pcm, dtype="<i2").astype(np.float32) / np.float32(32768.0)
        return EncodedUtterance(self._network.encode(samples), len(samples) / SAMPLE_RATE_HZ)

    def search(
        self, heard: EncodedUtterance, graph: WordGraph | None, speech_s: float, watched: WordGraph | None = None
    ) -> SearchOutcome:
        """Every likely text among what the graph allows; see `beam_search.search`.

        Args:
            heard: The utterance.
            graph: What may be said, or None to write freely only.
            speech_s: Seconds of speech in it.
            watched: Words to look out for in what would be written freely; each sentence is one word.
        """
        automaton = self._automaton(graph) if graph is not None else None
        words = self._watched_words(watched) if watched is not None else None
        return search(self._network, heard.encoding, automaton, heard.seconds, speech_s, watched=words)

    def judge(self, heard: EncodedUtterance, candidates: Sequence[Candidate]) -> list[Judgement]:
        """How likely texts are that others have found; at least one."""
        texts = [candidate.tokens for candidate in candidates]
        scores = self._network.score(heard.encoding, texts, BEGIN, END)
        return [
            Judgement(float(logprob), float(behind.sum()), float(behind[-self._closing_pieces(text) :].sum()))
            for text, logprob, behind in zip(texts, *scores, strict=True)
        ]

    def _closing_pieces(self, text: Sequence[int]) -> int:
        """How many places say that a text ends: the end itself, and a full stop before it."""
        return 2 if text and self.text([text[-1]]) == "." else 1

    def write(self, heard: EncodedUtterance) -> str:
        """What these weights would write without a graph."""
        return self.text(search(self._network, heard.encoding, None, heard.seconds).free_tokens)

    def text(self, tokens: list[int]) -> str:
        """The text of a run of pieces."""
        return self._vocabulary.text(tokens)

    def _watched_words(self, graph: WordGraph) -> WatchedWords:
        found = self._watched.get(graph.key)
        if found is None:
            found = self._watched[graph.key] = WatchedWords(graph, self._vocabulary)
        return found

    def _automaton(self, graph: WordGraph) -> Automaton:
        found = self._compiled.pop(graph.key, None)
        if found is None:
            found = Automaton(graph, self._vocabulary.tree)
        self._compiled[graph.key] = found
        if len(self._compiled) > _COMPILED_KEPT:
            self._compiled.popitem(last=False)
        return found
