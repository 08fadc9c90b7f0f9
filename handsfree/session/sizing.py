"""Which size the measures give, by the chart of the device profile. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from handsfree.definition.profile_form import SizeChart
from handsfree.model.readings import Exact, SpokenValue
from handsfree.model.reasons import (
    BetweenSizes,
    NoSize,
    OffSizeChart,
)


@dataclass(frozen=True, slots=True)
class Sizing:
    """What a size chart says of some measures.

    Attributes:
        mean: Their mean, in the chart's unit; None where they are not all numbers.
        size: The size, or None.
        ground: Why there is none, or None.
    """

    mean: Decimal | None
    size: str | None
    ground: NoSize | BetweenSizes | OffSizeChart | None


def size_for(chart: SizeChart | None, values: Sequence[SpokenValue]) -> Sizing:
    """The size for the mean of some measures."""
    amounts = [value.value for value in values if isinstance(value, Exact)]
    if chart is None or not amounts or len(amounts) != len(values):
        return Sizing(None, None, NoSize())
    mean = sum(amounts, Decimal(0)) / len(amounts)
    size = chart.size_of(mean)
    if size is not None:
        return Sizing(mean, size, None)
    within = chart.rows[0].from_ <= mean <= chart.rows[-1].to
    return Sizing(mean, None, BetweenSizes(mean) if within else OffSizeChart(mean))
