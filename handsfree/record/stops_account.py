"""What stopped a visit or its light and what became of it, every run of light, and breaks. Pure."""

from handsfree.model.facts import (
    CryHeard,
    CrySettled,
    HoldLifted,
    HoldSet,
    LightOffConfirmed,
    LightTurnedOff,
    LightTurnedOn,
    PositionReconfirmed,
    ReadingAmended,
    ReadingConfirmed,
    StepEntered,
    StopWordHeard,
    StrayLightBegan,
    StrayLightEnded,
    VisitContinued,
    VisitEndedEarly,
    VisitPaused,
    VisitResumed,
)
from handsfree.model.light import RunEnd
from handsfree.record.account_parts import (
    AfterStop,
    BreakAccount,
    HoldAccount,
    Lifting,
    RunAccount,
    StopAccount,
    StopKind,
    StrayAccount,
)
from handsfree.record.contents import Record, RecordedFact
from handsfree.record.moments import Moments

_GOING_ON = (PositionReconfirmed, VisitResumed, LightTurnedOn, StepEntered, ReadingConfirmed, ReadingAmended)


def runs_of(record: Record) -> tuple[RunAccount, ...]:
    """Every run of light, in order; last the one in which the record ends."""
    offs = record.of(LightTurnedOff)
    confirmed = record.of(LightOffConfirmed)
    found = []
    for number, off in enumerate(offs):
        until = offs[number + 1].seq if number + 1 < len(offs) else record.lines
        later = any(one.fact.zone == off.fact.zone and off.seq < one.seq < until for one in confirmed)
        said = later or off.fact.end is RunEnd.OFF_SAID
        found.append(
            RunAccount(off.seq, off.at, off.fact.zone, off.fact.credited_s, off.fact.end, off.fact.reason, said)
        )
    cut = record.light_cut
    if cut is not None:
        at = next(one.at for one in record.facts if one.seq == cut.seq)
        found.append(RunAccount(cut.seq, at, cut.zone, cut.lit_s, None, "", off_said=False))
    return tuple(found)


def holds_of(record: Record) -> tuple[HoldAccount, ...]:
    """Every hold in order, with the first later lifting of the same grounds; None where nothing lifted it."""
    liftings = list(record.of(HoldLifted))
    found: list[HoldAccount] = []
    for held in record.of(HoldSet):
        same = (one for one in liftings if one.fact.grounds == held.fact.grounds and one.seq > held.seq)
        lifted = next(same, None)
        lifting = None
        if lifted is not None:
            liftings.remove(lifted)
            lifting = Lifting(lifted.seq, lifted.at, lifted.fact.role, lifted.fact.reason, lifted.fact.code)
        fact = held.fact
        found.append(HoldAccount(held.seq, held.at, fact.hold, fact.stage, fact.grounds, lifting))
    return tuple(found)


def strays_of(record: Record) -> tuple[StrayAccount, ...]:
    """Light outside a zone, in order."""
    ended = record.of(StrayLightEnded)
    begun = record.of(StrayLightBegan)
    found = []
    for began, after in zip(begun, [*(one.seq for one in begun[1:]), record.lines], strict=False):
        # The last one: after a cry or a stop word "light off" may have come later.
        end = next((one.fact for one in reversed(ended) if began.seq < one.seq < after), None)
        seconds = end.seconds if end is not None else None
        found.append(StrayAccount(began.seq, began.at, began.fact.stage, seconds))
    return tuple(found)


def stops_of(record: Record, runs: tuple[RunAccount, ...], holds: tuple[HoldAccount, ...]) -> tuple[StopAccount, ...]:
    """Stop words and cries with the light that they ended and the hold that they set; light cut by a break; findings.

    A hold that a word set is told with the word, any other one by itself.
    """
    events = {one.seq: one.event_seq for one in record.facts}
    settled = record.of(CrySettled)
    told: set[int] = set()
    found: list[StopAccount] = []
    spoken: tuple[RecordedFact[StopWordHeard | CryHeard], ...] = record.of(StopWordHeard, CryHeard)
    for one in spoken:
        # A cry sets its hold only once it is settled, which is an event of its own.
        answer = (
            next((item for item in settled if item.seq > one.seq), None) if isinstance(one.fact, CryHeard) else None
        )
        of_events = {one.event_seq} if answer is None else {one.event_seq, answer.event_seq}
        hold = next((item for item in holds if events[item.seq] in of_events and item.seq not in told), None)
        run = next((item for item in runs if item.end is not None and events[item.seq] == one.event_seq), None)
        told |= {item.seq for item in (hold, run) if item is not None}
        found.append(_spoken_stop(record, one, run, hold, answer.fact.heat if answer is not None else None))
    found += [_stop_of_light(record, item) for item in runs if item.early and item.seq not in told]
    found += [_stop_by_finding(record, held) for held in holds if held.seq not in told]
    return tuple(sorted(found, key=lambda stop: stop.seq))


def _spoken_stop(
    record: Record,
    one: RecordedFact[StopWordHeard | CryHeard],
    run: RunAccount | None,
    hold: HoldAccount | None,
    heat: bool | None,
) -> StopAccount:
    fact = one.fact
    cry = isinstance(fact, CryHeard)
    zone = run.zone if run is not None else fact.zone if isinstance(fact, CryHeard) else ""
    return StopAccount(
        seq=one.seq,
        at=one.at,
        kind=StopKind.CRY if cry else StopKind.WORD,
        words=fact.words if isinstance(fact, CryHeard) else fact.word,
        heard=fact.heard,
        stage=hold.stage if hold is not None else _stage_at(record, one.seq),
        zone=zone,
        while_lit=run is not None or (isinstance(fact, StopWordHeard) and fact.while_lit),
        run=run,
        hold=hold,
        heat=heat,
        after=AfterStop.HELD if hold is not None else _after(record, one.seq),
        clip=one.clip_sha256 or "",
    )


def _stop_by_finding(record: Record, held: HoldAccount) -> StopAccount:
    return StopAccount(
        seq=held.seq,
        at=held.at,
        kind=StopKind.FINDING,
        words="",
        heard=None,
        stage=held.stage,
        zone="",
        while_lit=False,
        run=None,
        hold=held,
        heat=None,
        after=AfterStop.HELD,
        clip=_clip(record, held.seq),
    )


def _stop_of_light(record: Record, run: RunAccount) -> StopAccount:
    cut = run.end in {None, RunEnd.INTERRUPTED}
    return StopAccount(
        seq=run.seq,
        at=run.at,
        kind=StopKind.BREAK if cut else StopKind.WORD,
        words=run.reason,
        heard=None,
        stage=_stage_at(record, run.seq),
        zone=run.zone,
        while_lit=True,
        run=run,
        hold=None,
        heat=None,
        after=_after(record, run.seq),
        clip="",
    )


def _stage_at(record: Record, seq: int) -> str:
    """Where the visit stood at a line."""
    entered = [one for one in record.of(StepEntered) if one.seq < seq]
    return entered[-1].fact.stage if entered else ""


def _after(record: Record, seq: int) -> AfterStop:
    """What came first after a stop that set no hold."""
    for one in record.facts:
        if one.seq > seq and isinstance(one.fact, VisitEndedEarly):
            return AfterStop.ENDED
        if one.seq > seq and isinstance(one.fact, _GOING_ON):
            return AfterStop.WENT_ON
    return AfterStop.UNKNOWN


def _clip(record: Record, seq: int) -> str:
    return next((one.clip_sha256 or "" for one in record.facts if one.seq == seq), "")


def breaks_of(record: Record, stops: tuple[StopAccount, ...], moments: Moments) -> tuple[BreakAccount, ...]:
    """Times in which the visit did not go on: the program had ended, or it waited after "wait" or a stop word."""
    pausing = {one.seq for one in stops if one.kind is StopKind.WORD and one.hold is None}
    found = []
    paused: RecordedFact[VisitPaused | StopWordHeard] | None = None
    for one in record.facts:
        match one.fact:
            case VisitContinued(gap_s=gap_s, stage=stage):
                found.append(BreakAccount(one.seq, one.at, stage, gap_s, program_ended=True))
            case (VisitPaused() | StopWordHeard()) as fact if paused is None:
                if isinstance(fact, VisitPaused) or one.seq in pausing:
                    paused = RecordedFact(one.seq, one.at, fact, one.event_seq)
            case VisitResumed(stage=stage) if paused is not None:
                seconds = moments.at_s(one) - moments.at_s(paused)
                found.append(BreakAccount(one.seq, one.at, stage, seconds, program_ended=False))
                paused = None
    if paused is not None:
        seconds = moments.end_s - moments.at_s(paused)
        found.append(BreakAccount(paused.seq, paused.at, _stage_at(record, paused.seq), seconds, program_ended=False))
    return tuple(found)
