"""Shares with their intervals, as every bench prints them."""

import math


def wilson(count: int, n: int, z: float = 1.959964) -> tuple[float, float]:
    """The 95 % interval of a share after E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209."""
    if not n:
        return 0.0, 1.0
    share, spread = count / n, z * z / n
    middle = (share + spread / 2) / (1 + spread)
    half = z * math.sqrt(share * (1 - share) / n + spread / (4 * n)) / (1 + spread)
    return max(0.0, middle - half), min(1.0, middle + half)


def share(count: int, n: int) -> str:
    """A count as a share with its interval."""
    low, high = wilson(count, n)
    return f"{count}/{n} {count / n:.3f} [{low:.3f} {high:.3f}]" if n else "-"
