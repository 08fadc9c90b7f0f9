"""What happened in a visit, derived once from its record; every reader tells this. Pure.

Codes and values; words are put to them where sentences are known. Nothing here reads a file of a procedure.
"""

from dataclasses import dataclass

from handsfree.model.approval import Approval
from handsfree.model.facts import (
    AnyFact,
    DeviceLost,
    GapsAccepted,
    HoldLifted,
    LightTurnedOff,
    ReadingAmended,
    SecondPersonConfirmed,
    StepOverridden,
    StepSkipped,
    StepWithdrawn,
    VisitBegun,
    VisitEndedEarly,
    ZoneLeft,
)
from handsfree.model.light import LightFlag, RunEnd, ZoneStanding
from handsfree.model.open_items import OpenHold, OpenItem
from handsfree.model.reasons import Severity
from handsfree.record.account_parts import (
    Attested,
    BreakAccount,
    HoldAccount,
    OverrideAccount,
    OverrideOf,
    RunAccount,
    StopAccount,
    StrayAccount,
    ZoneAccount,
)
from handsfree.record.confirmation import EntryWay, entry_way, score
from handsfree.record.contents import Amendment, Record, RecordedFact, RecordedNote, RecordedReading, TurnedStep
from handsfree.record.display_values import standing_readings
from handsfree.record.moments import Moments
from handsfree.record.stops_account import breaks_of, holds_of, runs_of, stops_of, strays_of

DOUBTFUL = 0.8
"""Values heard with a lower probability are listed for listening. Chosen here, no source."""


@dataclass(frozen=True, slots=True)
class VisitAccount:
    """What of a visit whoever was not in the room must know.

    Attributes:
        record: The record that it is derived from.
        outcome: "completed" only where nothing was answered for; "completed_with_overrides", "stopped", "not closed".
        practice: Whether it was practice.
        unapproved: Titles of the files that ran without an approval that counts.
        approval: How the approval stood; None where the record does not say.
        attested: Whether somebody vouches for it as it stands.
        stops: What stopped the visit or its light, in order.
        holds: Every hold with what became of it, in order.
        overrides: What somebody answered for, in order.
        runs: Every run of light, in order.
        strays: Light outside a zone, in order.
        zones: The light of every zone, by the closing statement.
        standing: The readings that no later one took the place of.
        doubtful: Of these, the ones that were heard with doubt or a low score, and were not amended.
        typed: Of these, the ones that were typed.
        corrected: Readings that took the place of another value in the visit.
        withdrawn: Steps that were answered, and left out once what they hang on was corrected.
        seconds: Who confirmed a step as the second person, the last for each.
        amendments: Later corrections of values, sides and texts; that a note was read is none.
        turned: Steps whose condition falls out otherwise since an amendment than it did in the visit.
        unjudged: Readings amended later that were held against no limit.
        notes: Dictated notes.
        open_items: What was left open; where the visit was not closed, the holds that stand.
        skipped: What was left out.
        breaks: Times in which the visit did not go on.
        devices_lost: Sound devices that went away.
        lasted_s: Seconds of the visit, the ones in which the program was not running left out.
    """

    record: Record
    outcome: str
    practice: bool
    unapproved: tuple[str, ...]
    approval: Approval | None
    attested: Attested
    stops: tuple[StopAccount, ...]
    holds: tuple[HoldAccount, ...]
    overrides: tuple[OverrideAccount, ...]
    runs: tuple[RunAccount, ...]
    strays: tuple[StrayAccount, ...]
    zones: tuple[ZoneAccount, ...]
    standing: tuple[RecordedReading, ...]
    doubtful: tuple[RecordedReading, ...]
    typed: tuple[RecordedReading, ...]
    corrected: tuple[RecordedFact[ReadingAmended], ...]
    withdrawn: tuple[RecordedFact[StepWithdrawn], ...]
    seconds: tuple[RecordedFact[SecondPersonConfirmed], ...]
    amendments: tuple[Amendment, ...]
    turned: tuple[TurnedStep, ...]
    unjudged: tuple[RecordedReading, ...]
    notes: tuple[RecordedNote, ...]
    open_items: tuple[OpenItem, ...]
    skipped: tuple[RecordedFact[StepSkipped], ...]
    breaks: tuple[BreakAccount, ...]
    devices_lost: tuple[RecordedFact[DeviceLost], ...]
    lasted_s: float

    @property
    def closed(self) -> bool:
        """Whether the visit was closed."""
        return self.record.closing is not None

    @property
    def standing_holds(self) -> tuple[HoldAccount, ...]:
        """The holds that nothing lifted."""
        return tuple(one for one in self.holds if one.lifted is None)

    def flagged(self, severity: Severity) -> tuple[RecordedReading, ...]:
        """The readings that stand with a class, as the visit or a later correction gave it; the graver one counts."""
        return tuple(one for one in self.standing if one.severity is severity)

    @property
    def early_ends(self) -> tuple[RunAccount, ...]:
        """Runs of light that a stop, a cry or a break ended."""
        return tuple(one for one in self.runs if one.early)

    @property
    def unheard_ends(self) -> tuple[RunAccount, ...]:
        """Runs of which nobody heard that the light went off; they are counted up to the last sign of it."""
        return tuple(one for one in self.runs if one.end is RunEnd.OFF_MISSED)

    def off_target(self, standing: ZoneStanding) -> tuple[ZoneAccount, ...]:
        """The zones short of their target, or over it; none where there was no light: then it is an open item."""
        return tuple(one for one in self.zones if one.standing is standing) if self.runs else ()

    @property
    def all_typed(self) -> bool:
        """Whether nothing that was answered was heard as sound."""
        said = [one.recorded.fact.heard for one in self.record.readings if one.recorded.fact.computed is None]
        return bool(said) and all(one.typed for one in said)

    @property
    def unverified(self) -> tuple[RecordedNote, ...]:
        """The notes that nobody has read."""
        return tuple(one for one in self.notes if not one.verified)

    @property
    def away_s(self) -> float:
        """Seconds in which the program was not running."""
        return sum(one.seconds for one in self.breaks if one.program_ended)

    @property
    def waited_s(self) -> float:
        """Seconds in which somebody had said "wait"; they are part of `lasted_s`."""
        return sum(one.seconds for one in self.breaks if not one.program_ended)


def account_of(record: Record) -> VisitAccount:
    """Derive the account of a record.

    Args:
        record: The record; sides as they were declared make no difference here.
    """
    runs = runs_of(record)
    holds = holds_of(record)
    stops = stops_of(record, runs, holds)
    standing = standing_readings(record)
    overrides = _overrides(record, holds)
    moments = Moments.of(record)
    return VisitAccount(
        record=record,
        outcome=_outcome(record, overrides),
        practice=record.practice,
        unapproved=tuple(dict.fromkeys(name for one in record.of(VisitBegun) for name in one.fact.unapproved)),
        approval=next((one.fact.approval for one in record.of(VisitBegun)), None),
        attested=_attested(record),
        stops=stops,
        holds=holds,
        overrides=overrides,
        runs=runs,
        strays=strays_of(record),
        zones=_zones(record, runs),
        standing=standing,
        doubtful=tuple(one for one in standing if _is_doubtful(one)),
        typed=tuple(one for one in standing if entry_way(record, one) is EntryWay.TYPED),
        corrected=tuple(
            one
            for one in record.of(ReadingAmended)
            if one.fact.why == "corrected" and one.fact.old_value != one.fact.value
        ),
        withdrawn=record.of(StepWithdrawn),
        seconds=tuple({one.fact.stage: one for one in record.of(SecondPersonConfirmed)}.values()),
        amendments=tuple(one for one in record.amendments if _changes(one)),
        turned=record.turned,
        unjudged=tuple(one for one in standing if one.amendments and one.anew is None),
        notes=record.notes,
        open_items=_open_items(record, holds),
        skipped=record.of(StepSkipped),
        breaks=breaks_of(record, stops, moments),
        devices_lost=record.of(DeviceLost),
        lasted_s=moments.end_s,
    )


def _outcome(record: Record, overrides: tuple[OverrideAccount, ...]) -> str:
    if record.closing is None:
        return "not closed"
    stated = record.closing.fact.outcome
    return "completed_with_overrides" if stated == "completed" and overrides else stated


def _attested(record: Record) -> Attested:
    if not record.attestations:
        return Attested.NOT
    return Attested.ATTESTED if record.attested else Attested.AMENDED_SINCE


def _changes(amendment: Amendment) -> bool:
    now = amendment.now
    return now.value is not None or now.side is not None or now.text is not None


def _is_doubtful(reading: RecordedReading) -> bool:
    if reading.amendments:
        return False
    likely = score(reading)
    return reading.recorded.fact.asked or (likely is not None and likely < DOUBTFUL)


def _open_items(record: Record, holds: tuple[HoldAccount, ...]) -> tuple[OpenItem, ...]:
    stated = record.open_items
    held = (OpenHold(one.grounds) for one in holds if one.lifted is None)
    return (*stated, *dict.fromkeys(one for one in held if one not in stated))


def _overrides(record: Record, holds: tuple[HoldAccount, ...]) -> tuple[OverrideAccount, ...]:
    stages = {one.lifted.seq: one.stage for one in holds if one.lifted is not None}
    with_hold = {one.event_seq for one in record.of(HoldLifted) if one.fact.role is not None}
    found = (_override(one, stages, with_hold) for one in record.facts)
    return tuple(one for one in found if one is not None)


def _override(one: RecordedFact[AnyFact], stages: dict[int, str], with_hold: set[int]) -> OverrideAccount | None:
    """What one fact says that somebody answered for; a step that is done by the lifting of its hold is told once."""
    seq, at = one.seq, one.at
    match one.fact:
        case HoldLifted(role=str(role), reason=reason, code=code, grounds=grounds):
            stage = stages.get(seq, "")
            return OverrideAccount(seq, at, OverrideOf.HOLD, role, reason, code, stage, grounds)
        case StepOverridden(role=role, reason=reason, stage=stage) if one.event_seq not in with_hold:
            return OverrideAccount(seq, at, OverrideOf.STEP, role, reason, None, stage)
        case GapsAccepted(role=role, reason=reason, code=code, gaps=gaps):
            return OverrideAccount(seq, at, OverrideOf.GAPS, role, reason, code, gaps=gaps)
        case ZoneLeft(role=role, reason=reason, code=code, zone=zone):
            return OverrideAccount(seq, at, OverrideOf.ZONE, role, reason, code, zone=zone)
        case VisitEndedEarly(role=role, reason=reason, code=code, stage=stage):
            return OverrideAccount(seq, at, OverrideOf.END, role, reason, code, stage)
        case _:
            return None


def _zones(record: Record, runs: tuple[RunAccount, ...]) -> tuple[ZoneAccount, ...]:
    # Older records state it of runs alone. Of a zone whose limits are on record the sum says so, with more light in it.
    flagged = {one.fact.zone for one in record.of(LightTurnedOff) if LightFlag.OVER_TARGET in one.fact.flags}
    return tuple(
        ZoneAccount(
            zone=one.zone,
            lit_s=one.lit_s,
            possible_s=one.possible_s,
            target_s=one.target_s,
            dose_j_cm2=one.dose_j_cm2,
            standing=ZoneStanding.OVER if one.over_from_s is None and one.zone in flagged else one.standing,
            runs=tuple(run for run in runs if run.zone == one.zone),
        )
        for one in record.zones
    )
