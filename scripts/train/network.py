"""The default weights in PyTorch, with additions that are rounded as they will ship."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import torch
from base import Base, load_base
from layers import Place, RoundedLinear, TunedLinear
from pieces import Pieces
from torch import Tensor, nn
from transformers import MoonshineConfig, MoonshineForConditionalGeneration


class FirstNetwork(nn.Module):
    """The network of the default weights, with additions; all but them is frozen.

    Args:
        base: The weights.
        rank: Of each addition.
        stretch: Step of the new codes over that of the base.
    """

    def __init__(self, base: Base, rank: int, stretch: float) -> None:
        super().__init__()
        network = MoonshineForConditionalGeneration(MoonshineConfig(pad_head_dim_to_multiple_of=8))
        network.load_state_dict({name: torch.from_numpy(value.copy()) for name, value in base.state().items()})
        for parameter in network.parameters():
            parameter.requires_grad_(requires_grad=False)
        for name, matrix in base.linear.items():
            parent_name, _, own = name.removesuffix(".weight").rpartition(".")
            parent = network.get_submodule(parent_name)
            plain = getattr(parent, own)
            tuned = RoundedLinear(plain.weight, plain.bias, rank, matrix.scale * stretch, matrix.zero_point)
            setattr(parent, own, tuned)
        self._whole = network

    @property
    def tuned_layers(self) -> dict[str, TunedLinear]:
        """Every layer with an addition, by the name of its weight."""
        parts = self._whole.named_modules()
        return {f"{name}.weight": part for name, part in parts if isinstance(part, TunedLinear)}

    def encode(self, sound: Tensor, ends: Tensor) -> Tensor:  # noqa: ARG002 - each is filled with the sound of its room
        """Encode sounds of one length, (sounds, samples). No mask: the front end's group norm hears padding."""
        encoded: Tensor = self._whole.model.encoder(sound).last_hidden_state
        return encoded

    def scores(self, encoded: Tensor, tokens: Tensor) -> Tensor:
        """Scores of the piece after each piece, (sounds, pieces, vocabulary)."""
        decoded = self._whole.model.decoder(input_ids=tokens, encoder_hidden_states=encoded, use_cache=False)
        found: Tensor = self._whole.proj_out(decoded.last_hidden_state)
        return found


class First:
    """The default weights as a family to train.

    Args:
        work: Holds `base.npz` and `tokenizer.bin`.
    """

    def __init__(self, work: Path) -> None:
        self._base = load_base(work / "base.npz")
        self.pieces = Pieces(work / "tokenizer.bin")

    def build(self, rank: int, stretch: float) -> FirstNetwork:
        """See `FirstNetwork`."""
        return FirstNetwork(self._base, rank, stretch)

    def places(self, layers: Mapping[str, TunedLinear]) -> dict[str, Place]:
        """Where each layer lies in the files."""
        found: dict[str, Place] = {}
        for name, layer in layers.items():
            matrix = self._base.linear[name]
            assert isinstance(layer, RoundedLinear)  # noqa: S101 - `FirstNetwork` has no others
            step = float(np.float32(layer.step))
            codes = {"scale_at": matrix.scale_at, "zero_point_at": matrix.zero_point_at, "step": step}
            found[name] = Place(matrix.file, matrix.weights_at, codes)
        return found
