"""Linear layers with a low-rank addition, which is what is trained."""

from dataclasses import dataclass, field

import torch
from torch import Tensor, nn
from torch.nn import functional

HIGHEST_CODE = 255


@dataclass(frozen=True, slots=True)
class Place:
    """Where the weights of a layer lie in the files, see `handsfree.recognition.weight_merging.Addition`.

    Attributes:
        file: Which.
        weights_at: First byte of them.
        codes: Where the step of codes and the code of zero lie, and the new step; none for weights that are floats.
    """

    file: str
    weights_at: int
    codes: dict[str, float] = field(default_factory=dict)


class TunedLinear(nn.Module):
    """A linear layer of the base plus `up @ down`.

    Args:
        weight: Of the base, (outputs, inputs).
        bias: Of the base.
        rank: Of the addition.
    """

    def __init__(self, weight: Tensor, bias: Tensor | None, rank: int) -> None:
        super().__init__()
        self.register_buffer("weight", weight.detach().clone())
        self.register_buffer("bias", None if bias is None else bias.detach().clone())
        self.down = nn.Parameter(torch.randn(rank, weight.shape[1]) / weight.shape[1] ** 0.5)
        self.up = nn.Parameter(torch.zeros(weight.shape[0], rank))
        self.register_buffer("first_down", torch.zeros(0, weight.shape[1]))
        self.register_buffer("first_up", torch.zeros(weight.shape[0], 0))

    def start_from(self, down: Tensor, up: Tensor) -> None:
        """Begin with an addition instead of none, and be pulled to it; of at most the same rank."""
        with torch.no_grad():
            self.down[: len(down)] = down
            self.up[:, : len(down)] = up
        self.first_down, self.first_up = down.clone(), up.clone()

    def merged(self) -> Tensor:
        """The weights with the addition."""
        whole: Tensor = self.weight + self.up @ self.down
        return whole

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


class RoundedLinear(TunedLinear):
    """The same, rounded to the codes that the file will hold. The gradient passes the rounding as if it were not there.

    Args:
        weight: Of the base, (outputs, inputs).
        bias: Of the base.
        rank: Of the addition.
        step: Step between two codes. Base weights lie on their own codes exactly, so with the step of the base most of
            a small addition would be rounded away.
        zero_point: Code of zero.
    """

    def __init__(self, weight: Tensor, bias: Tensor | None, rank: int, step: float, zero_point: int) -> None:
        super().__init__(weight, bias, rank)
        self.step = step
        self.zero_point = zero_point

    def merged(self) -> Tensor:
        """The weights with the addition, rounded."""
        whole = super().merged()
        codes = torch.round(whole / self.step).clamp(-self.zero_point, HIGHEST_CODE - self.zero_point)
        return whole + (codes * self.step - whole).detach()
