"""Learning curves as drawings: places of points and lines. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.practice.learning_curves import SignalledPath

WIDTH, HEIGHT = 720.0, 260.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 54.0, 150.0, 14.0, 34.0
_MOST_MARKS = 12


@dataclass(frozen=True, slots=True)
class CurveLimit:
    """A line across the drawing.

    Attributes:
        value: Where, in units of the sum.
        label: What it is.
    """

    value: float
    label: str


@dataclass(frozen=True, slots=True)
class Dot:
    """An attempt: a circle where it passed, a cross where it failed.

    Attributes:
        x: Place.
        y: Place.
        passed: Which of the two.
        tip: What it is, in words.
    """

    x: float
    y: float
    passed: bool
    tip: str


@dataclass(frozen=True, slots=True)
class Ruler:
    """A line with a label, ready to draw.

    Attributes:
        place: Height, or distance from the left for numbers of attempts.
        label: Words beside it.
    """

    place: float
    label: str


@dataclass(frozen=True, slots=True)
class Curve:
    """A drawing.

    Attributes:
        title: What is drawn.
        words: What it shows, for those who cannot see it.
        paths: Points of the lines as SVG wants them: one, and one more from 0 after each signal.
        dots: Attempts.
        limits: Lines across.
        zero: Height of 0.
        marks: Numbers under the axis.
        left: Left end of the axis.
        right: Right end of the axis.
        width: Width of the drawing.
        height: Height of the drawing.
    """

    title: str
    words: str
    paths: tuple[str, ...]
    dots: tuple[Dot, ...]
    limits: tuple[Ruler, ...]
    zero: float
    marks: tuple[Ruler, ...]
    left: float = _LEFT
    right: float = WIDTH - _RIGHT
    width: float = WIDTH
    height: float = HEIGHT


def curve(title: str, words: str, path: SignalledPath, passed: Sequence[bool], limits: Sequence[CurveLimit]) -> Curve:
    """Draw a path of sums.

    Args:
        title: What is drawn.
        words: What it shows, in words.
        path: Sum after each attempt; before the first, and after each signal, it is 0.
        passed: Whether each attempt passed.
        limits: Lines across.
    """
    sums = path.sums
    values = [0.0, *sums, *(limit.value for limit in limits)]
    low, high = min(values), max(values)
    room = (high - low) or 1.0
    low, high = low - room * 0.06, high + room * 0.06
    step = (WIDTH - _LEFT - _RIGHT) / max(1, len(sums))

    def across(number: int) -> float:
        return _LEFT + number * step

    def down(value: float) -> float:
        return _TOP + (high - value) / (high - low) * (HEIGHT - _TOP - _BOTTOM)

    dots = [(across(number), down(value)) for number, value in enumerate(sums, start=1)]
    begins = [0, *(signal.attempt for signal in path.signals)]
    pieces = [
        [(across(begin), down(0.0)), *dots[begin:end]]
        for begin, end in zip(begins, [*begins[1:], len(sums)], strict=True)
        if end > begin or not sums
    ]
    every = max(1, -(-len(sums) // _MOST_MARKS))
    return Curve(
        title=title,
        words=words,
        paths=tuple(" ".join(f"{x:.1f},{y:.1f}" for x, y in piece) for piece in pieces),
        dots=tuple(
            Dot(x, y, one, f"attempt {number}: {'passed' if one else 'failed'}, {total:.2f}")
            for number, ((x, y), one, total) in enumerate(zip(dots, passed, sums, strict=True), start=1)
        ),
        limits=tuple(Ruler(down(limit.value), f"{limit.label} ({limit.value:.2f})") for limit in limits),
        zero=down(0.0),
        marks=tuple(Ruler(across(number), str(number)) for number in range(every, len(sums) + 1, every)),
    )
