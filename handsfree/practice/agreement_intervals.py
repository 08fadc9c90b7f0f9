"""Intervals of agreement by resampling whole attempts. Pure; the same seed gives the same interval.

The seven marks that a rater gives one attempt hang together, so attempts are drawn, each with all its marks; to draw
single marks would make the interval too narrow.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from handsfree.practice.learning_curves import Weights, agreement

RESAMPLES = 1000
SEED = 20
_LOW, _HIGH = 0.025, 0.975


@dataclass(frozen=True, slots=True)
class KappaInterval:
    """The middle 95 % of kappa over resampled attempts.

    Attributes:
        low: Lower end.
        high: Upper end.
        undefined: Share of the resamples in which kappa is not defined; they are left out.
    """

    low: float
    high: float
    undefined: float


def kappa_interval(
    attempts: Sequence[Sequence[tuple[int, int]]],
    categories: Sequence[int],
    weights: Weights = Weights.NONE,
    *,
    resamples: int = RESAMPLES,
    seed: int = SEED,
) -> KappaInterval | None:
    """The percentile interval of Cohen's kappa, drawn by attempt.

    Args:
        attempts: For each attempt the pairs of ratings of both raters, one or several.
        categories: See `agreement`.
        weights: See `agreement`.
        resamples: How often all attempts are drawn anew.
        seed: Of the draws.

    Returns:
        None where there are fewer than two attempts, or kappa is defined in none of the resamples.

    *Source*: Efron and Tibshirani, An Introduction to the Bootstrap, 1993, chapter 13 (percentile interval); Field and
    Welsh, J R Stat Soc B 2007;69:369 (whole clusters are drawn).
    """
    if len(attempts) < 2:
        return None
    chance = Random(seed)  # noqa: S311 - the same each time, which is the point
    found: list[float] = []
    for _ in range(resamples):
        pairs = [pair for attempt in chance.choices(attempts, k=len(attempts)) for pair in attempt]
        kappa = agreement([one for one, _ in pairs], [other for _, other in pairs], categories, weights).kappa
        if kappa is not None:
            found.append(kappa)
    if not found:
        return None
    found.sort()
    return KappaInterval(_quantile(found, _LOW), _quantile(found, _HIGH), 1 - len(found) / resamples)


def _quantile(ordered: Sequence[float], share: float) -> float:
    """The quantile of sorted values, with a straight line between neighbours."""
    place = share * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (ordered[above] - ordered[below]) * (place - below)
