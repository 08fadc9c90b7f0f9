"""Records of invented visits for tests."""

from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

from handsfree.clock import ManualClock
from handsfree.model.commands import Control, ControlCommand, GiveValues, SlotValue
from handsfree.model.effects import Append
from handsfree.model.events import ClockTicked, CommandSpoken, SessionEvent, SessionStarted
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.model.readings import Exact, Option, Side
from handsfree.record.journal import Journal

START = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
HEADER = {
    "record_id": "5f0c7c1e-0000-4000-8000-000000000001",
    "procedure": "ulnar-splint-fitting",
    "procedure_sha256": "ab" * 32,
    "practice": False,
    "versions": {"handsfree": "0.1.0", "procedure ulnar-splint-fitting": "0.1.0"},
    "patient_reference": "DEMO-0001",
    "started": "2026-11-25T10:00:00.000Z",
}


def wall(at_s: float) -> str:
    clock = ManualClock(START)
    clock.sleep_until(at_s)
    return clock.wall().isoformat(timespec="milliseconds").replace("+00:00", "Z")


def started(**changes) -> SessionStarted:
    return SessionStarted(
        **{
            "at_s": 0.0,
            "wall": wall(0),
            "local_offset_minutes": 60,
            "today": "2026-11-25",
            "record_id": HEADER["record_id"],
            "versions": (("handsfree", "0.1.0"), ("procedure ulnar-splint-fitting", "0.1.0")),
            **changes,
        }
    )


def heard(text: str, at_s: float, clip: bytes | None = None) -> Hypothesis:
    evidence = Evidence(-0.1, 0.25, float("inf"), 1.0, 21.5)
    return Hypothesis(tuple(text.split()), ("digit:1",), at_s - 1.5, at_s - 0.25, "test", evidence, None, None, clip)


def gives(slot: str, value, at_s: float, text: str = "one", side: Side | None = None, clip: bytes | None = None):
    command = GiveValues((SlotValue(slot, value, side),))
    return CommandSpoken(at_s=at_s, wall=wall(at_s), command=command, heard=heard(text, at_s, clip), probability=0.97)


def affirms(at_s: float, clip: bytes | None = None) -> CommandSpoken:
    command = ControlCommand(Control.AFFIRM)
    return CommandSpoken(
        at_s=at_s, wall=wall(at_s), command=command, heard=heard("affirmative", at_s, clip), probability=0.99
    )


def confirmed(step: str, field: str, value: str, kind: str = "option", **more) -> Append:
    """A reading as a session writes it."""
    data = {
        "stage": step,
        "step": step,
        "field": field,
        "label": field,
        "side": None,
        "timing": None,
        "type": kind,
        "value": value,
        "unit": None,
        "comparator": None,
        "decimals": None,
        "class": "none",
        "class_reason": "",
        "heard": "one",
        "probability": 0.97,
        "runner_up": None,
        "engine": "test",
        "spoken_from_s": 1.5,
        "spoken_to_s": 2.75,
    }
    return Append("reading_confirmed", data | more)


def refill(value: str, side: str, timing: str, **more) -> Append:
    step = f"nv_{timing}"
    return confirmed(step, "refill", value, "exact", side=side, timing=timing, unit="s", **{"decimals": 1, **more})


def visit() -> list[tuple[SessionEvent, list[Append]]]:
    """Events of a short visit with the facts that a session would write."""
    return [
        (started(), [Append("session_started", {"procedure": "ulnar-splint-fitting", "approved": False})]),
        (gives("kind", Option("live"), 4.0, "live session"), [confirmed("session_kind", "kind", "live")]),
        (gives("refill", Exact(Decimal("1.5"), 1, "s"), 9.5, "one point five", Side.LEFT), []),
        (
            affirms(12.0),
            [refill("1.5", "left", "baseline"), Append("step_entered", {"step": "circumference"})],
        ),
        (ClockTicked(at_s=20.0, wall=wall(20)), [Append("light_turned_on", {"zone": "fracture_side", "at_s": 19.5})]),
        (
            affirms(30.0),
            [
                Append("light_turned_off", {"zone": "fracture_side", "at_s": 29.0, "seconds": 9.5}),
                Append("zone_totalled", {"zone": "fracture_side", "lit_s": 9.5, "target_s": 6, "side": "left"}),
            ],
        ),
        (affirms(40.0), [refill("2.5", "left", "after", **{"class": "amber", "class_reason": "refill is over two"})]),
        (affirms(44.0), [Append("note_taken", {"step": "nv_after", "text": "padding checked at the wrist"})]),
    ]


CLOSING = Append(
    "session_closed",
    {"outcome": "completed", "open_items": [], "zones": [{"zone": "fracture_side", "lit_s": 9.5, "target_s": 6}]},
)


def write_visit(folder: Path, *, close: bool = True, header: dict | None = None, closing: Append = CLOSING) -> Path:
    clock = ManualClock(START)
    clock.sleep_until(60)
    with Journal.create(folder, header or HEADER, clock=clock) as journal:
        for event, facts in visit():
            journal.append(event, facts)
        if close:
            journal.append(affirms(50.0), [closing])
    return folder
