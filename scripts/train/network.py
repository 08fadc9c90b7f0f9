"""The network in PyTorch, its linear layers with a low-rank addition that is trained and rounded as it will ship."""

import torch
from base import Base
from torch import Tensor, nn
from torch.nn import functional
from transformers import MoonshineConfig, MoonshineForConditionalGeneration

BEGIN, END = 1, 2
HIGHEST_CODE = 255


class TunedLinear(nn.Module):
    """A linear layer of the base plus `up @ down`, rounded to the codes that the file will hold.

    The gradient passes the rounding as if it were not there.

    Args:
        weight: Of the base, (outputs, inputs).
        bias: Of the base.
        scale: Step between two codes of the base.
        zero_point: Code of zero.
        rank: Of the addition.
        stretch: Step of the new codes over that of the base. Base weights lie on their own codes exactly, so with the
            same step most of a small addition would be rounded away.
    """

    def __init__(
        self, weight: Tensor, bias: Tensor | None, scale: float, zero_point: int, rank: int, stretch: float
    ) -> None:
        super().__init__()
        self.register_buffer("weight", weight.detach().clone())
        self.register_buffer("bias", None if bias is None else bias.detach().clone())
        self.step = scale * stretch
        self.zero_point = zero_point
        self.down = nn.Parameter(torch.randn(rank, weight.shape[1]) / weight.shape[1] ** 0.5)
        self.up = nn.Parameter(torch.zeros(weight.shape[0], rank))
        self.register_buffer("first_down", torch.zeros(0, weight.shape[1]))
        self.register_buffer("first_up", torch.zeros(weight.shape[0], 0))
        self.rounding = True

    def start_from(self, down: Tensor, up: Tensor) -> None:
        """Begin with an addition instead of none, and be pulled to it; of at most the same rank."""
        with torch.no_grad():
            self.down[: len(down)] = down
            self.up[:, : len(down)] = up
        self.first_down, self.first_up = down.clone(), up.clone()

    def merged(self) -> Tensor:
        """The weights with the addition, rounded."""
        whole = self.weight + self.up @ self.down
        if not self.rounding:
            return whole
        codes = torch.round(whole / self.step).clamp(-self.zero_point, HIGHEST_CODE - self.zero_point)
        return whole + (codes * self.step - whole).detach()

    def pull(self) -> Tensor:
        """Size of what was added since the start, against that of the base, squared."""
        # Without the product: |UD|² is the trace of (UᵀU)(DDᵀ).
        up = torch.cat([self.up, -self.first_up], dim=1)
        down = torch.cat([self.down, self.first_down])
        size = torch.sum((up.T @ up) * (down @ down.T))
        return size / torch.sum(self.weight**2)

    def forward(self, values: Tensor) -> Tensor:
        """See `torch.nn.Linear`."""
        return functional.linear(values, self.merged(), self.bias)


def build(base: Base, rank: int | None = None, stretch: float = 1.0) -> MoonshineForConditionalGeneration:
    """The base network, or with a rank the one to be trained; all but the additions is frozen.

    Args:
        base: The weights.
        rank: Of each addition.
        stretch: See `TunedLinear`.
    """
    network = MoonshineForConditionalGeneration(MoonshineConfig(pad_head_dim_to_multiple_of=8))
    state = {name: torch.from_numpy(value.copy()) for name, value in base.state().items()}
    network.load_state_dict(state)
    for parameter in network.parameters():
        parameter.requires_grad_(requires_grad=False)
    if rank is not None:
        for name, matrix in base.linear.items():
            parent_name, _, own = name.removesuffix(".weight").rpartition(".")
            parent = network.get_submodule(parent_name)
            plain = getattr(parent, own)
            tuned = TunedLinear(plain.weight, plain.bias, matrix.scale, matrix.zero_point, rank, stretch)
            setattr(parent, own, tuned)
    return network


def tuned_layers(network: nn.Module) -> dict[str, TunedLinear]:
    """Every layer with an addition, by the name of its weight."""
    return {f"{name}.weight": part for name, part in network.named_modules() if isinstance(part, TunedLinear)}


def encode(network: MoonshineForConditionalGeneration, sound: Tensor) -> Tensor:
    """Encode sounds of one length, (sounds, samples). No mask: the front end's group norm hears padding."""
    encoded: Tensor = network.model.encoder(sound).last_hidden_state
    return encoded


def scores(network: MoonshineForConditionalGeneration, encoded: Tensor, tokens: Tensor) -> Tensor:
    """Scores of the piece after each piece, (sounds, pieces, vocabulary)."""
    decoded = network.model.decoder(input_ids=tokens, encoder_hidden_states=encoded, use_cache=False)
    found: Tensor = network.proj_out(decoded.last_hidden_state)
    return found


def write_down(network: MoonshineForConditionalGeneration, sound: Tensor, longest: int = 60) -> list[int]:
    """The likeliest pieces of one sound, (samples,), taken one by one."""
    with torch.no_grad():
        encoded = encode(network, sound[None])
        tokens = [BEGIN]
        while len(tokens) <= longest:
            following = int(scores(network, encoded, torch.tensor([tokens], device=sound.device))[0, -1].argmax())
            if following == END:
                break
            tokens.append(following)
    return tokens[1:]
