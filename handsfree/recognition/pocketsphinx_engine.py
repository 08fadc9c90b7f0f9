"""The light engine: hidden Markov models with weights inside its package. Less accurate; needs no download.

Its scores are no probabilities of text, so they are put on the scales of the neural engine: `free_gap` from how much
better a loop of free phonemes explains the sound than the graph does, `margin` from its own list of rivals.
"""

import math
from collections import OrderedDict
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.errors import ModelError
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import nothing_heard
from handsfree.recognition.same_meaning import same_meaning_key
from handsfree.understanding.graphs import match

if TYPE_CHECKING:
    import pocketsphinx

NAME = "pocketsphinx"
_GRAMMARS_KEPT = 32
_RIVALS = 20
_SCORE_UNIT = 1e4
"""Steps of the engine's own scale in one natural-log unit of its (shortened) score."""
# Scales, set by hand on 120 one-second clips of real speakers (Speech Commands v0.02 test set): from a difference of 3
# steps a frame on, most clips were of words outside the graph; a rival less than 10 nats away was often the truth.
_GAP_AT_ZERO = 5.0
_NATS_A_SCORE = 1024.0
_MARGIN_SCALE = 0.3
_AVERAGE_A_GAP = 0.1
_PRONUNCIATIONS = {
    "fower": "F OW ER",
    "juliett": "JH UW L IY EH T",
    "milliwatt": "M IH L IY W AA T",
    "milliwatts": "M IH L IY W AA T S",
    "xray": "EH K S R EY",
}
"""Words of the bundled grammars that its dictionary lacks, in the phonemes of the CMU dictionary."""
_PHONES = "phones"


class PocketsphinxEngine:
    """Searches the word graph with hidden Markov models.

    Raises:
        ModelError: Its package is not installed.
    """

    def __init__(self) -> None:
        try:
            import pocketsphinx
        except ImportError as error:
            raise ModelError(
                "pocketsphinx is not installed; install the speech parts: pip install 'handsfree[speech]'"
            ) from error
        self._decoder = pocketsphinx.Decoder(lm=None, bestpath=False, compallsen=True, loglevel="FATAL")
        folder = Path(pocketsphinx.__file__).parent / "model" / "en-us"
        self._decoder.add_allphone_file(_PHONES, str(folder / "en-us-phone.lm.bin"))
        self._dictation: pocketsphinx.Decoder | None = None
        self._grammars: OrderedDict[str, None] = OrderedDict()

    @property
    def name(self) -> str:
        """See `Engine.name`."""
        return NAME

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`."""
        if graph.key in self._grammars:
            self._grammars.move_to_end(graph.key)
            return
        self._learn(graph.words)
        end = graph.state_count
        transitions = [
            (arc.source, arc.target, math.exp(arc.weight), *((arc.word,) if arc.word else ())) for arc in graph.arcs
        ]
        transitions += [(final, end, 1.0) for final in graph.finals]
        grammar = self._decoder.create_fsg(graph.key, graph.start, end, transitions)
        self._decoder.add_fsg(graph.key, grammar)
        self._grammars[graph.key] = None
        if len(self._grammars) > _GRAMMARS_KEPT:
            oldest, _ = self._grammars.popitem(last=False)
            self._decoder.activate_search(_PHONES)
            self._decoder.remove_search(oldest)

    def _learn(self, words: frozenset[str]) -> None:
        missing = {word for word in words if self._decoder.lookup_word(word) is None}
        for word in missing & _PRONUNCIATIONS.keys():
            self._decoder.add_word(word, _PRONUNCIATIONS[word], True)
        unknown = sorted(missing - _PRONUNCIATIONS.keys())
        if unknown:
            raise ModelError(
                f"the engine {NAME} does not know: {', '.join(unknown)} (use other words, or the neural engine)"
            )

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        """See `Engine.recognise`."""
        self.prepare(graph)
        best, rivals, score = self._decode(graph.key, segment.pcm)
        found = match(graph, best) if best else None
        if found is None:
            return nothing_heard(segment, NAME)
        _, _, phones = self._decode(_PHONES, segment.pcm)
        gap = phones - score + _GAP_AT_ZERO
        rival, margin = self._rival(graph, best, found.tags, rivals)
        return Hypothesis(
            words=best,
            tags=found.tags,
            spoken_from_s=segment.speech_from_s,
            spoken_to_s=segment.speech_to_s,
            engine=NAME,
            evidence=Evidence(
                average_logprob=min(0.0, -_AVERAGE_A_GAP * gap),
                free_gap=gap,
                margin=margin,
                speech_s=segment.speech_s,
                signal_to_noise_db=segment.signal_to_noise_db,
            ),
            runner_up=rival,
            clip=segment.pcm,
        )

    def write_down(self, pcm: bytes) -> str:
        """See `Engine.write_down`."""
        import pocketsphinx

        if self._dictation is None:
            self._dictation = pocketsphinx.Decoder(loglevel="FATAL")
        found = _utterance(self._dictation, pcm)
        return found.hypstr if found is not None else ""

    def _decode(self, search: str, pcm: bytes) -> tuple[tuple[str, ...], dict[tuple[str, ...], float], float]:
        """The best words, all words with their scores in nats, and the best score in the engine's steps a frame."""
        decoder = self._decoder
        decoder.activate_search(search)
        found = _utterance(decoder, pcm)
        if found is None or not found.hypstr or found.score <= 0.0:
            return (), {}, -math.inf
        score = math.log(found.score) * _SCORE_UNIT / max(1, decoder.n_frames())
        scored: dict[tuple[str, ...], float] = {}
        if search != _PHONES:
            for _, entry in zip(range(_RIVALS), decoder.nbest(), strict=False):
                if entry is not None and entry.score > 0.0:
                    words = tuple(entry.hypstr.split())
                    nats = math.log(entry.score) * _NATS_A_SCORE
                    scored[words] = max(scored.get(words, -math.inf), nats)
        return tuple(found.hypstr.split()), scored, score

    @staticmethod
    def _rival(
        graph: WordGraph, best: tuple[str, ...], tags: tuple[str, ...], scored: dict[tuple[str, ...], float]
    ) -> tuple[tuple[str, ...] | None, float]:
        """The likeliest words with another meaning and how far away they are."""
        meaning = same_meaning_key(tags)
        own = scored.get(best)
        for words, nats in sorted(scored.items(), key=lambda item: item[1], reverse=True):
            other = match(graph, words)
            if other is not None and same_meaning_key(other.tags) != meaning:
                return words, 0.0 if own is None else max(0.0, _MARGIN_SCALE * (own - nats))
        return None, math.inf


def _utterance(decoder: "pocketsphinx.Decoder", pcm: bytes) -> "pocketsphinx.Hypothesis | None":
    decoder.start_utt()
    decoder.process_raw(pcm, full_utt=True)
    decoder.end_utt()
    return decoder.hyp()
