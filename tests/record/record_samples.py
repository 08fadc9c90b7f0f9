"""Records of invented visits for tests."""

from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

from handsfree.clock import ManualClock
from handsfree.model.commands import Control, ControlCommand, GiveValues, SlotValue
from handsfree.model.effects import Append
from handsfree.model.events import ClockTicked, CommandSpoken, SessionEvent, SessionStarted
from handsfree.model.facts import (
    LightTurnedOff,
    LightTurnedOn,
    NoteTaken,
    ReadingConfirmed,
    SaidAgain,
    StepEntered,
    Utterance,
    VisitBegun,
    VisitClosed,
    ZoneSum,
    ZoneTotalled,
)
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.model.light import LampAgreement, LightFlag, RunEnd
from handsfree.model.readings import Exact, Option, Side, Timing
from handsfree.model.reasons import Grounds, OverLimit, Severity
from handsfree.record.contents import RecordHeader
from handsfree.record.journal import Journal

START = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
HEADER = RecordHeader(
    record_id="5f0c7c1e-0000-4000-8000-000000000001",
    procedure="ulnar-splint-fitting",
    title="Fitting of an ulnar splint",
    procedure_sha256="ab" * 32,
    practice=False,
    versions={"handsfree": "0.1.0", "procedure ulnar-splint-fitting": "0.1.0"},
    build="test",
    patient_reference="DEMO-0001",
    started="2026-11-25T10:00:00.000Z",
)


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
            "record_id": HEADER.record_id,
            "versions": (("handsfree", "0.1.0"), ("procedure ulnar-splint-fitting", "0.1.0")),
            **changes,
        }
    )


def heard(text: str, at_s: float, clip: bytes | None = None) -> Hypothesis:
    evidence = Evidence(-0.1, 0.25, float("inf"), 1.0, 21.5)
    return Hypothesis(tuple(text.split()), ("digit:1",), at_s - 1.5, at_s - 0.25, "test", evidence, clip=clip)


def gives(slot: str, value, at_s: float, text: str = "one", side: Side | None = None, clip: bytes | None = None):
    command = GiveValues((SlotValue(slot, value, side),))
    return CommandSpoken(at_s=at_s, wall=wall(at_s), command=command, heard=heard(text, at_s, clip), probability=0.97)


def affirms(at_s: float, clip: bytes | None = None) -> CommandSpoken:
    command = ControlCommand(Control.AFFIRM)
    return CommandSpoken(
        at_s=at_s, wall=wall(at_s), command=command, heard=heard("affirmative", at_s, clip), probability=0.99
    )


def said(text: str = "one", **more) -> Utterance:
    """Words beside a fact."""
    known = {"probability": 0.97, "runner_up": None, "engine": "test", "spoken_from_s": 1.5, "spoken_to_s": 2.75}
    return Utterance(**{"text": text, **known, **more})


def confirmed(step: str, field: str, value, **more) -> Append:
    """A reading as a session writes it; a text stands for an option."""
    known = {
        "stage": step,
        "step": step,
        "phase": "before",
        "field": field,
        "label": field,
        "side": None,
        "timing": None,
        "value": Option(value) if isinstance(value, str) else value,
        "unit": None,
        "severity": Severity.NONE,
        "grounds": None,
        "asked": False,
        "heard": said(),
        "read_back": "affirmed",
    }
    return Append(ReadingConfirmed(**known | more))


def exact(text: str) -> Exact:
    """A number with the decimals that are written."""
    return Exact(Decimal(text), len(text.partition(".")[2]))


def refill(value: str, side: Side, timing: Timing, **more) -> Append:
    return confirmed(f"nv_{timing}", "refill", exact(value), side=side, timing=timing, unit="s", **more)


BEGUN = Append(
    VisitBegun(
        record_id=HEADER.record_id,
        procedure=HEADER.procedure,
        procedure_sha256=HEADER.procedure_sha256,
        practice=False,
        local_offset_minutes=60,
        today=START.date(),
        versions=HEADER.versions,
        unapproved=("Fitting of an ulnar splint",),
        cautions=("This tool asks and records.",),
        compared_with=None,
    )
)


def again(stage: str) -> Append:
    """The smallest fact: the last prompt was repeated."""
    return Append(SaidAgain(stage=stage))


def light_off(zone: str, from_s: float, to_s: float) -> Append:
    return Append(
        LightTurnedOff(
            zone=zone,
            counted_from_s=from_s,
            counted_to_s=to_s,
            possible_to_s=to_s,
            credited_s=to_s - from_s,
            dose_j_cm2=0.475,
            end=RunEnd.OFF_SAID,
            reason="",
            beeps=LampAgreement.NOT_JUDGED,
            flags=(LightFlag.OVER_TARGET,),
            heard=said("light off"),
        )
    )


def visit() -> list[tuple[SessionEvent, list[Append]]]:
    """Events of a short visit with the facts that a session would write."""
    slow = {"severity": Severity.AMBER, "grounds": Grounds(OverLimit("refill", Decimal(2)))}
    total = {"lit_s": 9.5, "possible_s": 9.5, "target_s": 6.0, "dose_j_cm2": 0.475}
    note = NoteTaken(text="padding checked at the wrist", verified=False, broken_off=False, stage="nv_after")
    lit = LightTurnedOn(
        stage="expose", zone="fracture_side", counted_from_s=19.5, heat_reported=True, heard=said("light on")
    )
    return [
        (started(), [BEGUN]),
        (gives("kind", Option("live"), 4.0, "live session"), [confirmed("session_kind", "kind", "live")]),
        (gives("refill", Exact(Decimal("1.5"), 1, "s"), 9.5, "one point five", Side.LEFT), []),
        (
            affirms(12.0),
            [
                refill("1.5", Side.LEFT, Timing.BASELINE),
                Append(StepEntered(stage="circumference", step="circumference", phase="before", again=False)),
            ],
        ),
        (ClockTicked(at_s=20.0, wall=wall(20)), [Append(lit)]),
        (
            affirms(30.0),
            [light_off("fracture_side", 19.5, 29.0), Append(ZoneTotalled(zone="fracture_side", **total))],
        ),
        (affirms(40.0), [refill("2.5", Side.LEFT, Timing.AFTER, **slow)]),
        (affirms(44.0), [Append(note)]),
    ]


CLOSING = Append(
    VisitClosed(
        outcome="completed",
        open_items=(),
        zones=(
            ZoneSum(
                zone="fracture_side",
                label="fracture side",
                lit_s=9.5,
                possible_s=9.5,
                target_s=6.0,
                dose_j_cm2=0.475,
                runs=1,
                strap_shadowed=False,
            ),
        ),
        practice=False,
        stages_done=4,
        notes=1,
    )
)


def write_visit(folder: Path, *, close: bool = True, header: RecordHeader = HEADER, closing: Append = CLOSING) -> Path:
    clock = ManualClock(START)
    clock.sleep_until(60)
    with Journal.create(folder, header, clock=clock) as journal:
        for event, facts in visit():
            journal.append(event, facts)
        if close:
            journal.append(affirms(50.0), [closing])
    return folder
