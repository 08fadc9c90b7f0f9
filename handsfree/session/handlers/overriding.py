"""The only way past what stop words and findings set, to leave a zone, or to end early: role, reason, read-back.

Who may lift what stands in the procedure file (`lift_rules`); one override lifts one hold.
"""

from handsfree.definition.lift_form import Lift
from handsfree.definition.verbalization import spelled
from handsfree.model.commands import GiveValues, SlotValue
from handsfree.model.effects import Earcon
from handsfree.model.facts import (
    AnyFact,
    GapsAccepted,
    HoldLifted,
    OverrideDropped,
    StepOverridden,
    VisitEndedEarly,
    ZoneLeft,
)
from handsfree.model.readings import Absent, SpelledText
from handsfree.model.refusals import ReasonMayNotLift, RefusalCode, RoleMayNotLift
from handsfree.session.context import EventContext, Reply, Then
from handsfree.session.holds import overrides_its_stage
from handsfree.session.lift_rules import (
    lift_of,
    lift_of_end,
    lift_of_gaps,
    lift_of_heat,
    lift_of_override,
    may_be_code,
)
from handsfree.session.modes import Mode
from handsfree.session.navigation import gaps
from handsfree.session.prompts.fixed import Consequence, Fixed
from handsfree.session.prompts.hold_sentences import (
    ConfirmEnd,
    ConfirmGaps,
    ConfirmLeave,
    ConfirmOverride,
    HeldFor,
    WhichReason,
    WhichRole,
)
from handsfree.session.second_person import has_confirmed
from handsfree.session.state import Done, Hold, Override, Said, answered_first
from handsfree.session.visit import name_of
from handsfree.session.zones import is_being_lit, label_of


def ask_override(now: EventContext) -> Reply:
    """Take "override": of what holds the visit, of values that are missing at its end, or to end it early."""
    state, plan = now.state, now.visit.plan
    if now.mode is Mode.PAUSED:
        return ask_end(now)
    if state.holds:
        hold = answered_first(state.holds)
        lift = lift_of(plan, hold)
        return _ask(now, Override("hold", hold), lift) if lift else now.refuse(RefusalCode.NEVER_LIFTED)
    if now.mode is Mode.OPEN_ITEMS and gaps(plan, state):
        return _ask(now, Override("gaps"), lift_of_gaps(plan))
    return now.refuse(RefusalCode.NOTHING_TO_OVERRIDE)


def override_by(now: EventContext) -> Reply:
    """Take "override" with who answers, and why: as if each had been asked for."""
    said, hold = now.said, answered_first(now.state.holds)
    assert said is not None and isinstance(said.command, GiveValues)  # noqa: S101, PT018 - dispatch calls it for these
    lift = lift_of(now.visit.plan, hold)
    if lift is None:
        return now.refuse(RefusalCode.NEVER_LIFTED)
    reply = _ask(now, Override("hold", hold), lift)
    reply.talk.clear()
    reply.redo = _rest_of(said, said.command.values)
    return reply


def _rest_of(said: Said, values: tuple[SlotValue, ...]) -> Said:
    return Said(GiveValues(values), said.heard, said.from_s, said.to_s, said.asked)


def ask_end(now: EventContext) -> Reply:
    """Take "end the visit": everybody may, with a role and a reason. An override that is on its way is dropped."""
    return _ask(now, Override("end"), lift_of_end(now.visit.plan), _dropped(now))


def ask_leave(now: EventContext) -> Reply:
    """Take "leave this zone": it stays open in the record, and the light goes on with the next one."""
    state = now.state
    if now.stage.step.kind != "expose" or state.zone_id is None or state.ledger is None:
        return now.refuse(RefusalCode.NO_ZONE_HERE)
    if state.ledger.short_s(state.zone_id) <= 0 and not state.holds:
        return now.refuse(RefusalCode.ZONE_HAS_ITS_SECONDS)
    hold = answered_first(state.holds) if state.holds else None
    lift = lift_of(now.visit.plan, hold) if hold is not None else lift_of_heat(now.visit.plan)
    return _ask(now, Override("zone", hold), lift) if lift else now.refuse(RefusalCode.NEVER_LIFTED)


def _ask(now: EventContext, override: Override, lift: Lift, dropped: tuple[AnyFact, ...] = ()) -> Reply:
    roles = now.visit.procedure.roles
    now.state.override = override
    now.state.modes.push(Mode.OVERRIDE_ROLE)
    reply = Reply([*dropped])
    which = (HeldFor((override.hold.grounds,)),) if override.hold is not None and len(now.state.holds) > 1 else ()
    reply.say(*which, WhichRole(tuple(roles[role][0] for role in lift.by)))
    return reply


def take_role(now: EventContext) -> Reply:
    """The role of whoever answers for it."""
    role, override, procedure = now.chosen, now.state.override, now.visit.procedure
    if role not in procedure.roles or override is None:
        return now.refuse(RefusalCode.NOT_ON_THE_LIST)
    lift = lift_of_override(now.visit.plan, override)
    if role not in lift.by:
        able = tuple(procedure.roles[one][0] for one in lift.by)
        return now.refuse(RoleMayNotLift(role, procedure.roles[role][0], able))
    override.role = role
    now.state.modes.turn_into(Mode.OVERRIDE_REASON)
    reply, said = Reply(), now.said
    if said is not None and isinstance(said.command, GiveValues) and len(said.command.values) > 1:
        reply.redo = _rest_of(said, said.command.values[1:])
    else:
        reply.say(WhichReason(tuple(procedure.override_reasons[reason][0] for reason in lift.reasons)))
    return reply


def take_reason(now: EventContext) -> Reply:
    """The reason; where another person than the operator must answer, that person's code comes next."""
    reason, override, procedure = now.chosen, now.state.override, now.visit.procedure
    if reason not in procedure.override_reasons or override is None:
        return now.refuse(RefusalCode.NOT_ON_THE_LIST)
    lift = lift_of_override(now.visit.plan, override)
    if reason not in lift.reasons:
        able = tuple(procedure.override_reasons[one][0] for one in lift.reasons)
        return now.refuse(ReasonMayNotLift(reason, procedure.override_reasons[reason][0], able))
    override.reason = reason
    if _another_person(now, override):
        now.state.modes.turn_into(Mode.OVERRIDE_CODE)
        reply = Reply()
        reply.say(Fixed.WHICH_CODE)
        return reply
    return _read_back(now, override)


def _another_person(now: EventContext, override: Override) -> bool:
    """Whether somebody else than the operator answers: by the reason, or because the role is not the operator's."""
    declared = now.state.operator_role
    return override.reason in now.visit.procedure.lift.second_person or (
        declared is not None and declared != override.role
    )


def take_code(now: EventContext) -> Reply:
    """The code of the other person; the operator's own is refused, and what is no code of a person."""
    override, command = now.state.override, now.said.command if now.said is not None else None
    value = command.values[0].value if isinstance(command, GiveValues) else None
    if override is None or not isinstance(value, SpelledText):
        return now.refuse(RefusalCode.CODE_NEEDED)
    if now.state.operator is not None and value.bare == SpelledText(now.state.operator).bare:
        return now.refuse(RefusalCode.OPERATORS_OWN_CODE)
    if override.hold is not None and has_confirmed(now, now.visit.plan.stage(override.hold.stage_id), value):
        return now.refuse(RefusalCode.ANOTHER_PERSON)
    if not may_be_code(now.visit.plan, value):
        return now.refuse(RefusalCode.NO_PERSONS_CODE)
    override.code = value.text
    return _read_back(now, override)


def _read_back(now: EventContext, override: Override) -> Reply:
    """Everything is read back, with its consequence, before anything is lifted."""
    state, procedure = now.state, now.visit.procedure
    state.modes.turn_into(Mode.OVERRIDE_CONFIRM)
    who = procedure.roles[override.role][0]
    if override.code is not None:
        who = f"{who} {spelled(override.code)}"
    why = procedure.override_reasons[override.reason][0]
    reply = Reply()
    match override.of:
        case "hold":
            assert override.hold is not None  # noqa: S101 - it is of one
            reply.say(ConfirmOverride(override.hold.grounds, _consequence(now, override.hold), who, why))
        case "gaps":
            reply.say(ConfirmGaps(who, why))
        case "zone":
            reply.say(ConfirmLeave(label_of(now.ledger, state.zone_id), who, why))
        case "end":
            reply.say(ConfirmEnd(who, why))
    return reply


def _consequence(now: EventContext, hold: Hold) -> Consequence:
    """What lifting a hold leads to."""
    if not overrides_its_stage(hold):
        lit = now.visit.plan.stage(hold.stage_id).step.kind == "expose"
        return Consequence.LIGHT_AGAIN if lit else Consequence.GOES_ON
    return Consequence.STAYS_FLAGGED if _overrides(now, hold) else Consequence.STEP_ASKED_AGAIN


def drop_override(now: EventContext) -> Reply:
    """Take "negative" or "correction" on the way: nothing is lifted."""
    override = now.state.override
    assert override is not None  # noqa: S101 - the mode is entered with one
    reply = Reply([*_dropped(now)])
    match override.of:
        case "end" if now.mode is Mode.PAUSED:
            reply.say(Fixed.NOT_ENDED)
        case "gaps":
            reply.say(Fixed.NOTHING_CHANGED)
        case _:
            reply.then = Then.HOLD if now.mode is Mode.HELD else Then.ASK
    return reply


def _dropped(now: EventContext) -> tuple[AnyFact, ...]:
    """Break off the override that is on its way; what that puts on record, nothing where none is."""
    override, now.state.override = now.state.override, None
    if override is None:
        return ()
    now.state.modes.pop(now.mode)
    return (OverrideDropped(of=override.of),)


def apply_override(now: EventContext) -> Reply:
    """Do what was read back."""
    state, override = now.state, now.state.override
    assert override is not None  # noqa: S101 - the mode is entered with one
    role, reason, code = override.role, override.reason, override.code
    state.override = None
    state.modes.pop(Mode.OVERRIDE_CONFIRM)
    reply = Reply(talk=[Earcon.RECORDED], then=Then.GO_ON)
    match override.of:
        case "end":
            reply.facts.append(
                VisitEndedEarly(stage=now.stage_name, role=role, reason=reason, code=code, heard=now.heard)
            )
            reply.then = Then.END
        case "gaps":
            listed = gaps(now.visit.plan, state)
            reply.facts.append(GapsAccepted(gaps=listed, role=role, reason=reason, code=code, heard=now.heard))
            state.accepted_gaps |= {
                f"{stage.id}.{field_id}"
                for stage in now.visit.plan.stages
                if stage.step.hard
                for field_id, taken in state.answers.get(stage.id, {}).items()
                if isinstance(taken.value, Absent)
            }
        case "hold":
            _lift_hold(now, reply, override)
        case "zone":
            zone_id = state.zone_id
            assert zone_id is not None  # noqa: S101 - it was left by name
            if override.hold is not None:
                _lift_hold(now, reply, override)
            state.left_zones.add(zone_id)
            reply.facts.append(ZoneLeft(zone=zone_id, role=role, reason=reason, code=code, heard=now.heard))
            state.modes.rest(Mode.HELD if state.holds else Mode.ASKING)
            reply.then = Then.HOLD if state.holds else Then.NEXT_ZONE
    return reply


def _lift_hold(now: EventContext, reply: Reply, override: Override) -> None:
    """Lift one hold; others stand, and are told next."""
    state, hold = now.state, override.hold
    assert hold is not None  # noqa: S101 - it is of one
    role, reason = override.role, override.reason
    reply.facts.append(
        HoldLifted(hold=hold.kind, grounds=hold.grounds, role=role, reason=reason, code=override.code, heard=now.heard)
    )
    state.lifted.append(hold)
    if override.code is not None:
        state.lifters.setdefault(hold.stage_id, set()).add(SpelledText(override.code).bare)
    _answer_for_gap(now, hold, override)
    if hold.stage_id not in state.done and _overrides(now, hold):
        others = [one for one in state.holds if one is not hold and one.stage_id == hold.stage_id]
        if not any(overrides_its_stage(one) for one in others):
            state.done[hold.stage_id] = Done.OVERRIDDEN
            state.corrected.pop(hold.stage_id, None)
            name = name_of(now.visit.plan.stage(hold.stage_id), state.side)
            reply.facts.append(StepOverridden(stage=name, role=role, reason=reason, heard=now.heard))
    state.holds.remove(hold)
    if state.holds:
        reply.then = Then.GO_ON if not state.red else Then.HOLD
        return
    state.modes.rest(Mode.ASKING)
    if is_being_lit(now.stage, state):
        reply.then = Then.NEXT_ZONE


def _answer_for_gap(now: EventContext, hold: Hold, override: Override) -> None:
    """Whoever lifts the hold of a missing value has answered for it, where they may: nobody is asked twice."""
    if hold.field_id is None:
        return
    taken = now.state.answers.get(hold.stage_id, {}).get(hold.field_id)
    lift = lift_of_gaps(now.visit.plan)
    may = override.role in lift.by and override.reason in lift.reasons
    if may and taken is not None and isinstance(taken.value, Absent):
        now.state.accepted_gaps.add(f"{hold.stage_id}.{hold.field_id}")


def _overrides(now: EventContext, hold: Hold) -> bool:
    """Whether the stage of a hold counts as done by its override: only if all its values are given."""
    if not overrides_its_stage(hold):
        return False
    stage = now.visit.plan.stage(hold.stage_id)
    given = now.state.answers.get(stage.id, {})
    return bool(stage.step.fields) and all(field.id in given for field in stage.step.fields)
