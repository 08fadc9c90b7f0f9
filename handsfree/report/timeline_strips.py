"""Lanes of what happened, drawn on a time axis that is broken into strips like a recorder's paper. Pure."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from handsfree.record.display_text import clock_text

WIDTH = 1200.0
GUTTER = 118.0
_ROOM = WIDTH - GUTTER - 8.0
_SPANS_S = (60, 120, 180, 300, 600, 900, 1800, 3600, 7200)
_MOST_STRIPS = 6
_CHARACTER = 6.3
"""Width of a character at the size of the labels, in units of the picture."""
MOST_MARKS = 1_000
"""Marks of one lane up to which each is drawn by itself. Chosen here, no source."""
_LEAST = 3.0
"""Units between two marks of a kind in a lane that has more."""
_AXIS, _STEPS, _SAID, _HEARD, _LIGHT, _EVENTS, _GAP = 20.0, 26.0, 16.0, 18.0, 17.0, 22.0, 16.0


@dataclass(frozen=True, slots=True)
class Shape:
    """Something drawn.

    Attributes:
        form: "rect", "line", "text", "tick", "stop", "note", "cut" or "dot".
        look: Class for the style sheet.
        x: Left edge or place, units of the picture.
        y: Top edge or base line.
        width: Width, or length of a line to the right.
        height: Height, or length of a line downwards.
        words: Text that is drawn.
        tip: What it is, in words.
    """

    form: str
    look: str
    x: float
    y: float
    width: float = 0.0
    height: float = 0.0
    words: str = ""
    tip: str = ""


@dataclass(frozen=True, slots=True)
class Span:
    """Something that lasts, or a mark.

    Attributes:
        from_s: Session time when it began, seconds.
        to_s: When it ended; of a mark, the same.
        look: Class for the style sheet.
        label: Words that are drawn, or "".
        tip: What it is, in words.
        form: As in `Shape`.
        open_end: Whether its label may stand beside it.
    """

    from_s: float
    to_s: float
    look: str
    label: str
    tip: str
    form: str = "rect"
    open_end: bool = False


@dataclass
class Lanes:
    """What is to be drawn, by lane.

    Attributes:
        steps: Steps of the procedure.
        said: Prompts.
        heard: Utterances.
        light: Runs of light, by name of the zone.
        events: Holds, stops and what else happened.
    """

    steps: list[Span] = field(default_factory=list)
    said: list[Span] = field(default_factory=list)
    heard: list[Span] = field(default_factory=list)
    light: dict[str, list[Span]] = field(default_factory=dict)
    events: list[Span] = field(default_factory=list)


def drawn(lanes: Lanes, end_s: float) -> tuple[float, tuple[Shape, ...]]:
    """Height of the picture, and its shapes, back to front.

    Args:
        lanes: What is to be drawn.
        end_s: Session time at which the axis ends, seconds, above 0.
    """
    span_s = next((span for span in _SPANS_S if end_s / span <= _MOST_STRIPS), _SPANS_S[-1])
    least_s = _LEAST * span_s / _ROOM
    lanes = Lanes(
        steps=_thinned(lanes.steps, least_s),
        said=_thinned(lanes.said, least_s),
        heard=_thinned(lanes.heard, least_s),
        light={name: _thinned(spans, least_s) for name, spans in lanes.light.items()},
        events=_thinned(lanes.events, least_s),
    )
    shapes: list[Shape] = []
    top, from_s = 4.0, 0.0
    while from_s < end_s:
        top += _draw_strip(shapes, lanes, from_s, end_s, span_s, top) + _GAP
        from_s += span_s
    return top - _GAP + 4.0, tuple(shapes)


def _thinned(spans: list[Span], least_s: float) -> list[Span]:
    """A lane of a very long visit: what would be drawn in one place is one mark that says how many it stands for."""
    if len(spans) <= MOST_MARKS:
        return spans
    kinds: dict[tuple[str, str], list[list[Span]]] = {}
    for span in sorted(spans, key=lambda span: span.from_s):
        groups = kinds.setdefault((span.form, span.look), [])
        if groups and span.from_s < groups[-1][0].from_s + least_s:
            groups[-1].append(span)
        else:
            groups.append([span])
    thinned = [_together(group) for groups in kinds.values() for group in groups]
    return sorted(thinned, key=lambda span: span.from_s)


def _together(group: list[Span]) -> Span:
    first = group[0]
    if len(group) == 1:
        return first
    to_s = max(span.to_s for span in group)
    return replace(first, to_s=to_s, label="", tip=f"{first.tip} and {len(group) - 1} more in the same place")


def _draw_strip(shapes: list[Shape], lanes: Lanes, from_s: float, end_s: float, span_s: float, top: float) -> float:
    scale = _ROOM / span_s
    to_s = min(from_s + span_s, end_s)
    length_s = to_s - from_s
    right = GUTTER + length_s * scale

    last = to_s >= end_s

    def here(spans: Iterable[Span]) -> list[Span]:
        begun = [span for span in spans if span.from_s < to_s or (last and span.from_s == to_s)]
        return [span for span in begun if span.to_s >= from_s and not _before(span, from_s)]

    rows: list[tuple[str, float, list[Span], int]] = [("Steps", _STEPS, here(lanes.steps), 0)]
    if lanes.said:
        rows.append(("Tool says", _SAID, here(lanes.said), 0))
    rows.append(("Heard", _HEARD, here(lanes.heard), 0))
    for name, spans in lanes.light.items():
        shown = here(spans)
        if shown:
            rows.append((name, _LIGHT, shown, 0))
    events = here(lanes.events)
    levels = _levels(events, from_s, scale)
    if events:
        rows.append(("Events", _EVENTS * (max(levels) + 1), events, 1))
    height = _AXIS + sum(row[1] for row in rows)
    _draw_axis(shapes, from_s, to_s, span_s, top, height)
    y = top + _AXIS
    for name, tall, spans, is_events in rows:
        shapes.append(Shape("text", "lane", GUTTER - 10, y + min(tall, _EVENTS) / 2 + 4, words=name))
        shapes.append(Shape("line", "rule", GUTTER, y + tall, right - GUTTER))
        for index, span in enumerate(spans):
            level = levels[index] if is_events else 0
            _draw(shapes, span, from_s, to_s, scale, y + level * _EVENTS, _EVENTS if is_events else tall)
        y += tall
    return height


def _before(span: Span, from_s: float) -> bool:
    """Whether a span that ends on the border belongs to the strip before."""
    return span.to_s == from_s and span.from_s < from_s


def _levels(events: list[Span], from_s: float, scale: float) -> list[int]:
    """Put labels that would touch on lines of their own."""
    ends: list[float] = []
    levels = []
    for span in sorted(range(len(events)), key=lambda index: events[index].from_s):
        event = events[span]
        x = _label_x(event, from_s, scale)
        level = next((number for number, end in enumerate(ends) if end <= x), len(ends))
        if level == len(ends):
            ends.append(0.0)
        ends[level] = max(x + 24 + len(event.label) * _CHARACTER, GUTTER + (event.to_s - from_s) * scale + 4)
        levels.append((span, level))
    return [level for _, level in sorted(levels)]


def _label_x(event: Span, from_s: float, scale: float) -> float:
    """Where a mark's label begins; near the right edge it stands to the left of its mark."""
    x = GUTTER + max(0.0, event.from_s - from_s) * scale
    room = 20 + len(event.label) * _CHARACTER
    return x - room if x + room > WIDTH else x


def _draw_axis(shapes: list[Shape], from_s: float, to_s: float, span_s: float, top: float, height: float) -> None:
    scale = _ROOM / span_s
    every_s = next(step for step in (10, 30, 60, 120, 300, 600, 1800) if span_s / step <= 12)
    at_s = from_s
    while at_s <= to_s:
        x = GUTTER + (at_s - from_s) * scale
        shapes.append(Shape("line", "grid", x, top + _AXIS - 5, 0, height - _AXIS + 5))
        look = "time last" if x > WIDTH - 24 else "time"
        shapes.append(Shape("text", look, x, top + _AXIS - 8, words=clock_text(at_s)))
        at_s += every_s


def _draw(shapes: list[Shape], span: Span, from_s: float, to_s: float, scale: float, y: float, tall: float) -> None:
    x = GUTTER + max(0.0, span.from_s - from_s) * scale
    width = (min(span.to_s, to_s) - max(span.from_s, from_s)) * scale
    begins = span.from_s >= from_s
    if span.form != "rect":
        shapes.append(Shape(span.form, span.look, x, y, 0, tall, tip=span.tip))
        if span.label:
            label_x = _label_x(span, from_s, scale)
            shapes.append(
                Shape("text", "label", label_x + (4 if label_x < x else 12), y + tall / 2 + 4, words=span.label)
            )
        return
    width = max(width, 1.5)
    shapes.append(Shape("rect", span.look, x, y + 2, width, tall - 4, tip=span.tip))
    if not span.label or (span.open_end and not begins):
        return
    base = y + tall / 2 + 4
    needs = len(span.label) * _CHARACTER
    if not span.open_end or width >= needs + 8:
        words = _cut(span.label, int((width - 6) / _CHARACTER))
        if words:
            shapes.append(Shape("text", "label", x + 4, base, words=words))
    elif x + width + 5 + needs <= WIDTH:
        shapes.append(Shape("text", "label", x + width + 5, base, words=span.label))
    else:
        shapes.append(Shape("text", "label", x - 5 - needs, base, words=span.label))


def _cut(label: str, fitting: int) -> str:
    """As much of a label as fits; at least its number, or nothing."""
    first = label.partition(" ")[0]
    if len(label) <= fitting:
        return label
    if fitting < len(first):
        return ""
    return f"{label[: fitting - 1].rstrip()}…" if fitting >= len(first) + 4 else first
