"""The course of a practice session on one time axis: phases, events, answers, faults. Pure."""

from handsfree.practice.scoring import Score
from handsfree.practice.timeline import timeline
from handsfree.record.contents import Record
from handsfree.report.timeline_chart import ChartPicture
from handsfree.report.timeline_strips import Shape

_WIDTH, _GUTTER = 1200.0, 118.0
_LANES = {"phase": 14.0, "event": 44.0, "answer": 70.0, "fault": 96.0}
_HEIGHT = 138.0


def practice_course(record: Record, found: Score) -> ChartPicture:
    """Draw when the phases ran, what happened, what was answered and what failed the attempt."""
    line = timeline(record)
    end_s = max(line.end_s, 1.0)

    def place(at_s: float) -> float:
        return _GUTTER + min(at_s, end_s) / end_s * (_WIDTH - _GUTTER - 8.0)

    shapes = [
        Shape("text", "lane", _GUTTER - 8, top + 10, words=name)
        for name, top in zip(("phase", "what happened", "answered", "fails"), _LANES.values(), strict=True)
    ]
    for step, from_s, to_s in line.steps:
        tip = f"{step.stage}, {to_s - from_s:.0f} s"
        wide = place(to_s) - place(from_s)
        look = f"step {step.phase}"
        shapes.append(Shape("rect", look, place(from_s), _LANES["phase"], wide, 14.0, tip=tip))
    for reaction in found.reactions:
        tip = f"{reaction.event.id} at {reaction.at_s:.0f} s: {reaction.verdict}, {reaction.note}"
        shapes.append(Shape("tick", "said", place(reaction.at_s), _LANES["event"] - 4, tip=tip))
        if reaction.seconds is not None:
            answered_s = reaction.at_s + reaction.seconds
            shapes.append(Shape("note", "mark note", place(answered_s), _LANES["answer"] - 4, tip=tip))
    shapes += [
        Shape("stop", "mark stop", place(fault.at_s), _LANES["fault"] - 4, tip=fault.text) for fault in found.faults
    ]
    for minute in range(int(end_s // 60) + 1):
        shapes.append(Shape("line", "grid", place(minute * 60), 10.0, 0.0, _HEIGHT - 26))
        if minute % max(1, int(end_s // 900) + 1) == 0:
            shapes.append(Shape("text", "time", place(minute * 60), _HEIGHT - 4, words=f"{minute} min"))
    words = (
        f"{end_s / 60:.0f} minutes, {len(found.reactions)} things happened, "
        f"{len(found.faults)} faults that fail the attempt"
    )
    return ChartPicture(_WIDTH, _HEIGHT, tuple(shapes), words, ())
