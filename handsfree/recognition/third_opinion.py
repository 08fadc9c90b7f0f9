"""A third opinion on the few texts that are likely: weights of another family, which err in other places."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.recognition.byte_pieces import BytePieces
from handsfree.recognition.general_network import Encoding, GeneralNetwork, TextScores
from handsfree.recognition.opinion import Opinion
from handsfree.recognition.plain_text import plain_text
from handsfree.recognition.spectrogram import STEP

LEAST_S = 4.0
SILENCE_S = 0.5
LONGEST_S = 30.0
"""The sound is heard with silence after it: so much at least, and so long in all at least and at most."""
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

    def hear(self, pcm: bytes) -> Encoding:
        """Hear an utterance: 16-bit mono samples at 16 kHz."""
        samples = np.frombuffer(pcm, dtype="<i2").astype(np.float32) / np.float32(32768.0)
        length_s = min(LONGEST_S, max(LEAST_S, len(samples) / SAMPLE_RATE_HZ + SILENCE_S))
        # Two columns make a frame.
        return self._network.encode(samples, 2 * round(length_s * SAMPLE_RATE_HZ / STEP / 2))

    def judge(self, heard: Encoding, sentences: Sequence[Sequence[str]]) -> list[Opinion]:
        """How likely sentences are, at least one; each is given by its words."""
        texts = [self._pieces.pieces(plain_text(words)) for words in sentences]
        return [_opinion(scores) for scores in self._network.score(heard, texts)]

    def write(self, pcm: bytes) -> str:
        """What these weights would write themselves."""
        return self._pieces.text(self._network.write(self.hear(pcm), _LONGEST_TEXT))


def _opinion(scores: TextScores) -> Opinion:
    behind = scores.best - scores.own
    return Opinion(float(scores.own.sum()), float(behind.sum()), float(behind[-1]))
