"""The third weights in PyTorch: a general network of another family, with additions to each of its linear layers."""

import json
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import torch
from layers import Place, TunedLinear
from third_base import EMBEDDING, FILE, TABLE, PlainPieces
from torch import Tensor, nn
from torch.nn import functional

from handsfree.recognition.general_network import HEADS, LAYERS
from handsfree.recognition.spectrogram import STEP, WINDOW, mel_filters
from handsfree.recognition.third_opinion import LEAST_S

_RATE_HZ = 16_000
_LATER_S = 1.0
"""At most so much silence more than the least follows a sound."""


class Third:
    """The third weights as a family to train.

    Args:
        work: Holds what `save_third` wrote as `third.npz`, and `tokenizer.json`.
    """

    def __init__(self, work: Path) -> None:
        with np.load(work / "third.npz") as archive:
            arrays = dict(archive)
        self._places: dict[str, int] = json.loads(str(arrays["places"]))
        self._tables = {
            key.removeprefix("table|"): torch.from_numpy(value.astype("f4"))
            for key, value in arrays.items() if key.startswith("table|")
        }  # fmt: skip
        self.kept = arrays["kept"]
        """The piece of each row of the cut vocabulary."""
        self.pieces = PlainPieces(work / TABLE, self.kept)

    def build(self, rank: int, stretch: float) -> "ThirdNetwork":  # noqa: ARG002 - there are no codes to stretch
        """The network, with additions of nothing yet; all but them is frozen."""
        return ThirdNetwork(self._tables, rank)

    def places(self, layers: Mapping[str, TunedLinear]) -> dict[str, Place]:
        """Where each layer lies in the file."""
        return {name: Place(FILE, self._places[name]) for name in layers}


class ThirdNetwork(nn.Module):
    """Encoder and decoder.

    Args:
        tables: Of the file, the embedding cut.
        rank: Of each addition.
    """

    filters: Tensor
    window: Tensor

    def __init__(self, tables: Mapping[str, Tensor], rank: int) -> None:
        super().__init__()
        self._linear = nn.ModuleDict()
        for name, table in tables.items():
            stem, _, last = name.rpartition("/")
            if last == "weight" and table.ndim == 2 and name != EMBEDDING:
                self._linear[_key(stem)] = TunedLinear(table, tables[f"{stem}/bias"], rank)
            elif "/linear_" not in name:
                self.register_buffer(_key(name), table.clone())
        self._stems = {f"{name.rpartition('/')[0]}" for name in tables}
        self.register_buffer("filters", torch.from_numpy(mel_filters()).float())
        self.register_buffer("window", torch.hann_window(WINDOW))

    @property
    def tuned_layers(self) -> dict[str, TunedLinear]:
        """Every layer with an addition, by the name of its weights."""
        return {
            f"{stem}/weight": self._linear[_key(stem)] for stem in sorted(self._stems) if _key(stem) in self._linear
        }

    def encode(self, sound: Tensor, ends: Tensor) -> Tensor:
        """Hear sounds of one length, (sounds, samples), each with silence after its end."""
        # The detector cuts behind the speech; some of what follows is heard, more or less.
        later = ends + torch.rand_like(ends) * (sound.shape[1] - ends).clamp(min=0) * (torch.rand_like(ends) < 0.5)
        sound = sound * (torch.arange(sound.shape[1], device=sound.device)[None] < later[:, None])
        more = int(torch.randint(1, round(_LATER_S * _RATE_HZ / STEP / 2), ()))
        columns = max(round(LEAST_S * _RATE_HZ / STEP), 2 * (sound.shape[1] // (2 * STEP) + more))
        return self.encoded(self.spectrogram(sound, columns))

    def spectrogram(self, sound: Tensor, columns: int) -> Tensor:
        """See `handsfree.recognition.spectrogram`; (sounds, 80, columns)."""
        padded = functional.pad(sound, (0, columns * STEP - sound.shape[1]))
        with torch.autocast(sound.device.type, enabled=False):
            waves = torch.stft(padded, WINDOW, STEP, window=self.window, return_complex=True)[..., :columns]
            levels = torch.log10((self.filters @ waves.abs().square()).clamp(min=1e-10))
        levels = torch.maximum(levels, levels.amax(dim=(1, 2), keepdim=True) - 8.0)
        return (levels + 4.0) / 4.0

    def encoded(self, mel: Tensor) -> Tensor:
        """The encoder's output, (sounds, columns / 2, width)."""
        inner = self._convolved("encoder/conv1", mel, 1)
        state = self._convolved("encoder/conv2", inner, 2).transpose(1, 2)
        state = state + self._of("encoder/position_encodings/encodings")[: state.shape[1]]
        for number in range(LAYERS):
            state = self._self_attention(f"encoder/layer_{number}", state, causal=False)
            state = self._forward_part(f"encoder/layer_{number}", state)
        return self._normal("encoder", state)

    def scores(self, encoded: Tensor, tokens: Tensor) -> Tensor:
        """Scores of the piece after each piece, (sounds, pieces, rows)."""
        state = self._of(EMBEDDING)[tokens] + self._of("decoder/position_encodings/encodings")[: tokens.shape[1]]
        for number in range(LAYERS):
            layer = f"decoder/layer_{number}"
            state = self._self_attention(layer, state, causal=True)
            query = self._layer(f"{layer}/attention/linear_0", self._normal(f"{layer}/attention", state))
            key, value = self._layer(f"{layer}/attention/linear_1", encoded).chunk(2, dim=-1)
            state = state + self._layer(f"{layer}/attention/linear_2", _attend(query, key, value, causal=False))
            state = self._forward_part(layer, state)
        return functional.linear(self._normal("decoder", state), self._of(EMBEDDING))

    def _convolved(self, name: str, values: Tensor, stride: int) -> Tensor:
        weight, bias = self._of(f"{name}/weight"), self._of(f"{name}/bias")
        return functional.gelu(functional.conv1d(values, weight, bias, stride=stride, padding=1))

    def _self_attention(self, layer: str, state: Tensor, *, causal: bool) -> Tensor:
        inner = self._layer(f"{layer}/self_attention/linear_0", self._normal(f"{layer}/self_attention", state))
        found = _attend(*inner.chunk(3, dim=-1), causal=causal)
        return state + self._layer(f"{layer}/self_attention/linear_1", found)

    def _forward_part(self, layer: str, state: Tensor) -> Tensor:
        inner = self._layer(f"{layer}/ffn/linear_0", self._normal(f"{layer}/ffn", state))
        return state + self._layer(f"{layer}/ffn/linear_1", functional.gelu(inner))

    def _layer(self, stem: str, values: Tensor) -> Tensor:
        found: Tensor = self._linear[_key(stem)](values)
        return found

    def _normal(self, stem: str, values: Tensor) -> Tensor:
        gamma, beta = self._of(f"{stem}/layer_norm/gamma"), self._of(f"{stem}/layer_norm/beta")
        return functional.layer_norm(values, values.shape[-1:], gamma, beta)

    def _of(self, name: str) -> Tensor:
        found: Tensor = getattr(self, _key(name))
        return found


def _attend(query: Tensor, key: Tensor, value: Tensor, *, causal: bool) -> Tensor:
    def heads(values: Tensor) -> Tensor:
        return values.unflatten(-1, (HEADS, -1)).transpose(1, 2)

    found = functional.scaled_dot_product_attention(heads(query), heads(key), heads(value), is_causal=causal)
    return found.transpose(1, 2).flatten(2)


def _key(name: str) -> str:
    return name.replace("/", "__")
