"""Whether an outline can be drawn: its lines do not cross, and it encloses something. Pure."""

from collections.abc import Sequence
from itertools import combinations

SMALLEST = 4.0
"""Least area of an outline, in units of the frame. Chosen here, no source: less is a line, or a slip."""
Place = tuple[float, float]


def outline_fault(points: Sequence[Place]) -> str | None:
    """What keeps an outline from being drawn, and what would be right; None where nothing does.

    Args:
        points: Its corners in order; the last is joined to the first.
    """
    lines = [(point, points[(index + 1) % len(points)]) for index, point in enumerate(points)]
    for (one, first), (other, second) in combinations(enumerate(lines), 2):
        if abs(one - other) not in {1, len(lines) - 1} and _cross(first, second):
            named = f"{_named(first)} and {_named(second)}"
            return f"the lines {named} cross; go once round the zone, from corner to corner"
    if area(points) < SMALLEST:
        return f"the outline encloses less than {SMALLEST:g} units; give the corners of a zone that can be seen"
    return None


def area(points: Sequence[Place]) -> float:
    """Area of a polygon, by the shoelace formula."""
    following = [*points[1:], points[0]]
    return abs(sum(x * ny - nx * y for (x, y), (nx, ny) in zip(points, following, strict=True))) / 2


def _cross(first: tuple[Place, Place], second: tuple[Place, Place]) -> bool:
    (a, b), (c, d) = first, second
    return _turn(a, b, c) * _turn(a, b, d) <= 0 and _turn(c, d, a) * _turn(c, d, b) <= 0 and _overlap(first, second)


def _turn(a: Place, b: Place, c: Place) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _overlap(first: tuple[Place, Place], second: tuple[Place, Place]) -> bool:
    """Whether the boxes around two lines meet: lines in one row cross only then."""
    return all(
        max(min(one[axis] for one in first), min(one[axis] for one in second))
        <= min(max(one[axis] for one in first), max(one[axis] for one in second))
        for axis in (0, 1)
    )


def _named(line: tuple[Place, Place]) -> str:
    (x, y), (to_x, to_y) = line
    return f"{x:g},{y:g} to {to_x:g},{to_y:g}"
