"""A third opinion on the few texts that are likely: weights of another family, which err in other places."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.recognition.byte_pieces import BytePieces
from handsfree.recognition.general_network import END, Encoding, Floats, GeneralNetwork
from handsfree.recognition.opinion import Opinion
from handsfree.recognition.spectrogram import STEP
from handsfree.recognition.written_forms import END_SIGN, written_forms

LEAST_S = 8.0
SILENCE_S = 1.0
LONGEST_S = 30.0
"""The sound is heard with silence after it: so much at least, and so long in all at least and at most."""
_BEAMS = 3
_LONGEST_TEXT = 200


class ThirdOpinion:
    """Judges texts, and writes down what it hears.

    Args:
        folder: Where the weights are.

    Raises:
        ModelError: The weights or ctranslate2 are not installed, or cannot be loaded.
    """

    def __init__(self, folder: Path) -> None:
        self._network = GeneralNetwork(folder)
        self._pieces = BytePieces(folder / "tokenizer.json")
        self._end_sign = self._pieces.pieces(END_SIGN)

    def hear(self, pcm: bytes) -> Encoding:
        """Hear an utterance: 16-bit mono samples at 16 kHz."""
        return self._heard(pcm, max(LEAST_S, len(pcm) / 2 / SAMPLE_RATE_HZ + SILENCE_S))

    def _heard(self, pcm: bytes, length_s: float) -> Encoding:
        samples = np.frombuffer(pcm, dtype="<i2").astype(np.float32) / np.float32(32768.0)
        # Two columns make a frame.
        return self._network.encode(samples, 2 * round(min(LONGEST_S, length_s) * SAMPLE_RATE_HZ / STEP / 2))

    def judge(self, heard: Encoding, sentences: Sequence[Sequence[str]]) -> list[Opinion]:
        """How likely sentences are, at least one; each is given by its words."""
        forms = [[self._pieces.pieces(" " + form) for form in written_forms(words)] for words in sentences]
        closed = [(*form, *self._end_sign) for several in forms for form in several]
        scores = iter(self._network.score(heard, closed))
        return [
            _together([way for form in several for way in self._both_ends(form, next(scores))]) for several in forms
        ]

    def write(self, pcm: bytes) -> str:
        """What these weights would write themselves; in less than their usual 30 s they write things twice."""
        return self._pieces.text(self._network.write(self._heard(pcm, LONGEST_S), _BEAMS, _LONGEST_TEXT))

    def _both_ends(self, form: tuple[int, ...], scores: Floats) -> list[Opinion]:
        """The form with a sign at its end, and without."""
        closed = (*form, *self._end_sign)
        return [_opinion(form, scores[: len(form) + 1]), _opinion(closed, scores)]


def _opinion(form: Sequence[int], scores: Floats) -> Opinion:
    pieces = scores[np.arange(len(form) + 1), [*form, END]]
    behind = scores.max(axis=-1) - pieces
    return Opinion(float(pieces.sum()), float(behind.sum()), float(behind[-1]))


def _together(ways: Sequence[Opinion]) -> Opinion:
    best = max(ways, key=lambda way: way.logprob)
    return Opinion(float(np.logaddexp.reduce([way.logprob for way in ways])), best.gap, best.end_gap)
