"""Agreement of two raters in lines for people."""

from collections.abc import Iterator, Sequence

from handsfree.practice.agreement_intervals import RESAMPLES, KappaInterval
from handsfree.practice.progress import FEW
from handsfree.practice.raters import RaterComparison


def agreement_lines(compared: Sequence[RaterComparison]) -> Iterator[str]:
    """A line for each thing that was compared, how the intervals were made, a warning where attempts are few."""
    for one in compared:
        found = one.found
        kappa = "n/a" if found.kappa is None else f"{found.kappa:.3f} {_interval(one.interval)}"
        yield (
            f"{one.what.replace('_', ' ')}: kappa {kappa} ({found.band}, weights {one.weights.value}), "
            f"observed {found.observed:.3f}, by chance {found.expected:.3f}, n {found.count}"
        )
    attempts = compared[-1].attempts
    yield (
        f"Intervals: 95 %, percentiles of {RESAMPLES} draws of whole attempts ({attempts}). The marks that one attempt "
        f"got hang together, so attempts are drawn, not marks."
    )
    if attempts < FEW:
        yield f"{attempts} attempts are few: kappa says little yet, and its interval rather too narrow."


def _interval(found: KappaInterval | None) -> str:
    if found is None:
        return "[no interval]"
    missing = f", not defined in {found.undefined:.0%} of the draws" if found.undefined else ""
    return f"[{found.low:.3f} {found.high:.3f}{missing}]"
