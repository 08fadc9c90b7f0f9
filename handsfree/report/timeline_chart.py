"""The course of a visit on a time axis: what is drawn of it, and in which words. Pure.

Nothing is told by colour alone: each kind of mark has a shape of its own, and every mark has words.
"""

from collections.abc import Iterator
from dataclasses import dataclass

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
from handsfree.record.moments import Moments
from handsfree.record.stops_account import holds_of
from handsfree.report.event_times import PromptSaid
from handsfree.report.log import LogUtterance, utterances
from handsfree.report.timeline_strips import WIDTH, Lanes, Shape, Span, drawn
from handsfree.session.prompts.reason_words import reason_words


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


def course(record: Record, said: PromptSaid) -> ChartPicture:
    """Draw the visit: steps, prompts, utterances, light by zone, holds, stops, interruptions."""
    moments = Moments.of(record)
    end_s = max(1.0, moments.end_s)
    lanes = Lanes(light={zone_name(record, zone.zone): [] for zone in record.zones})
    lanes.steps, steps = _steps(record, moments, end_s)
    for line, prompts in said.prompts.items():
        at_s = moments.starts[line]
        lanes.said += [Span(at_s, at_s, "said", "", prompt, "tick") for prompt in prompts]
    lanes.heard = [_utterance(one) for _, one in utterances(record)]
    for run in record.of(LightTurnedOff):
        name = zone_name(record, run.fact.zone)
        lanes.light.setdefault(name, []).extend(_run(run.fact, name))
    lanes.events = [*_holds(record, moments, end_s), *_events(record, moments)]
    height, shapes = drawn(lanes, end_s)
    return ChartPicture(WIDTH, height, shapes, _words(record, lanes, end_s), steps)


def _steps(record: Record, moments: Moments, end_s: float) -> tuple[list[Span], tuple[tuple[int, str], ...]]:
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
        spans.append(Span(from_s, to_s, f"step {fact.phase}", f"{count} {name}", tip))
    return spans, tuple((count, plain(stage)) for stage, count in numbers.items())


def _utterance(one: LogUtterance) -> Span:
    look = {"taken": "taken", "asked about": "doubted"}.get(one.taken, "refused")
    score = f" {one.score}" if one.score else ""
    return Span(one.from_s, max(one.to_s, one.from_s + 0.3), look, "", f"“{one.words}” {one.taken}{score}")


def _run(run: LightTurnedOff, zone: str) -> Iterator[Span]:
    from_s, to_s, possible_s = run.counted_from_s, run.counted_to_s, run.possible_to_s
    seconds = f"{tenths(max(0.0, to_s - from_s))} s"
    if possible_s > to_s + 0.05:
        yield Span(to_s, possible_s, "possible", "", f"may have been lit until {clock_text(possible_s)}, not counted")
    tip = f"Light on {zone}: {seconds} from {clock_text(from_s)}, {plain(run.end)}"
    stopped = " stopped" if run.end is RunEnd.STOPPED else ""
    yield Span(from_s, max(to_s, from_s), "lit", f"{seconds}{stopped}", tip, open_end=True)


def _holds(record: Record, moments: Moments, end_s: float) -> Iterator[Span]:
    stated = {one.seq: one for one in record.facts}
    for held in holds_of(record):
        kind, why, lifted = held.hold, reason_words(held.grounds), held.lifted
        from_s = moments.at_s(stated[held.seq])
        to_s = moments.at_s(stated[lifted.seq]) if lifted is not None else end_s
        until = f"until {clock_text(to_s)}" if lifted is not None else "not lifted"
        tip = f"{kind.upper()} hold, {why}, {until}"
        yield Span(from_s, to_s, "hold", f"{kind.upper()} HOLD: {why}", tip, open_end=True)


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
            return "note", f"closed: {plain(outcome)}"
        case _:
            return None


def _events(record: Record, moments: Moments) -> Iterator[Span]:
    for recorded in record.facts:
        mark = _mark(recorded.fact)
        if mark is not None:
            form, label = mark
            at_s = moments.at_s(recorded)
            yield Span(at_s, at_s, f"mark {form}", label, f"{label} at {clock_text(at_s)}", form)


def _words(record: Record, lanes: Lanes, end_s: float) -> str:
    runs = sum(span.look == "lit" for spans in lanes.light.values() for span in spans)
    parts = [
        f"{len(lanes.steps)} steps and {len(lanes.heard)} utterances in {clock_text(end_s)}",
        f"{runs} runs of light" if runs else "no light",
        f"{len(record.of(StopWordHeard))} stop words",
        f"{len(record.of(HoldSet))} holds",
        f"{len(record.of(VisitContinued))} interruptions",
    ]
    return f"Course of the visit: {', '.join(parts)}. The log further down says all of it in words."
