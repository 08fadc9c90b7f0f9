"""A record with every kind of value, and what is looked for in its exports."""

from dataclasses import fields, replace
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import partial

from handsfree.clock import ManualClock
from handsfree.export.choose import export
from handsfree.export.export_words import ExportWords, PublishedCode
from handsfree.model.commands import Control, ControlCommand
from handsfree.model.effects import Append
from handsfree.model.events import CommandSpoken, SessionStarted
from handsfree.model.facts import (
    HoldSet,
    ItemTaught,
    KindDeclared,
    NoteTaken,
    OperatorDeclared,
    ReadingAmended,
    ReadingConfirmed,
    RoleDeclared,
    SideDeclared,
    StepConfirmed,
    Utterance,
    VisitClosed,
    ZoneSum,
    ZoneTotalled,
)
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.open_items import OpenHold, OpenStep
from handsfree.model.readings import (
    Absent,
    AbsentReason,
    Between,
    Beyond,
    Exact,
    Option,
    Side,
    SpelledText,
    SpokenDate,
    Timing,
)
from handsfree.model.reasons import Grounds, RoseBy, Severity
from handsfree.record.amendments import amend
from handsfree.record.header import RecordHeader
from handsfree.record.journal import Journal
from handsfree.record.own_lines import Amended
from handsfree.record.verify import verify

START = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
VERSIONS = {
    "handsfree": "0.1.0",
    "device example-ulnar-sleeve": "0.1.0",
    "light example-blue-light": "0.2.0",
    "procedure ulnar-splint-fitting": "0.1.0",
    "recogniser": "neural",
    "wording": "expert",
}
HEADER = RecordHeader(
    record_id="5f0c7c1e-0000-4000-8000-000000000001",
    procedure="ulnar-splint-fitting",
    title="Fitting",
    procedure_sha256="ab" * 32,
    practice=False,
    versions=VERSIONS,
    patient_reference="DEMO-0001",
    started="2026-11-25T10:00:00.000Z",
)
ROSE = Grounds(RoseBy("refill", Decimal("1.5")))


def reason_words(reason):
    """Words that no other part of the program has."""
    match reason:
        case Grounds(ground=RoseBy(label=label, amount=amount)):
            return f"{label} rose by {amount}"
        case OpenStep(stage=stage):
            return f"not done: {stage}"
        case OpenHold(grounds=grounds):
            return f"held: {reason_words(grounds)}"
    raise AssertionError(reason)


CODES = {
    **dict.fromkeys(
        [("nv_baseline", "refill"), ("nv_after", "refill")],
        PublishedCode("http://loinc.org", "44963-7", "Capillary refill [Time] of Nail bed"),
    ),
    ("pain_after", "rest"): PublishedCode("http://loinc.org", "72514-3", "Pain severity"),
}
"""What the author of a procedure would state."""
exported = partial(export, words=lambda _: ExportWords(reason_words, codes=CODES))


def wall(at_s):
    clock = ManualClock(START)
    clock.sleep_until(at_s)
    return clock.wall().isoformat(timespec="milliseconds").replace("+00:00", "Z")


def started(**changes):
    return SessionStarted(
        **{
            "at_s": 0.0,
            "wall": wall(0),
            "local_offset_minutes": 60,
            "today": "2026-11-25",
            "record_id": HEADER.record_id,
            "versions": tuple(VERSIONS.items()),
            **changes,
        }
    )


def affirms(at_s):
    heard = Hypothesis(("affirmative",), (), at_s - 1.5, at_s - 0.25, "test")
    command = ControlCommand(Control.AFFIRM)
    return CommandSpoken(at_s=at_s, wall=wall(at_s), command=command, heard=heard, probability=0.99)


def heard(text="one"):
    return Utterance(text=text, probability=0.97, runner_up=None, engine="test", spoken_from_s=1.5, spoken_to_s=2.75)


def exact(text, decimals=0):
    return Exact(Decimal(text), decimals)


def confirmed(step, field, value, **more):
    """A reading as a session writes it."""
    plain = {
        "stage": step,
        "step": step,
        "phase": "during",
        "field": field,
        "label": field,
        "side": None,
        "timing": None,
        "value": Option(value) if isinstance(value, str) else value,
        "unit": None,
        "severity": Severity.NONE,
        "grounds": None,
        "asked": False,
        "heard": heard(),
        "read_back": "affirmed",
    }
    return ReadingConfirmed(**plain | more)


def corrected(reading, value, why="corrected"):
    """A reading that took the place of another."""
    members = {one.name: getattr(reading, one.name) for one in fields(reading) if one.name != "kind"}
    return ReadingAmended(**members | {"value": value, "old_value": reading.value, "why": why})


def refill(value, side, timing, **more):
    return confirmed(f"nv_{timing}", "refill", value, side=side, timing=timing, unit="s", **more)


def zone(name, lit_s, dose_j_cm2):
    """A zone at the end of the visit, as the sums before it say."""
    return ZoneSum(
        zone=name,
        label=name.replace("_", " "),
        lit_s=lit_s,
        possible_s=lit_s,
        target_s=6.0,
        dose_j_cm2=dose_j_cm2,
        runs=1,
        strap_shadowed=False,
    )


ZONES = (zone("fracture_side", 6.5, 0.325), zone("wrist_part", 5.0, 0.25))
FIRST_REFILL = refill(exact("1", 1), Side.LEFT, Timing.BASELINE)
ALL_VALUES = [
    SideDeclared(side=Side.LEFT),
    confirmed("who_works", "who", "surgeon"),
    RoleDeclared(role="surgeon"),
    confirmed("who_holds", "initials", SpelledText("AB12")),
    OperatorDeclared(operator="AB12"),
    confirmed("package", "lot", SpelledText("A213B1")),
    confirmed("package", "expiry", SpokenDate(date(2027, 12, 31))),
    confirmed("package_code", "gtin", SpelledText("06291041500213")),
    confirmed("package_code", "serial", SpelledText("SN123")),
    confirmed("circumference", "first", exact("17.5", 2), unit="cm", timing=Timing.BASELINE),
    FIRST_REFILL,
    refill(Beyond("<", Decimal(3)), Side.RIGHT, Timing.BASELINE),
    refill(exact("2.5", 1), Side.LEFT, Timing.AFTER, severity=Severity.RED, grounds=ROSE),
    confirmed("pain_after", "rest", exact("3"), unit="{score}", timing=Timing.AFTER),
    confirmed("nv_after", "pressure", Beyond(">", Decimal(35)), unit="mm[Hg]"),
    confirmed("nv_after", "angle", Between(Decimal(50), Decimal(60)), unit="deg"),
    confirmed("nv_after", "bend", Between(Decimal(-10), Decimal(-5)), unit="deg"),
    confirmed("nv_after", "pulse", Absent(AbsentReason.NOT_PERFORMED), side=Side.LEFT),
    confirmed("nv_after", "sensation", "=weak", side=Side.LEFT, timing=Timing.AFTER),
    *(
        ZoneTotalled(zone=one.zone, lit_s=one.lit_s, possible_s=one.possible_s, target_s=6.0, dose_j_cm2=one.dose_j_cm2)
        for one in ZONES
    ),
    confirmed("order", "image", "reviewed", phase="before"),
    StepConfirmed(stage="padding", step="padding", heard=heard()),
    ItemTaught(stage="teach", item="dry", said="Keep it dry.", teach_back=True),
    HoldSet(hold="red", stage="nv_after", grounds=ROSE),
    NoteTaken(text='padding checked, "no gap"', verified=False, broken_off=False, stage="nv_after"),
]


def closing(**changes):
    plain = VisitClosed(outcome="completed", open_items=(), zones=ZONES, practice=False, stages_done=9, notes=1)
    return replace(plain, **changes)


def write(folder, *facts, closed=True, end=None, **header):
    """A record of these facts, each following from an event of its own; `end` is how it was closed."""
    with Journal.create(folder, replace(HEADER, **header), clock=ManualClock(START)) as journal:
        journal.append(started(), [])
        for number, fact in enumerate(facts):
            journal.append(affirms(10.0 + number), [Append(fact)])
        if closed:
            journal.append(affirms(99.0), [Append(end or closing())])
    return folder


def everything(folder, **header):
    clock = ManualClock(START)
    clock.sleep_until(600)
    write(folder, *ALL_VALUES, corrected(FIRST_REFILL, exact("1.5", 1)), **header)
    entry = next(one.recorded.seq for one in verify(folder).record.readings if one.stands.field == "rest")
    amend(folder, entry, Amended(value=exact("4")), by="surgeon", reason="misheard", clock=clock)
    return folder


def practice_said(folder):
    """A record in which somebody said that it is practice."""
    return write(folder, KindDeclared(declared="practice"))


def resources(bundle, kind):
    return [entry["resource"] for entry in bundle["entry"] if entry["resource"]["resourceType"] == kind]


def observation(bundle, code, index=0):
    found = [
        item
        for item in resources(bundle, "Observation")
        if any(coding["code"] == code for coding in item["code"]["coding"])
    ]
    return found[index]
