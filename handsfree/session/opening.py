"""How a visit begins: what is not approved, the cautions, an overdue light, the first prompt."""

from datetime import date, datetime, timedelta

from handsfree.definition.loader import Bundle
from handsfree.definition.profile_form import LightFile
from handsfree.definition.verbalization import duration_words, spoken_date
from handsfree.model.effects import Json, Priority
from handsfree.model.events import SessionStarted
from handsfree.session.event_context import Turn
from handsfree.session.holds import hold, set_latch
from handsfree.session.navigation import enter

NOTHING_EARLIER = "No earlier record to compare with."
NOT_APPROVED = "Example files. Nobody has approved them. Not for clinical use."


def start_talk(turn: Turn, event: SessionStarted, bundle: Bundle) -> None:
    """Put the start on record, say the cautions, ask the first question."""
    state = turn.state
    state.today = event.today
    state.local_offset_minutes = event.local_offset_minutes
    state.practice_only = state.practice = event.practice
    turn.record(
        "session_started",
        record_id=event.record_id,
        procedure=bundle.procedure.id,
        procedure_sha256=bundle.sha256,
        practice=event.practice,
        local_offset_minutes=event.local_offset_minutes,
        today=event.today,
        versions=dict(event.versions),
        unapproved=list(bundle.unapproved),
        cautions=list(bundle.procedure.cautions),
        **_compared_with(turn),
    )
    if bundle.unapproved:
        turn.say(NOT_APPROVED, Priority.ATTENTION)
    for caution in bundle.procedure.cautions:
        turn.say(caution, Priority.INFORMATION)
    if turn.procedure.compares_with_earlier:
        day = date.fromisoformat(turn.earlier.day) if turn.earlier is not None else None
        compared = f"Compared with the record of {spoken_date(day)}." if day is not None else NOTHING_EARLIER
        turn.say(compared, Priority.INFORMATION)
        _tell_late(turn)
    enter(turn, turn.stage)
    if bundle.light is not None and overdue_check(bundle.light, event.today):
        set_latch(turn, "stop", "the light's output check is overdue", "Check the light first.", answerable=False)
        hold(turn)


def _tell_late(turn: Turn) -> None:
    """Say how long ago the check was due, by what the earlier record put down."""
    if turn.earlier is None or not turn.earlier.due:
        return
    late = datetime.fromisoformat(turn.event.wall) - datetime.fromisoformat(turn.earlier.due)
    turn.record("due_met", due=turn.earlier.due, late_s=round(late.total_seconds()))
    if late >= timedelta(minutes=1):
        turn.say(f"This check was due {duration_words(late.total_seconds())} ago.", Priority.ATTENTION)


def _compared_with(turn: Turn) -> dict[str, Json]:
    return {"compared_with": turn.earlier.record_id} if turn.earlier is not None else {}


def overdue_check(light: LightFile, today: str) -> bool:
    """Whether the last output check lies further back than the profile allows."""
    checked = date.fromisoformat(light.output_checked_on)
    return date.fromisoformat(today) > checked + timedelta(days=light.output_check_valid_days)
