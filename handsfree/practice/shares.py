"""Shares with their intervals. Pure."""

from dataclasses import dataclass
from math import sqrt

Z_95 = 1.959964
"""Two-sided 95 % point of the normal distribution."""


def wilson(count: int, n: int, z: float = Z_95) -> tuple[float, float]:
    """The interval of a share, 0 … 1; all of it where there is nothing to count.

    *Source*: Wilson, J Am Stat Assoc 1927;22:209.
    """
    if not n:
        return 0.0, 1.0
    share, spread = count / n, z * z / n
    middle = (share + spread / 2) / (1 + spread)
    half = z * sqrt(share * (1 - share) / n + spread / (4 * n)) / (1 + spread)
    return max(0.0, middle - half), min(1.0, middle + half)


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many.

    Attributes:
        count: How many.
        n: Of how many.
    """

    count: int
    n: int

    @property
    def words(self) -> str:
        """The share with its 95 % interval by Wilson."""
        low, high = wilson(self.count, self.n)
        return f"{self.count} of {self.n} (95 % interval {low:.0%} to {high:.0%}, Wilson)"


def rate_words(rate: float) -> str:
    """A failure rate as people say it: 0.1 is "1 attempt in 10"."""
    every = 1 / rate
    if abs(every - round(every)) < 0.01:
        return f"1 attempt in {round(every)}"
    return f"{100 * rate:g} attempts in 100"
