"""How a visit begins."""

from datetime import date, datetime, timedelta

from handsfree.definition.profile_form import LightFile
from handsfree.definition.verbalization import duration_words, spelled
from handsfree.model.effects import Priority
from handsfree.model.events import SessionStarted
from handsfree.model.facts import DueMet, VisitBegun
from handsfree.model.reasons import CheckOverdue, Grounds
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.prompts.approval_words import not_approved
from handsfree.session.prompts.fixed import Fixed, HoldAction
from handsfree.session.prompts.sentence_codes import (
    AnySentence,
    ComparedWith,
    FileText,
    ReferenceIs,
    WasDue,
)
from handsfree.session.question_baseline import question_baseline
from handsfree.session.state import Hold


def start(now: EventContext) -> Reply:
    """Put the start on record, say the cautions, ask the first question."""
    event, state, visit = now.event, now.state, now.visit
    assert isinstance(event, SessionStarted)  # noqa: S101 - dispatch calls it for these
    state.today = event.today
    state.local_offset_minutes = event.local_offset_minutes
    state.practice_only = state.practice = event.practice
    state.patient_reference, state.patient_given = visit.patient_reference, bool(visit.patient_reference)
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
        approval=visit.approval,
    )
    reply = Reply([begun], then=Then.ENTER, stage=now.stage)
    if visit.unapproved:
        reply.say(not_approved(visit.approval), priority=Priority.ATTENTION)
    for caution in visit.procedure.cautions:
        reply.say(FileText(caution), priority=Priority.INFORMATION)
    if visit.patient_reference:
        reply.say(ReferenceIs(spelled(visit.patient_reference)), priority=Priority.INFORMATION)
    if visit.procedure.compares_with_earlier:
        day = date.fromisoformat(visit.baseline.day) if visit.baseline is not None else None
        compared: AnySentence = ComparedWith(day) if day is not None else Fixed.NOTHING_EARLIER
        reply.say(compared, priority=Priority.INFORMATION)
        _tell_late(now, reply)
        question_baseline(now, reply)
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
