"""Agreement of two raters in lines for people."""

from collections.abc import Iterator, Sequence

from handsfree.practice.progress import FEW, RaterComparison


def agreement_lines(compared: Sequence[RaterComparison]) -> Iterator[str]:
    """A line for each thing that was compared, and a warning where there are few attempts."""
    for one in compared:
        found = one.found
        kappa = "n/a" if found.kappa is None else f"{found.kappa:.3f}"
        yield (
            f"{one.what.replace('_', ' ')}: kappa {kappa} ({found.band}, weights {one.weights.value}), "
            f"observed {found.observed:.3f}, by chance {found.expected:.3f}, n {found.count}"
        )
    if compared[-1].found.count < FEW:
        yield f"{compared[-1].found.count} attempts are few: kappa says little yet."
