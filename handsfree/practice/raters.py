"""The agreement of two raters on the attempts that both rated. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.errors import UsageError
from handsfree.practice.agreement_intervals import KappaInterval, kappa_interval
from handsfree.practice.attempts import Rating
from handsfree.practice.learning_curves import RaterAgreement, Weights, agreement
from handsfree.practice.rating import ITEMS, MARKS


@dataclass(frozen=True, slots=True)
class RaterComparison:
    """Agreement of two raters on one thing.

    Attributes:
        what: An item of the form, "all items", or "judgement".
        weights: How far apart two ratings count.
        found: The agreement.
        interval: Where kappa lies by resampling attempts; None where that says nothing.
        attempts: How many attempts both rated; marks of one attempt hang together.
    """

    what: str
    weights: Weights
    found: RaterAgreement
    interval: KappaInterval | None
    attempts: int


def compare_raters(ratings: Sequence[Rating], first: str, second: str, weights: Weights) -> tuple[RaterComparison, ...]:
    """Agreement of two raters on the attempts that both rated.

    Args:
        ratings: All ratings.
        first: A rater.
        second: Another.
        weights: For marks from 1 to 5; the judgement has none.

    Raises:
        UsageError: They rated nothing together.
    """
    by_rater = {
        rater: {one.attempt: one.marks for one in ratings if one.rater == rater}
        for rater in dict.fromkeys((first, second))
    }
    if len(by_rater) < 2:
        raise UsageError("agreement needs two raters; both are the same")
    both = sorted(set(by_rater[first]) & set(by_rater[second]))
    if not both:
        raise UsageError(f"{first} and {second} have rated no attempt together")
    one, other = ([by_rater[rater][attempt] for attempt in both] for rater in (first, second))

    def compared(what: str, pairs: list[list[tuple[int, int]]], used: Weights, marks: Sequence[int]) -> RaterComparison:
        flat = [pair for attempt in pairs for pair in attempt]
        found = agreement([a for a, _ in flat], [b for _, b in flat], marks, used)
        return RaterComparison(what, used, found, kappa_interval(pairs, marks, used), len(pairs))

    rated = list(zip(one, other, strict=True))
    items = [[(a.items[item], b.items[item]) for item in ITEMS] for a, b in rated]
    return (
        *(compared(item, [[row[place]] for row in items], weights, MARKS) for place, item in enumerate(ITEMS)),
        compared("all items", items, weights, MARKS),
        compared("judgement", [[(int(a.passed), int(b.passed))] for a, b in rated], Weights.NONE, (0, 1)),
    )
