"""Facts of invented visits, as a session states them, and records made of them."""

from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal

from handsfree.clock import ManualClock
from handsfree.model.effects import Append
from handsfree.model.events import ClockTicked, SessionStarted
from handsfree.model.facts import ReadingAmended, ReadingConfirmed, Utterance, VisitClosed
from handsfree.model.readings import Exact, Option, SpelledText, SpokenDate
from handsfree.model.reasons import Severity
from handsfree.record.header import RecordHeader
from handsfree.record.journal import Journal
from handsfree.record.verify import verify

START = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)
HEADER = RecordHeader(
    record_id="5f0c7c1e-0000-4000-8000-000000000001",
    procedure="sleeve-check",
    title="Checking a sleeve",
    procedure_sha256="ab" * 32,
    practice=False,
    versions={"handsfree": "0.2.0", "procedure sleeve-check": "0.1.0"},
    patient_reference="DEMO-0001",
)
CLOSED = VisitClosed(outcome="completed", open_items=(), zones=(), practice=False, stages_done=3, notes=0)


def wall(at_s=0.0):
    clock = ManualClock(START)
    clock.sleep_until(at_s)
    return clock.wall().isoformat(timespec="milliseconds").replace("+00:00", "Z")


def started(**more):
    begun = SessionStarted(
        at_s=0.0, wall=wall(), local_offset_minutes=60, today="2026-11-25", record_id=HEADER.record_id
    )
    return replace(begun, **more)


def ticked(at_s):
    return ClockTicked(at_s=at_s, wall=wall(at_s))


def heard(text="one", probability=0.97, at_s=2.0):
    return Utterance(
        text=text, probability=probability, runner_up=None, engine="test", spoken_from_s=at_s, spoken_to_s=at_s + 0.5
    )


def value_of(value):
    """Text is one of a list, in capitals a code; a number in words keeps its decimals."""
    match value:
        case str() if value.isupper():
            return SpelledText(value)
        case str():
            return Option(value)
        case Decimal():
            return Exact(value, max(0, -value.as_tuple().exponent))
        case datetime():
            return SpokenDate(value.date())
    return value


def confirmed(step, field, value, kind=ReadingConfirmed, **more):
    stated = {
        "stage": step,
        "step": step,
        "phase": "before",
        "field": field,
        "label": field,
        "side": None,
        "timing": None,
        "value": value_of(value),
        "unit": None,
        "severity": Severity.NONE,
        "grounds": None,
        "asked": False,
        "heard": heard(),
        "read_back": "affirmed",
    }
    return kind(**(stated | more))


def amended(step, field, value, old, why="corrected", **more):
    return confirmed(step, field, value, ReadingAmended, old_value=value_of(old), why=why, **more)


def written(folder, *facts, header=HEADER, begun=None, closing=CLOSED):
    """A record of these facts, one event a fact, a second apart; not closed where `closing` is None."""
    clock = ManualClock(START)
    with Journal.create(folder, header, clock=clock) as journal:
        journal.append(begun if begun is not None else started(practice=header.practice), [])
        for number, fact in enumerate(facts, start=1):
            journal.append(ticked(float(number)), [Append(fact)])
        if closing is not None:
            journal.append(ticked(len(facts) + 1.0), [Append(closing)])
    return folder


def record_of(folder):
    found = verify(folder)
    assert found.record is not None, found.faults
    return found.record
