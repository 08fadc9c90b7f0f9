"""Shares with their intervals, as every bench prints them."""

import math

from handsfree.practice.shares import wilson


def poisson(count: int, z: float = 1.959964) -> tuple[float, float]:
    """The 95 % interval of a count of rare events: D. Byar's, near the exact one.

    Source: N. E. Breslow, N. E. Day, Statistical Methods in Cancer Research II (1987), chapter 2.
    """

    def bound(number: int, sign: int) -> float:
        return number * (1 - 1 / (9 * number) + sign * z / (3 * math.sqrt(number))) ** 3 if number else 0.0

    return bound(count, -1), bound(count + 1, 1)


def share(count: int, n: int) -> str:
    """A count as a share with its interval."""
    low, high = wilson(count, n)
    return f"{count}/{n} {count / n:.3f} [{low:.3f} {high:.3f}]" if n else "-"
