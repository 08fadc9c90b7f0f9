"""The vosk engine, for whoever prefers its models. Its English weights are fetched by the user.

It takes a list of words, not a graph: the graph is laid over its list of alternatives afterwards. "[unk]" stands for
everything else, so that other speech has somewhere to go; without it, vosk is sure of whatever it was given, so a model
that lacks it is refused. Even so its list often has one entry only, which says nothing of how well it fits: a second
pass without the words tells how much better free text explains the sound.
"""

import json
from collections import OrderedDict
from pathlib import Path

from handsfree.errors import ModelError
from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.engine import nothing_heard
from handsfree.recognition.models import locate
from handsfree.recognition.same_meaning import same_meaning_key
from handsfree.understanding.graphs import match

NAME = "vosk"
MODEL = "vosk-small-en"
_ALTERNATIVES = 20
_GRAMMARS_KEPT = 16
_OTHER = "[unk]"
_RIVAL_UNSEEN = 2.0
"""Margin where no rival is listed: rivals are looked for only within a beam, of 2 in the model that was tried."""


class VoskEngine:
    """Recognises with vosk.

    Args:
        folder: An unpacked vosk model; None finds the installed English one.

    Raises:
        ModelError: vosk or the weights are not installed, or cannot be loaded, or cannot tell other speech from what is
            listened for.
    """

    def __init__(self, folder: Path | None = None) -> None:
        folder = folder or locate(MODEL)
        try:
            import vosk
        except ImportError as error:
            raise ModelError(
                "vosk is not installed; install the speech parts: pip install 'handsfree[speech]'"
            ) from error
        vosk.SetLogLevel(-1)
        self._vosk = vosk
        try:
            self._model = vosk.Model(str(folder))
        except Exception as error:  # vosk raises bare Exception
            raise ModelError(f"{folder}: not a vosk model that can be loaded") from error
        if self._model.vosk_model_find_word(_OTHER) < 0:
            raise ModelError(
                f"{folder}: this vosk model has no {_OTHER}, so it would take any speech for a command (use another)"
            )
        self._grammars: OrderedDict[str, str] = OrderedDict()

    @property
    def name(self) -> str:
        """See `Engine.name`."""
        return NAME

    def prepare(self, graph: WordGraph) -> None:
        """See `Engine.prepare`."""
        if graph.key in self._grammars:
            self._grammars.move_to_end(graph.key)
            return
        # Vosk drops words that it does not know with no more than a log line.
        unknown = sorted(word for word in graph.words if self._model.vosk_model_find_word(word) < 0)
        if unknown:
            raise ModelError(
                f"the engine {NAME} does not know: {', '.join(unknown)} (use other words, or the neural engine)"
            )
        # Letters as they are: vosk does not know what an escaped one stands for.
        self._grammars[graph.key] = json.dumps([*sorted(graph.words), _OTHER], ensure_ascii=False)
        if len(self._grammars) > _GRAMMARS_KEPT:
            self._grammars.popitem(last=False)

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        """See `Engine.recognise`."""
        self.prepare(graph)
        scored = self._decode(segment.pcm, self._grammars[graph.key])
        legal = [(words, score, found.tags) for words, score in scored if (found := match(graph, words)) is not None]
        if not legal:
            return nothing_heard(segment, NAME)
        words, score, tags = legal[0]
        meaning = same_meaning_key(tags)
        rival = next(((other, less) for other, less, its in legal if same_meaning_key(its) != meaning), None)
        free = self._decode(segment.pcm, None)
        gap = max(0.0, scored[0][1] - score, free[0][1] - score if free else 0.0)
        return Hypothesis(
            words=words,
            tags=tags,
            spoken_from_s=segment.speech_from_s,
            spoken_to_s=segment.speech_to_s,
            engine=NAME,
            evidence=Evidence(
                average_logprob=-gap / len(words),
                free_gap=gap,
                margin=_RIVAL_UNSEEN if rival is None else score - rival[1],
                speech_s=segment.speech_s,
                signal_to_noise_db=segment.signal_to_noise_db,
            ),
            runner_up=None if rival is None else rival[0],
            free_text=" ".join(free[0][0]) if free else None,
            clip=segment.pcm,
        )

    def write_down(self, pcm: bytes) -> str:
        """See `Engine.write_down`."""
        scored = self._decode(pcm, None)
        return " ".join(scored[0][0]) if scored else ""

    def _decode(self, pcm: bytes, grammar: str | None) -> list[tuple[tuple[str, ...], float]]:
        """Words and natural-log scores, the likeliest first; empty if nothing was heard."""
        arguments = (self._model, SAMPLE_RATE_HZ) if grammar is None else (self._model, SAMPLE_RATE_HZ, grammar)
        recognizer = self._vosk.KaldiRecognizer(*arguments)
        recognizer.SetMaxAlternatives(_ALTERNATIVES)
        recognizer.AcceptWaveform(pcm)
        result = json.loads(recognizer.FinalResult())
        found = [(tuple(entry["text"].split()), float(entry["confidence"])) for entry in result.get("alternatives", ())]
        return sorted((entry for entry in found if entry[0]), key=lambda entry: entry[1], reverse=True)
