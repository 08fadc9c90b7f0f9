"""The neural network: sound to an encoding, an encoding and the text so far to scores of the next piece."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import ModelError

if TYPE_CHECKING:
    import onnxruntime

Floats = NDArray[np.float32]

_LAYERS = 6
_HEADS = 8
_HEAD_WIDTH = 36
LEAST_SAMPLES = 3200
"""Shorter sound is filled with silence: the front end needs a few frames."""


@dataclass(slots=True)
class Memory:
    """What the decoder remembers of several texts, one a row.

    Attributes:
        encoding: Encoder output, (1, frames, width).
        encoder: Keys and values of the encoding, the same for every row.
        decoder: Keys and values of the texts, (rows, heads, length, head width) each.
    """

    encoding: Floats
    encoder: dict[str, Floats]
    decoder: dict[str, Floats]


class Network:
    """Encoder and decoder on one thread.

    Args:
        folder: Holds `encoder_model.ort` and `decoder_model_merged.ort`.

    Raises:
        ModelError: onnxruntime is missing or the files cannot be loaded.
    """

    def __init__(self, folder: Path) -> None:
        self._encoder = _load(folder / "encoder_model.ort")
        self._decoder = _load(folder / "decoder_model_merged.ort")
        self._outputs = [output.name for output in self._decoder.get_outputs()]
        self._remembered = [
            f"past_key_values.{layer}.{part}.{kind}"
            for layer in range(_LAYERS)
            for part in ("decoder", "encoder")
            for kind in ("key", "value")
        ]

    def encode(self, samples: Floats) -> Floats:
        """Encode sound.

        Args:
            samples: Mono at 16 kHz, -1 … 1, shape (samples,).

        Returns:
            Shape (1, frames, width).
        """
        if len(samples) < LEAST_SAMPLES:
            samples = np.pad(samples, (0, LEAST_SAMPLES - len(samples)))
        mask = np.ones((1, len(samples)), dtype=np.int64)
        encoded: Floats = self._encoder.run(None, {"input_values": samples[None, :], "attention_mask": mask})[0]
        return encoded

    def begin(self, encoding: Floats, token: int) -> tuple[Floats, Memory]:
        """Start one text.

        Returns:
            Natural-log probabilities of the next piece, shape (1, vocabulary), and the memory of one row.
        """
        feeds = dict.fromkeys(self._remembered, np.zeros((1, _HEADS, 0, _HEAD_WIDTH), dtype=np.float32))
        logits, present = self._run(encoding, np.array([[token]], dtype=np.int64), feeds, cached=False)
        encoder = {name: value for name, value in present.items() if ".encoder." in name}
        return logits[:, -1], Memory(encoding, encoder, {k: v for k, v in present.items() if ".decoder." in k})

    def advance(self, memory: Memory, rows: list[int], tokens: list[int]) -> tuple[Floats, Memory]:
        """Go on with one more piece for each row.

        Args:
            memory: Of the texts so far.
            rows: Which row of the memory each new row continues; a row may go on several times or end.
            tokens: The piece that each adds.

        Returns:
            Natural-log probabilities of the next piece, shape (rows, vocabulary), and the memory of these rows.
        """
        chosen = np.array(rows)
        past = {name: value[chosen] for name, value in memory.decoder.items()}
        # The encoder's keys and values have one row: the network broadcasts them, which is a third of the work.
        feeds = {**past, **memory.encoder}
        logits, present = self._run(memory.encoding, np.array(tokens, dtype=np.int64)[:, None], feeds, cached=True)
        return logits[:, -1], Memory(
            memory.encoding, memory.encoder, {k: v for k, v in present.items() if ".decoder." in k}
        )

    def score(
        self, encoding: Floats, texts: Sequence[Sequence[int]], begin: int, end: int
    ) -> tuple[Floats, list[Floats]]:
        """Score whole texts, all in one call.

        Args:
            encoding: From `encode`.
            texts: Their pieces, at least one text; without the marks of beginning and end.
            begin: Mark of the beginning.
            end: Mark of the end.

        Returns:
            Natural-log probability of the pieces and the end of each text, (texts,); and for each text how much less
            likely each piece and the end are than the likeliest in that place, (pieces + 1,). Activations are rounded
            by the largest of the call: with others beside it, a text was seen to move by up to 0.6.
        """
        rows, longest = len(texts), max(len(text) for text in texts)
        # One row for each text: the beginning, its pieces, then the end as often as it takes to fill the row.
        pieces = np.full((rows, longest + 2), end, dtype=np.int64)
        counts = np.zeros((rows, longest + 1), dtype=bool)
        pieces[:, 0] = begin
        for row, text in enumerate(texts):
            pieces[row, 1 : len(text) + 1] = text
            counts[row, : len(text) + 1] = True
        # Where nothing is remembered yet, the network wants an encoding for each row.
        nothing = dict.fromkeys(self._remembered, np.zeros((rows, _HEADS, 0, _HEAD_WIDTH), dtype=np.float32))
        scores, _ = self._run(np.repeat(encoding, rows, axis=0), pieces[:, :-1], nothing, cached=False)
        picked = np.take_along_axis(scores, pieces[:, 1:, None], axis=2)[:, :, 0]
        behind = scores.max(axis=2) - picked
        return (picked * counts).sum(axis=1), [row[: len(text) + 1] for row, text in zip(behind, texts, strict=True)]

    def _run(
        self, encoding: Floats, tokens: NDArray[np.int64], past: dict[str, Floats], *, cached: bool
    ) -> tuple[Floats, dict[str, Floats]]:
        """Natural-log probabilities after each piece, (rows, pieces, vocabulary), and keys and values."""
        values = self._decoder.run(
            None,
            {
                # One column only: a mask as long as the encoding fails beyond nine seconds.
                "encoder_attention_mask": np.ones((1, 1), dtype=np.int64),
                "encoder_hidden_states": encoding,
                "input_ids": tokens,
                "use_cache_branch": np.array([cached]),
                **past,
            },
        )
        named = dict(zip(self._outputs, values, strict=True))
        logits = named.pop("logits")
        highest = logits.max(axis=-1, keepdims=True)
        total = np.log(np.exp(logits - highest).sum(axis=-1, keepdims=True)) + highest
        return logits - total, {name.replace("present.", "past_key_values."): value for name, value in named.items()}


def runtime() -> ModuleType:
    """The module that runs networks.

    Raises:
        ModelError: It is not installed, or cannot be loaded.
    """
    try:
        import onnxruntime
    except ModuleNotFoundError as error:
        raise ModelError(
            "onnxruntime is not installed; install the speech parts: pip install handsfree[speech]"
        ) from error
    except ImportError as error:
        raise ModelError(f"onnxruntime cannot be loaded: {error} (or it was interrupted; try again)") from error
    module: ModuleType = onnxruntime
    return module


def _load(path: Path) -> "onnxruntime.InferenceSession":
    file = path.stat() if path.exists() else None
    return _session(path, (file.st_mtime_ns, file.st_size) if file is not None else None)


@lru_cache(maxsize=4)
def _session(path: Path, _state: tuple[int, int] | None) -> "onnxruntime.InferenceSession":
    """One file's network. It keeps nothing of what it was given, so that all who hear with it may share it."""
    onnxruntime = runtime()
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.log_severity_level = 4
    try:
        return onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
    except Exception as error:  # onnxruntime raises classes of its own with no common base but Exception
        raise ModelError(f"{path}: not weights that can be loaded; check them with: handsfree models verify") from error
