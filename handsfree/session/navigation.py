"""Where the visit stands: state in, next place out. Pure; only `settle` acts on it."""

from dataclasses import dataclass

from handsfree.definition.field_form import StepField
from handsfree.definition.plan import Plan, Stage, mates_of
from handsfree.model.open_items import (
    OpenHold,
    OpenItem,
    OpenLateQuestion,
    OpenLightOff,
    OpenReading,
    OpenStep,
    OpenTimer,
    OpenZone,
)
from handsfree.model.readings import Absent
from handsfree.session.modes import Mode
from handsfree.session.stages import applies, hangs_on_open, lights, skipped_before
from handsfree.session.state import SessionState, answered_first
from handsfree.session.visit import name_of


@dataclass(frozen=True, slots=True)
class Position:
    """Where the visit goes on.

    Attributes:
        stage: The stage; None where every stage is done.
        mode: In which mode it rests there.
        reopened: Whether the stage had been skipped and is needed now.
    """

    stage: Stage | None
    mode: Mode
    reopened: bool = False


def position(plan: Plan, state: SessionState) -> Position:
    """Where the visit goes on from here: held, at the first stage that is owed, or at its end."""
    if state.holds:
        return Position(plan.stage(answered_first(state.holds).stage_id), Mode.HELD)
    owed = [stage for stage in plan.stages if stage.id not in state.done and applies(stage, state)]
    if state.ending:
        asked = asked_at_early_end(plan, state)
        return Position(asked[0], Mode.ASKING) if asked else Position(None, Mode.OPEN_ITEMS)
    # What was said already is read back before anything else is asked for.
    target = next((stage for stage in owed if stage.id in state.ahead), owed[0] if owed else None)
    if target is None:
        return Position(None, Mode.OPEN_ITEMS)
    missing = next(skipped_before(plan, target, state), None)
    if missing is not None:
        return Position(missing, Mode.ASKING, reopened=True)
    return Position(target, Mode.ASKING)


def asked_at_early_end(plan: Plan, state: SessionState) -> tuple[Stage, ...]:
    """What is still to be asked where the visit ends early; nothing before work on the patient began."""
    begun = any(stage.step.phase == "during" and stage.id in state.done for stage in plan.stages)
    if not begun and not (state.ledger is not None and state.ledger.runs):
        return ()
    return tuple(
        stage
        for stage in plan.stages
        if stage.step.at_early_end and stage.id not in state.done and applies(stage, state)
    )


def ahead_of(plan: Plan, stage: Stage, state: SessionState) -> Stage | None:
    """A stage of the same group for which a value was said while nothing is open here."""
    if state.pending:
        return None
    return next((mate for mate in open_mates(plan, stage, state) if mate.id in state.ahead), None)


def open_mates(plan: Plan, stage: Stage, state: SessionState) -> tuple[Stage, ...]:
    """The other stages that may be answered while this one asks."""
    return tuple(
        mate
        for mate in mates_of(plan, stage)
        if mate.id not in state.done and (not mate.number or applies(mate, state))
    )


def asked_for(plan: Plan, stage: Stage, state: SessionState) -> list[StepField]:
    """What the question of a stage asks for and that has no value: of its whole group, where it asks for all of it."""
    asked = (stage, *open_mates(plan, stage, state)) if stage.step.together else (stage,)
    return [
        field
        for one in asked
        for field in one.step.fields
        if field.id not in (state.pending if one is stage else state.ahead.get(one.id, {}))
    ]


def stage_of_heat(plan: Plan, state: SessionState) -> Stage:
    """The stage that heat or pain belongs to: of the light that is looked after, else where the visit stands.

    A stage that is only looked at is done, and has nothing to do with it.
    """
    here = plan.stage(state.place)
    if not state.reviewing or here.step.kind == "expose":
        return here
    return position(plan, state).stage or here


def earlier(plan: Plan, state: SessionState) -> Stage | None:
    """The stage before this one, of those that are part of the visit."""
    before = plan.stages[: plan.index(state.place)]
    return next((stage for stage in reversed(before) if applies(stage, state)), None)


def resting(state: SessionState) -> Mode:
    """Where the session rests at its stage after something was broken off: held, or asking."""
    return Mode.HELD if state.red or state.held_at(state.place) else Mode.ASKING


def gaps(plan: Plan, state: SessionState) -> tuple[OpenReading, ...]:
    """Readings of hard steps that are recorded as absent and that nobody has answered for."""
    return tuple(
        OpenReading(name_of(stage, state.side), field_id)
        for stage in plan.stages
        if stage.step.hard
        for field_id, taken in state.answers.get(stage.id, {}).items()
        if isinstance(taken.value, Absent) and f"{stage.id}.{field_id}" not in state.accepted_gaps
    )


def open_items(plan: Plan, state: SessionState) -> tuple[OpenItem, ...]:
    """Everything that is open as the visit stands, what somebody answered for too."""
    items: list[OpenItem] = [OpenLightOff()] if state.off_owed is not None else []
    items += [OpenHold(hold.grounds) for hold in (*state.held_at_end, *state.holds)]
    items += gaps(plan, state)
    # At an early end nobody knows whether a step is needed that hangs on what was not answered: it is open too.
    items += [
        OpenStep(name_of(stage, state.side))
        for stage in plan.stages
        if stage.id not in state.done and (applies(stage, state) or hangs_on_open(plan, stage, state))
    ]
    ledger = state.ledger
    if ledger is not None and lights(plan):
        items += [OpenZone(zone.id, zone.label) for zone in ledger.zones if ledger.short_s(zone.id) > 0]
    if state.late_window_s is not None:
        items.append(OpenLateQuestion())
    items += [OpenTimer(timer.label) for timer in state.timers.values()]
    return tuple(items)


def blocking_items(plan: Plan, state: SessionState) -> tuple[OpenItem, ...]:
    """Open items that nobody has answered for: they keep the visit from being closed."""
    return tuple(
        item
        for item in open_items(plan, state)
        if not isinstance(item, OpenTimer) and not (isinstance(item, OpenZone) and item.zone in state.left_zones)
    )
