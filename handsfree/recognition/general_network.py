"""The third weights: a general network of another family, an encoder in CTranslate2 and a decoder that scores texts.

CTranslate2 gives no probability of a text's end beside those of its pieces, and a lost last digit shows there alone. So
the decoder's weights are read out of the file and texts are scored here: four layers of 384 numbers, a few texts at
once, in 32-bit floats.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from mmap import ACCESS_READ, mmap
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import ModelError
from handsfree.recognition.spectrogram import spectrogram
from handsfree.recognition.weight_tables import weight_tables

Floats = NDArray[np.float32]
END = 50256
BEGIN = (50257, 50362)
"""Mark of the beginning, and that no times are written."""
COMMON = 16384
"""Pieces with a lower number are common ones. Probability is divided among these and the pieces of the texts that are
asked about: the rest of the table would be most of the work."""
HEADS = 6
LAYERS = 4
_WIDTH = 384
_PREFIX = "decoder/"


@dataclass(frozen=True, slots=True)
class TextScores:
    """Natural-log probabilities along a text, the end behind its last piece, (pieces + 1,).

    Attributes:
        own: Of its pieces.
        best: Of the likeliest piece in each place.
    """

    own: Floats
    best: Floats


@dataclass(frozen=True, slots=True)
class Encoding:
    """Sound as the encoder hears it.

    Attributes:
        encoder: Its output, (frames, width).
        columns: The spectrogram.
    """

    encoder: Floats
    columns: Floats


class GeneralNetwork:
    """Encoder and decoder.

    Args:
        folder: Holds `model.bin` and its fellows.

    Raises:
        ModelError: ctranslate2 is missing or the files cannot be loaded.
    """

    def __init__(self, folder: Path) -> None:
        ctranslate2 = runtime()
        try:
            self._model: Any = ctranslate2.models.Whisper(
                str(folder), device="cpu", compute_type="int8", inter_threads=1, intra_threads=1
            )
        except (RuntimeError, ValueError) as error:
            raise ModelError(
                f"{folder}: not weights that can be loaded; check them with: handsfree models verify"
            ) from error
        self._storage = ctranslate2.StorageView
        self._weights, self._embedding = _read_decoder(folder / "model.bin")
        self._common = np.ascontiguousarray(self._embedding[[*range(COMMON), END]].T.astype(np.float32))

    def encode(self, samples: Floats, columns: int) -> Encoding:
        """Hear sound: mono at 16 kHz, -1 to 1, with silence after it up to so many columns of 10 ms."""
        mel = spectrogram(samples, columns)
        output = self._model.encode(self._storage.from_array(np.ascontiguousarray(mel[None])))
        return Encoding(np.asarray(output, dtype=np.float32)[0], mel)

    def score(self, heard: Encoding, texts: Sequence[Sequence[int]]) -> list[TextScores]:
        """How likely each piece of each text is, and its end, among the common pieces and those of the texts.

        What texts begin with in common is read once.
        """
        tree = _Tree(texts)
        hidden = self._decode(heard.encoder, tree)[len(BEGIN) - 1 :]
        rarer = sorted({piece for text in texts for piece in text if piece >= COMMON})
        columns = {END: COMMON, **{piece: COMMON + 1 + number for number, piece in enumerate(rarer)}}
        logits = hidden @ self._common
        if rarer:
            logits = np.hstack([logits, hidden @ self._embedding[rarer].T.astype(np.float32)])
        best = logits.max(axis=-1)
        spread = np.log(np.exp(logits - best[:, None]).sum(axis=-1))
        found = []
        for text, way in zip(texts, tree.ways, strict=True):
            places = np.array(way) - len(BEGIN) + 1
            own = logits[places, [columns.get(piece, piece) for piece in (*text, END)]]
            found.append(TextScores(own - best[places] - spread[places], -spread[places]))
        return found

    def write(self, heard: Encoding, longest: int) -> list[int]:
        """The likeliest pieces, one by one; none where there is no speech."""
        found = self._model.generate(
            self._storage.from_array(np.ascontiguousarray(heard.columns[None])),
            [list(BEGIN)],
            beam_size=1,
            max_length=longest,
            # The library would rather have any word than none.
            suppress_blank=False,
            suppress_tokens=[],
        )
        return [int(piece) for piece in found[0].sequences_ids[0]]

    def _decode(self, encoder: Floats, tree: "_Tree") -> Floats:
        weights = self._weights
        state = self._embedding[tree.pieces].astype(np.float32) + weights["position_encodings/encodings"][tree.depths]
        unseen = tree.unseen()
        for number in range(LAYERS):
            layer = f"layer_{number}/"
            inner = self._linear(self._normal(state, layer + "self_attention"), layer + "self_attention/linear_0")
            query, key, value = np.split(inner, 3, axis=-1)
            found = _attend(query, key, value, unseen)
            state = state + self._linear(found, layer + "self_attention/linear_1")
            query = self._linear(self._normal(state, layer + "attention"), layer + "attention/linear_0")
            key, value = np.split(self._linear(encoder, layer + "attention/linear_1"), 2, axis=-1)
            state = state + self._linear(_attend(query, key, value, None), layer + "attention/linear_2")
            inner = self._linear(self._normal(state, layer + "ffn"), layer + "ffn/linear_0")
            state = state + self._linear(_gelu(inner), layer + "ffn/linear_1")
        return self._normal(state, "")

    def _linear(self, values: Floats, name: str) -> Floats:
        result: Floats = values @ self._weights[name + "/weight"].T + self._weights[name + "/bias"]
        return result

    def _normal(self, values: Floats, name: str) -> Floats:
        name = f"{name}/layer_norm" if name else "layer_norm"
        centred = values - values.mean(axis=-1, keepdims=True)
        spread = np.sqrt(np.mean(centred**2, axis=-1, keepdims=True) + 1e-5)
        result: Floats = centred / spread * self._weights[name + "/gamma"] + self._weights[name + "/beta"]
        return result


class _Tree:
    """Texts laid out so that each beginning stands once: pieces, and how far each is from the first."""

    def __init__(self, texts: Sequence[Sequence[int]]) -> None:
        self.pieces: list[int] = list(BEGIN)
        self.depths: list[int] = list(range(len(BEGIN)))
        self._before: list[int] = list(range(-1, len(BEGIN) - 1))
        self.ways: list[list[int]] = []
        """For each text the place of each piece, the last mark of the beginning first."""
        known: dict[tuple[int, int], int] = {}
        for text in texts:
            way = [len(BEGIN) - 1]
            for piece in text:
                place = known.get((way[-1], piece))
                if place is None:
                    place = known[way[-1], piece] = len(self.pieces)
                    self._before.append(way[-1])
                    self.depths.append(self.depths[way[-1]] + 1)
                    self.pieces.append(piece)
                way.append(place)
            self.ways.append(way)

    def unseen(self) -> Floats:
        """Added to what a piece looks at: nothing for itself and what stands before it, else too much."""
        seen = np.eye(len(self.pieces), dtype=bool)
        for place, before in enumerate(self._before):
            if before >= 0:
                seen[place] |= seen[before]
        return np.where(seen, 0.0, -1e9).astype(np.float32)


def _attend(query: Floats, key: Floats, value: Floats, mask: Floats | None) -> Floats:
    def heads(values: Floats) -> Floats:
        return values.reshape(len(values), HEADS, -1).transpose(1, 0, 2)

    scores = heads(query) @ heads(key).transpose(0, 2, 1) * np.float32((_WIDTH // HEADS) ** -0.5)
    if mask is not None:
        scores = scores + mask
    scores = np.exp(scores - scores.max(axis=-1, keepdims=True))
    scores /= scores.sum(axis=-1, keepdims=True)
    result: Floats = (scores @ heads(value)).transpose(1, 0, 2).reshape(query.shape)
    return result


def _gelu(values: Floats) -> Floats:
    # The tanh form: within 0.001 of the exact one.
    result: Floats = 0.5 * values * (1 + np.tanh(0.7978846 * (values + 0.044715 * values**3)))
    return result


def _read_decoder(path: Path) -> tuple[dict[str, Floats], NDArray[np.float16]]:
    """The decoder's tables as 32-bit floats, and that of the pieces as it stands in the file.

    That one is larger than all the rest, and little of it is ever asked for: it is mapped, not read.
    """
    with path.open("rb") as file, mmap(file.fileno(), 0, access=ACCESS_READ) as data:
        tables = weight_tables(data, str(path))
        pieces = tables.pop(_PREFIX + "embeddings/weight")
        weights = {
            name.removeprefix(_PREFIX): table.values(data) for name, table in tables.items() if name.startswith(_PREFIX)
        }
    return weights, np.memmap(path, "<f2", "r", pieces.at, pieces.shape)


def runtime() -> ModuleType:
    """The module that runs the encoder.

    Raises:
        ModelError: It is not installed.
    """
    try:
        import ctranslate2
    except ModuleNotFoundError as error:
        raise ModelError(
            "ctranslate2 is not installed; install the speech parts: pip install handsfree[speech]"
        ) from error
    module: ModuleType = ctranslate2
    return module
