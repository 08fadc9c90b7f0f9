"""The only way to lift what stop words and findings set, or to end early: role, reason, read-back."""

from typing import Literal

from handsfree.model.effects import Earcon
from handsfree.model.facts import (
    GapsAccepted,
    HoldLifted,
    OverrideDropped,
    StepOverridden,
    VisitEndedEarly,
)
from handsfree.model.refusals import RefusalCode
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.holds import in_order, overrides_its_stage
from handsfree.session.modes import Mode
from handsfree.session.navigation import gaps
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.sentence_codes import ConfirmEnd, ConfirmGaps, ConfirmOverride, WhichReason, WhichRole
from handsfree.session.state import Done, Hold, Override
from handsfree.session.visit import name_of
from handsfree.session.zones import is_being_lit


def ask_override(now: EventContext) -> Reply:
    """Take "override": of what holds the visit, of values that are missing at its end, or to end it early."""
    state = now.state
    of: Literal["hold", "gaps", "end"]
    if now.mode is Mode.PAUSED:
        of = "end"
    elif state.holds:
        of = "hold"
    elif now.mode is Mode.OPEN_ITEMS and gaps(now.visit.plan, state):
        of = "gaps"
    else:
        return now.refuse(RefusalCode.NOTHING_TO_OVERRIDE)
    state.override = Override(of)
    state.modes.push(Mode.OVERRIDE_ROLE)
    reply = Reply()
    reply.say(WhichRole(tuple(phrases[0] for phrases in now.visit.procedure.roles.values())))
    return reply


def take_role(now: EventContext) -> Reply:
    """The role of whoever answers for it."""
    role, override = now.chosen, now.state.override
    if role not in now.visit.procedure.roles or override is None:
        return now.refuse(RefusalCode.NOT_ON_THE_LIST)
    override.role = role
    now.state.modes.turn_into(Mode.OVERRIDE_REASON)
    reply = Reply()
    reply.say(WhichReason(tuple(phrases[0] for phrases in now.visit.procedure.override_reasons.values())))
    return reply


def take_reason(now: EventContext) -> Reply:
    """The reason; both are read back before anything is lifted."""
    reason, override, procedure = now.chosen, now.state.override, now.visit.procedure
    if reason not in procedure.override_reasons or override is None:
        return now.refuse(RefusalCode.NOT_ON_THE_LIST)
    override.reason = reason
    now.state.modes.turn_into(Mode.OVERRIDE_CONFIRM)
    reply = Reply()
    said = (procedure.roles[override.role][0], procedure.override_reasons[reason][0])
    match override.of:
        case "hold":
            reply.say(ConfirmOverride(tuple(hold.grounds for hold in in_order(now.state.holds)), *said))
        case "gaps":
            reply.say(ConfirmGaps(*said))
        case "end":
            reply.say(ConfirmEnd(*said))
    return reply


def drop_override(now: EventContext) -> Reply:
    """Take "negative" or "correction" on the way: nothing is lifted."""
    override = now.state.override
    assert override is not None  # noqa: S101 - the mode is entered with one
    now.state.override = None
    now.state.modes.pop(now.mode)
    reply = Reply([OverrideDropped(of=override.of)])
    if override.of == "end":
        reply.say(Fixed.NOT_ENDED)
    elif override.of == "gaps":
        reply.say(Fixed.NOTHING_CHANGED)
    else:
        reply.then = Then.HOLD
    return reply


def apply_override(now: EventContext) -> Reply:
    """Lift what was read back."""
    state, plan, override = now.state, now.visit.plan, now.state.override
    assert override is not None  # noqa: S101 - the mode is entered with one
    role, reason = override.role, override.reason
    state.override = None
    state.modes.pop(Mode.OVERRIDE_CONFIRM)
    reply = Reply(talk=[Earcon.RECORDED], then=Then.GO_ON)
    if override.of == "end":
        reply.facts.append(VisitEndedEarly(stage=now.stage_name, role=role, reason=reason, heard=now.heard))
        reply.then = Then.END
        return reply
    if override.of == "gaps":
        listed = gaps(plan, state)
        reply.facts.append(GapsAccepted(gaps=listed, role=role, reason=reason, heard=now.heard))
        state.accepted_gaps |= {
            f"{stage.id}.{field_id}" for stage in plan.stages for field_id in state.answers.get(stage.id, {})
        }
        return reply
    answered_before = frozenset(state.done)
    for hold in state.holds:
        reply.facts.append(HoldLifted(hold=hold.kind, grounds=hold.grounds, role=role, reason=reason, heard=now.heard))
        if hold.stage_id not in answered_before and _overrides(now, hold):
            state.done[hold.stage_id] = Done.OVERRIDDEN
            name = name_of(plan.stage(hold.stage_id), state.side)
            reply.facts.append(StepOverridden(stage=name, role=role, reason=reason, heard=now.heard))
    state.holds.clear()
    state.modes.rest(Mode.ASKING)
    if is_being_lit(now.stage, state):
        reply.then = Then.NEXT_ZONE
    return reply


def _overrides(now: EventContext, hold: Hold) -> bool:
    """Whether the stage of a hold counts as done by its override: of a red one, only if all its values are given."""
    if not overrides_its_stage(hold) or hold.kind == "stop":
        return overrides_its_stage(hold)
    stage = now.visit.plan.stage(hold.stage_id)
    given = now.state.answers.get(stage.id, {})
    return bool(stage.step.fields) and all(field.id in given for field in stage.step.fields)
