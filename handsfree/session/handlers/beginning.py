"""How a visit begins, how it goes on after the program had ended, and what a lost sound device leads to."""

from datetime import date, datetime, timedelta

from handsfree.definition.profile_form import LightFile
from handsfree.definition.verbalization import duration_words
from handsfree.model.effects import Earcon, Priority
from handsfree.model.events import SessionInterrupted, SessionStarted, SoundLost, SoundReturned
from handsfree.model.facts import DeviceLost, DeviceReturned, DueMet, StatusTold, VisitBegun, VisitContinued
from handsfree.model.reasons import CheckOverdue, Grounds
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.interruptions import coming_back, note_facts
from handsfree.session.light import is_being_lit, label_of, run_facts
from handsfree.session.modes import RESTING, Mode
from handsfree.session.prompts.fixed import Fixed, HoldAction
from handsfree.session.prompts.sentence_codes import (
    AnySentence,
    ComparedWith,
    CutWhileLit,
    DeviceGone,
    FileText,
    GoesOnAfter,
    Prompt,
    RecordedLast,
    SideIs,
    SizeChosenIs,
    WasDue,
)
from handsfree.session.questions import keep_for_repeat, recorded_words, status
from handsfree.session.stages import stages_done
from handsfree.session.state import Hold


def start(now: EventContext) -> Reply:
    """Put the start on record, say the cautions, ask the first question."""
    event, state, visit = now.event, now.state, now.visit
    assert isinstance(event, SessionStarted)  # noqa: S101 - dispatch calls it for these
    state.today = event.today
    state.local_offset_minutes = event.local_offset_minutes
    state.practice_only = state.practice = event.practice
    begun = VisitBegun(
        record_id=event.record_id,
        procedure=visit.procedure.id,
        procedure_sha256=visit.sha256,
        practice=event.practice,
        local_offset_minutes=event.local_offset_minutes,
        today=date.fromisoformat(event.today),
        versions=dict(event.versions),
        unapproved=visit.unapproved,
        cautions=tuple(visit.procedure.cautions),
        compared_with=visit.baseline.record_id if visit.baseline is not None else None,
    )
    reply = Reply([begun], then=Then.ENTER, stage=now.stage)
    if visit.unapproved:
        reply.say(Fixed.NOT_APPROVED, priority=Priority.ATTENTION)
    for caution in visit.procedure.cautions:
        reply.say(FileText(caution), priority=Priority.INFORMATION)
    if visit.procedure.compares_with_earlier:
        day = date.fromisoformat(visit.baseline.day) if visit.baseline is not None else None
        compared: AnySentence = ComparedWith(day) if day is not None else Fixed.NOTHING_EARLIER
        reply.say(compared, priority=Priority.INFORMATION)
        _tell_late(now, reply)
    if visit.light is not None and (overdue := overdue_check(visit.light, event.today)) is not None:
        grounds = Grounds(CheckOverdue(overdue))
        reply.holds.append(Hold("stop", now.stage.id, grounds, HoldAction.CHECK_LIGHT, answerable=False))
    return reply


def _tell_late(now: EventContext, reply: Reply) -> None:
    """Say how long ago the check was due, by what the baseline record put down."""
    baseline = now.visit.baseline
    if baseline is None or not baseline.due:
        return
    late = datetime.fromisoformat(now.event.wall) - datetime.fromisoformat(baseline.due)
    reply.facts.append(DueMet(due=baseline.due, late_s=round(late.total_seconds())))
    if late >= timedelta(minutes=1):
        reply.say(WasDue(duration_words(late.total_seconds())), priority=Priority.ATTENTION)


def overdue_check(light: LightFile, today: str) -> date | None:
    """Until when the last output check was good, where that lies before today; else None."""
    until = date.fromisoformat(light.output_checked_on) + timedelta(days=light.output_check_valid_days)
    return until if date.fromisoformat(today) > until else None


def go_on_after_break(now: EventContext) -> Reply:
    """Go on after the program had ended: say what is known, ask again for what cannot be carried over."""
    event, state = now.event, now.state
    assert isinstance(event, SessionInterrupted)  # noqa: S101 - dispatch calls it for these
    reply = Reply([VisitContinued(gap_s=round(event.gap_s, 3), stage=now.stage_name)])
    if now.mode is Mode.NOTING:
        reply.facts += note_facts(state, now.stage_name, broken_off=True)
    state.pending.clear()
    keep_for_repeat(now.stage, state)
    state.ahead.clear()
    state.doubt = state.override = None
    was_paused = Mode.PAUSED in state.modes.all
    at_rest = set(state.modes.all) <= RESTING | {Mode.PAUSED}
    was_cut = _cut_off(now, reply)
    _come_to_rest(now, at_rest=at_rest, was_cut=was_cut)
    if was_paused:
        # A pause outlasts the break, and what is to be checked after one comes when it ends.
        state.modes.push(Mode.PAUSED)
    reply.say(*_known(now, event.gap_s), priority=Priority.INFORMATION)
    reply.facts.append(StatusTold(stages_done=stages_done(now.visit.plan, state)))
    reply.talk.append(status(now.visit, state))
    reply.then = coming_back(now)
    return reply


def _come_to_rest(now: EventContext, *, at_rest: bool, was_cut: bool) -> None:
    """Where the visit rests after a break: held, at a check of the position where there was light, or as it was."""
    state = now.state
    mode = state.modes.resting
    if was_cut or mode is Mode.RECONFIRM:
        state.modes.rest(Mode.RECONFIRM)
        return
    if mode is Mode.ASKING:
        here = state.red or state.held_at(now.stage.id)
        if here or (state.holds and not at_rest):
            mode = Mode.HELD
        elif state.ledger is not None and state.ledger.runs:
            mode = Mode.RECONFIRM
    state.modes.rest(mode)


def _known(now: EventContext, gap_s: float) -> tuple[AnySentence, ...]:
    """What a resumed session knows, so that whoever goes on can object: kind, side, size, what was recorded last."""
    state = now.state
    known: list[AnySentence] = [GoesOnAfter(duration_words(gap_s))]
    if state.practice:
        known.append(Fixed.PRACTICE)
    if state.side is not None:
        known.append(SideIs(state.side.value))
    if state.size is not None:
        known.append(SizeChosenIs(state.size))
    if state.last_answered is not None and state.answers.get(state.last_answered):
        last = now.visit.plan.stage(state.last_answered)
        known.append(RecordedLast(recorded_words(now.visit, now.wording, last, state)))
    return tuple(known)


def device_lost(now: EventContext) -> Reply:
    """A sound device went away; without a microphone nobody hears "light off"."""
    event, state = now.event, now.state
    assert isinstance(event, SoundLost)  # noqa: S101 - dispatch calls it for these
    what = "loudspeaker" if event.what == "loudspeaker" else "microphone"
    reply = Reply([DeviceLost(what="loudspeaker" if what == "loudspeaker" else "microphone")], [Earcon.DEVICE_LOST])
    reply.say(DeviceGone(what), priority=Priority.ATTENTION)
    if what == "microphone" and _cut_off(now, reply) and is_being_lit(now.stage, state):
        reply.then = Then.NEXT_ZONE
    return reply


def device_returned(now: EventContext) -> Reply:
    """The device is back."""
    event = now.event
    assert isinstance(event, SoundReturned)  # noqa: S101 - dispatch calls it for these
    return Reply([DeviceReturned(what="loudspeaker" if event.what == "loudspeaker" else "microphone")])


def _cut_off(now: EventContext, reply: Reply) -> bool:
    """The program ended, or went deaf, in the middle: a lit zone counts up to the last sign of life.

    Returns:
        Whether a run was cut.
    """
    ledger, guidance = now.state.ledger, now.guidance
    if ledger is None or not ledger.is_lit:
        return False
    outcome = ledger.interrupt()
    assert outcome.run is not None  # noqa: S101 - it was lit
    reply.facts += run_facts(ledger, outcome.run, guidance, None)
    reply.talk.append(Prompt((CutWhileLit(label_of(ledger, outcome.zone_id)),), Priority.ATTENTION))
    now.state.modes.drop(frozenset({Mode.LIT}))
    return True
