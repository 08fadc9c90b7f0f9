"""The course of a visit as shapes on a time axis, broken into strips like a recorder's paper. Pure.

Nothing is told by colour alone: each kind of mark has a shape of its own, and every mark has words.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from handsfree.model.facts import (
    AnyFact,
    DeviceLost,
    DeviceReturned,
    HoldSet,
    LateHeatAsked,
    LightTurnedOff,
    NoteTaken,
    StepEntered,
    StopWordHeard,
    StrapRemoved,
    StrapReplaced,
    VisitClosed,
    VisitContinued,
    VisitPaused,
)
from handsfree.model.light import RunEnd
from handsfree.record.contents import Record
from handsfree.record.display_text import clock_text, plain, tenths
from handsfree.record.display_values import zone_name
from handsfree.report.event_times import Moments, Said
from handsfree.report.holds_lifted import holds
from handsfree.report.log import Spoken, utterances
from handsfree.session.prompts.reason_words import reason_words

WIDTH = 1200.0
GUTTER = 118.0
_ROOM = WIDTH - GUTTER - 8.0
_SPANS_S = (60, 120, 180, 300, 600, 900, 1800, 3600, 7200)
_MOST_STRIPS = 6
_CHARACTER = 6.3
"""Width of a character at the size of the labels, in units of the picture."""
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
class ChartPicture:
    """A drawing with words for those who cannot see it.

    Attributes:
        width: Width.
        height: Height.
        shapes: What is drawn, back to front.
        words: What it shows, in words.
        steps: Numbered steps, for the legend.
    """

    width: float
    height: float
    shapes: tuple[Shape, ...]
    words: str
    steps: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class _Span:
    from_s: float
    to_s: float
    look: str
    label: str
    tip: str
    form: str = "rect"
    open_end: bool = False


@dataclass
class _Lanes:
    """What is to be drawn, by lane."""

    steps: list[_Span] = field(default_factory=list)
    said: list[_Span] = field(default_factory=list)
    heard: list[_Span] = field(default_factory=list)
    light: dict[str, list[_Span]] = field(default_factory=dict)
    events: list[_Span] = field(default_factory=list)


def course(record: Record, said: Said) -> ChartPicture:
    """Draw the visit: steps, prompts, utterances, light by zone, holds, stops, interruptions."""
    moments = Moments.of(record)
    end_s = max(1.0, moments.end_s)
    lanes = _Lanes(light={zone_name(record, zone.zone): [] for zone in record.zones})
    lanes.steps, steps = _steps(record, moments, end_s)
    for line, prompts in said.prompts.items():
        at_s = moments.starts[line]
        lanes.said += [_Span(at_s, at_s, "said", "", prompt, "tick") for prompt in prompts]
    lanes.heard = [_utterance(one) for _, one in utterances(record)]
    for run in record.of(LightTurnedOff):
        name = zone_name(record, run.fact.zone)
        lanes.light.setdefault(name, []).extend(_run(run.fact, name))
    lanes.events = [*_holds(record, moments, end_s), *_events(record, moments)]
    span_s = next((span for span in _SPANS_S if end_s / span <= _MOST_STRIPS), _SPANS_S[-1])
    shapes: list[Shape] = []
    top, from_s = 4.0, 0.0
    while from_s < end_s:
        top += _draw_strip(shapes, lanes, from_s, end_s, span_s, top) + _GAP
        from_s += span_s
    return ChartPicture(WIDTH, top - _GAP + 4.0, tuple(shapes), _words(record, lanes, end_s), steps)


def _steps(record: Record, moments: Moments, end_s: float) -> tuple[list[_Span], tuple[tuple[int, str], ...]]:
    entered = record.of(StepEntered)
    numbers: dict[str, int] = {}
    spans = []
    for index, recorded in enumerate(entered):
        fact, from_s = recorded.fact, moments.at_s(recorded)
        to_s = moments.at_s(entered[index + 1]) if index + 1 < len(entered) else end_s
        count = numbers.setdefault(fact.stage, len(numbers) + 1)
        again = ", again" if fact.again else ""
        name = plain(fact.stage)
        tip = f"Step {count}: {name}{again}, {clock_text(from_s)} to {clock_text(to_s)}"
        spans.append(_Span(from_s, to_s, f"step {fact.phase}", f"{count} {name}", tip))
    return spans, tuple((count, plain(stage)) for stage, count in numbers.items())


def _utterance(one: Spoken) -> _Span:
    look = {"taken": "taken", "asked about": "doubted"}.get(one.taken, "refused")
    score = f" {one.score}" if one.score else ""
    return _Span(one.from_s, max(one.to_s, one.from_s + 0.3), look, "", f"“{one.words}” {one.taken}{score}")


def _run(run: LightTurnedOff, zone: str) -> Iterator[_Span]:
    from_s, to_s, possible_s = run.counted_from_s, run.counted_to_s, run.possible_to_s
    seconds = f"{tenths(max(0.0, to_s - from_s))} s"
    if possible_s > to_s + 0.05:
        yield _Span(to_s, possible_s, "possible", "", f"may have been lit until {clock_text(possible_s)}, not counted")
    tip = f"Light on {zone}: {seconds} from {clock_text(from_s)}, {plain(run.end)}"
    stopped = " stopped" if run.end is RunEnd.STOPPED else ""
    yield _Span(from_s, max(to_s, from_s), "lit", f"{seconds}{stopped}", tip, open_end=True)


def _holds(record: Record, moments: Moments, end_s: float) -> Iterator[_Span]:
    for held, lifted in holds(record):
        kind, why = held.fact.hold, reason_words(held.fact.grounds)
        from_s, to_s = moments.at_s(held), moments.at_s(lifted) if lifted is not None else end_s
        until = f"until {clock_text(to_s)}" if lifted is not None else "not lifted"
        tip = f"{kind.upper()} hold, {why}, {until}"
        yield _Span(from_s, to_s, "hold", f"{kind.upper()} HOLD: {why}", tip, open_end=True)


def _mark(fact: AnyFact) -> tuple[str, str] | None:
    """Form and words of the mark of a fact; None where it has none."""
    match fact:
        case StopWordHeard(word=word):
            return "stop", f"STOP: {word}"
        case VisitContinued():
            return "cut", "interrupted"
        case DeviceLost(what=what):
            return "cut", f"lost: {what}"
        case DeviceReturned(what=what):
            return "note", f"back: {what}"
        case StrapRemoved():
            return "note", "strap off"
        case StrapReplaced():
            return "note", "strap on"
        case NoteTaken():
            return "note", "note"
        case VisitPaused():
            return "note", "paused"
        case LateHeatAsked():
            return "note", "late heat asked"
        case VisitClosed(outcome=outcome):
            return "note", f"closed: {outcome}"
        case _:
            return None


def _events(record: Record, moments: Moments) -> Iterator[_Span]:
    for recorded in record.facts:
        mark = _mark(recorded.fact)
        if mark is not None:
            form, label = mark
            at_s = moments.at_s(recorded)
            yield _Span(at_s, at_s, f"mark {form}", label, f"{label} at {clock_text(at_s)}", form)


def _words(record: Record, lanes: _Lanes, end_s: float) -> str:
    runs = sum(span.look == "lit" for spans in lanes.light.values() for span in spans)
    parts = [
        f"{len(lanes.steps)} steps and {len(lanes.heard)} utterances in {clock_text(end_s)}",
        f"{runs} runs of light" if runs else "no light",
        f"{len(record.of(StopWordHeard))} stop words",
        f"{len(record.of(HoldSet))} holds",
        f"{len(record.of(VisitContinued))} interruptions",
    ]
    return f"Course of the visit: {', '.join(parts)}. The log further down says all of it in words."


def _draw_strip(shapes: list[Shape], lanes: _Lanes, from_s: float, end_s: float, span_s: float, top: float) -> float:
    scale = _ROOM / span_s
    to_s = min(from_s + span_s, end_s)
    length_s = to_s - from_s
    right = GUTTER + length_s * scale

    last = to_s >= end_s

    def here(spans: Iterable[_Span]) -> list[_Span]:
        begun = [span for span in spans if span.from_s < to_s or (last and span.from_s == to_s)]
        return [span for span in begun if span.to_s >= from_s and not _before(span, from_s)]

    rows: list[tuple[str, float, list[_Span], int]] = [("Steps", _STEPS, here(lanes.steps), 0)]
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


def _before(span: _Span, from_s: float) -> bool:
    """Whether a span that ends on the border belongs to the strip before."""
    return span.to_s == from_s and span.from_s < from_s


def _levels(events: list[_Span], from_s: float, scale: float) -> list[int]:
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


def _label_x(event: _Span, from_s: float, scale: float) -> float:
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


def _draw(shapes: list[Shape], span: _Span, from_s: float, to_s: float, scale: float, y: float, tall: float) -> None:
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
