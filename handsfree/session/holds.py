"""Latches: set, lifted where their cause is gone, and the standstill with everything that is to be said of it."""

from collections.abc import Iterable

from handsfree.definition.plan import Mode, Stage
from handsfree.model.effects import Earcon, Priority
from handsfree.session.event_context import Latch, Turn


def set_latch(
    turn: Turn, kind: str, reason: str, action: str, stage: Stage | None = None, *, answerable: bool = True
) -> None:
    """Hold the procedure, at the stage where it stands if no other is named; what holds it already is not set twice."""
    place = stage or turn.stage
    turn.earcon(Earcon.ATTENTION)
    latch = Latch(kind, place.id, reason, action, answerable)
    if latch in turn.state.latches:
        return
    turn.state.latches.append(latch)
    turn.record("latch_set", latch=kind, stage=turn.name_of(place), reason=reason, action=action)


def lift_stops(turn: Turn, stage: Stage, why: str, reason: str | None = None) -> None:
    """Lift the stops of a stage, or the one with this reason, whose cause is gone. A red latch stays."""
    for latch in list(turn.state.latches):
        mine = latch.kind == "stop" and latch.answerable and latch.stage_id == stage.id
        if mine and reason in (None, latch.reason):
            turn.state.latches.remove(latch)
            turn.record("latch_lifted", latch="stop", set_for=latch.reason, role=None, reason=why)


def hold(turn: Turn) -> None:
    """Stand still, say what is to be done and every reason why: one override lifts them all."""
    latches = turn.state.latches
    latch = next((latch for latch in latches if latch.kind == "red"), latches[-1])
    turn.state.reviewing = False
    turn.to(Mode.LATCHED)
    how = "Say correction, or override." if latch.kind == "stop" and latch.answerable else "Say override."
    reasons = "; ".join(held_for(latches))
    turn.say(f"{latch.action} {reasons[:1].upper()}{reasons[1:]}. {how}", Priority.ATTENTION)


def held_for(latches: Iterable[Latch]) -> tuple[str, ...]:
    """Every reason once, those of red latches first."""
    ordered = sorted(latches, key=lambda latch: latch.kind != "red")
    return tuple(dict.fromkeys(latch.reason for latch in ordered))
