"""Learning curves and agreement of raters: arithmetic only, on outcomes that people judged. Pure.

None of it says that somebody is able: it shows a course, with its parameters, for an assessor to look at.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite, log

from handsfree.errors import UsageError


@dataclass(frozen=True, slots=True)
class Signal:
    """A path came to one of its lines. After it the path begins anew at 0.

    Attributes:
        attempt: At which attempt, from 1.
        upper: Whether it was the upper line.
    """

    attempt: int
    upper: bool


@dataclass(frozen=True, slots=True)
class SignalledPath:
    """A path that begins anew after each signal.

    Attributes:
        sums: Sum after each attempt; one that signals stands as it came to the line.
        signals: When it came to a line.
    """

    sums: tuple[float, ...]
    signals: tuple[Signal, ...]

    def at(self, *, upper: bool) -> tuple[int, ...]:
        """Attempts at which it came to the upper line, or to the lower."""
        return tuple(one.attempt for one in self.signals if one.upper is upper)


@dataclass(frozen=True, slots=True)
class CusumLimits:
    """Parameters of a cumulative sum by Wald's sequential probability ratio test.

    Attributes:
        p0: Acceptable failure rate, 0 … 1.
        p1: Unacceptable failure rate, above `p0`.
        alpha: Chance to call an acceptable rate unacceptable.
        beta: Chance to call an unacceptable rate acceptable.

    Raises:
        UsageError: A figure is out of range.

    *Source*: Wald, Sequential Analysis, 1947, as used in learning curves of procedures (PMC6470078, figure 3).
    """

    p0: float = 0.10
    p1: float = 0.20
    alpha: float = 0.10
    beta: float = 0.10

    def __post_init__(self) -> None:
        if not 0 < self.p0 < self.p1 < 1:
            raise UsageError(f"p0 is {self.p0} and p1 {self.p1}; 0 < p0 < p1 < 1 would be right")
        for name, value in (("alpha", self.alpha), ("beta", self.beta)):
            if not 0 < value < 0.5:
                raise UsageError(f"{name} is {value}; it must be above 0 and below 0.5")

    @property
    def _ratio(self) -> float:
        return log(self.p1 / self.p0) + log((1 - self.p0) / (1 - self.p1))

    @property
    def s(self) -> float:
        """What a success takes off; a failure adds 1 - s."""
        return log((1 - self.p0) / (1 - self.p1)) / self._ratio

    @property
    def h0(self) -> float:
        """Distance of the lower line; crossing it speaks for the acceptable rate."""
        return log((1 - self.alpha) / self.beta) / self._ratio

    @property
    def h1(self) -> float:
        """Distance of the upper line; crossing it speaks for the unacceptable rate."""
        return log((1 - self.beta) / self.alpha) / self._ratio

    def path(self, passed: Sequence[bool]) -> SignalledPath:
        """The sum after each attempt, from 0, and from 0 again after it came to a line."""
        total, sums, signals = 0.0, [], []
        for attempt, one in enumerate(passed, start=1):
            total += -self.s if one else 1 - self.s
            sums.append(total)
            if total <= -self.h0 or total >= self.h1:
                signals.append(Signal(attempt, upper=total > 0))
                total = 0.0
        return SignalledPath(tuple(sums), tuple(signals))


@dataclass(frozen=True, slots=True)
class LearningLimits:
    """Parameters of a learning-curve cumulative sum (LC-CUSUM): it signals when a low failure rate is likely.

    Attributes:
        p0: Adequate failure rate, 0 … 1.
        delta: How much above it a rate is inadequate.
        h: Line at which it signals.

    Raises:
        UsageError: A figure is out of range.

    *Source*: Biau and others, Br J Surg 2008;95:925. One paper prints min(0, …), which does not fit a score that rises
    with success; max(0, …) is used here. The limit of 1.25 is from memory; `reached_by` gives its error rates.
    """

    p0: float = 0.10
    delta: float = 0.10
    h: float = 1.25

    def __post_init__(self) -> None:
        if not (0 < self.p0 < 1 and self.delta > 0 and self.p0 + self.delta < 1):
            raise UsageError(f"p0 is {self.p0} and delta {self.delta}; 0 < p0 < p0 + delta < 1 would be right")
        if not (isfinite(self.h) and self.h > 0):
            raise UsageError(f"h is {self.h}; it must be above 0")

    @property
    def success(self) -> float:
        """What a success adds."""
        return log((1 - self.p0) / (1 - self.p0 - self.delta))

    @property
    def failure(self) -> float:
        """What a failure adds; below 0."""
        return log(self.p0 / (self.p0 + self.delta))

    def path(self, passed: Sequence[bool]) -> SignalledPath:
        """The score after each attempt, never below 0, and from 0 again after it came to the line."""
        total, sums, signals = 0.0, [], []
        for attempt, one in enumerate(passed, start=1):
            total = max(0.0, total + (self.success if one else self.failure))
            sums.append(total)
            if total >= self.h:
                signals.append(Signal(attempt, upper=True))
                total = 0.0
        return SignalledPath(tuple(sums), tuple(signals))

    def reached_by(self, failure_rate: float, attempts: int) -> float:
        """Chance that somebody with this failure rate reaches the line within so many attempts.

        Exact: the chances of all scores are carried on from attempt to attempt.
        """
        states: dict[float, float] = {0.0: 1.0}
        reached = 0.0
        for _ in range(attempts):
            following: dict[float, float] = {}
            for total, chance in states.items():
                for change, part in ((self.success, 1 - failure_rate), (self.failure, failure_rate)):
                    score = max(0.0, round(total + change, 9))
                    if score >= self.h:
                        reached += chance * part
                    else:
                        following[score] = following.get(score, 0.0) + chance * part
            states = following
        return reached


class Weights(StrEnum):
    """How far apart two ratings count."""

    NONE = "none"
    LINEAR = "linear"
    QUADRATIC = "quadratic"


@dataclass(frozen=True, slots=True)
class RaterAgreement:
    """Agreement of two raters.

    Attributes:
        count: Pairs.
        observed: Observed agreement, weighted, 0 … 1.
        expected: RaterAgreement expected by chance, weighted.
        kappa: Cohen's kappa, or None where it is not defined: chance alone would agree wholly.
    """

    count: int
    observed: float
    expected: float
    kappa: float | None

    @property
    def band(self) -> str:
        """A word for kappa. *Source*: Landis and Koch, Biometrics 1977;33:159."""
        if self.kappa is None:
            return "n/a"
        names = ((0.0, "poor"), (0.20, "slight"), (0.40, "fair"), (0.60, "moderate"), (0.80, "substantial"))
        return next((name for limit, name in names if self.kappa <= limit), "almost perfect")


def agreement(
    first: Sequence[int], second: Sequence[int], categories: Sequence[int], weights: Weights = Weights.NONE
) -> RaterAgreement:
    """Cohen's kappa of two raters on the same things.

    Args:
        first: Ratings of one.
        second: Ratings of the other, in the same order.
        categories: All categories in order; distances are counted in places.
        weights: None for categories without order, linear or quadratic for ratings.

    Raises:
        UsageError: There are no pairs, not as many of both, or a rating is no category.

    *Source*: Cohen, Educ Psychol Meas 1960;20:37, and weighted, Psychol Bull 1968;70:213.
    """
    if not first or len(first) != len(second):
        raise UsageError(f"agreement needs as many ratings of both raters; there are {len(first)} and {len(second)}")
    places = {category: place for place, category in enumerate(categories)}
    unknown = sorted((set(first) | set(second)) - set(places))
    if unknown:
        raise UsageError(f"{unknown[0]} is no rating; {', '.join(map(str, categories))} would be right")
    size, count = len(categories), len(first)

    def closeness(one: int, other: int) -> float:
        apart = abs(one - other) / max(1, size - 1)
        match weights:
            case Weights.NONE:
                return float(one == other)
            case Weights.LINEAR:
                return 1 - apart
            case Weights.QUADRATIC:
                return 1 - apart**2

    pairs = [(places[a], places[b]) for a, b in zip(first, second, strict=True)]
    observed = sum(closeness(a, b) for a, b in pairs) / count
    rows = [sum(a == place for a, _ in pairs) for place in range(size)]
    columns = [sum(b == place for _, b in pairs) for place in range(size)]
    expected = sum(rows[a] * columns[b] * closeness(a, b) for a in range(size) for b in range(size)) / count**2
    kappa = None if abs(1 - expected) < 1e-12 else (observed - expected) / (1 - expected)
    return RaterAgreement(count, observed, expected, kappa)
