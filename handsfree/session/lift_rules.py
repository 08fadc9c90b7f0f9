"""Who may lift a hold by an override, by the procedure file. Pure."""

from handsfree.definition.form import Procedure
from handsfree.definition.lift_form import Lift, LiftRule
from handsfree.definition.plan import Plan
from handsfree.model.baseline import Difference
from handsfree.model.readings import SpelledText
from handsfree.model.reasons import AnswersDiffer, BeforeToday, HeatWordSaid, PainOverLimit, Recalled
from handsfree.session.modes import Mode
from handsfree.session.state import Hold, Override, SessionState

LONGEST_CODE = 20
"""Characters of a person's code where the file asks for none: as of a lot or serial number (GS1 General
Specifications)."""
_NEVER_UNLESS_SAID = (Recalled, BeforeToday, AnswersDiffer)
"""A recalled or expired device, and answers about the patient or the side that do not agree: common practice, no
source. A file that wants it otherwise says so at the field or the step."""


def lift_of(plan: Plan, hold: Hold) -> Lift | None:
    """Who may lift a hold, and why; None where nobody may.

    The nearest rule counts: of the field, of the step, of the procedure; without any, every role and every reason.
    """
    procedure, ground = plan.procedure, hold.grounds.ground
    rules = procedure.lift
    if isinstance(ground, HeatWordSaid | PainOverLimit):
        return lift_of_heat(plan)
    if isinstance(ground, Difference):
        return None  # whether the earlier record is meant is answered, not overridden
    step = plan.stage(hold.stage_id).step
    own = next((field.lift for field in step.fields if field.id == hold.field_id), None)
    rule = own if own is not None else step.lift
    if rule is None and isinstance(ground, _NEVER_UNLESS_SAID):
        return None
    return _as_lift(procedure, rule if rule is not None else rules.red if hold.kind == "red" else rules.stop)


def lift_of_heat(plan: Plan) -> Lift | None:
    """Who may go on after heat or pain, or leave a zone open; None where nobody may."""
    return _as_lift(plan.procedure, plan.procedure.lift.heat)


def lift_of_gaps(plan: Plan) -> Lift:
    """Who may accept missing values, and why."""
    return plan.procedure.lift.gaps or _anybody(plan.procedure)


def lift_of_end(plan: Plan) -> Lift:
    """Who may end a visit early, and why: everybody; nobody is kept in a visit."""
    return _anybody(plan.procedure)


def lift_of_override(plan: Plan, override: Override) -> Lift:
    """Who may do what is on its way, and why."""
    match override.of:
        case "hold" | "zone":
            lift = lift_of(plan, override.hold) if override.hold is not None else lift_of_heat(plan)
            assert lift is not None  # noqa: S101 - else it had been refused at once
            return lift
        case "gaps":
            return lift_of_gaps(plan)
        case "end":
            return lift_of_end(plan)


def may_answer(plan: Plan, state: SessionState) -> tuple[str, ...]:
    """The roles, or the reasons, that the file permits where they are asked for: their first phrases."""
    override, procedure = state.override, plan.procedure
    if override is None:
        return ()
    lift = lift_of_override(plan, override)
    match state.modes.top:
        case Mode.OVERRIDE_ROLE:
            return tuple(procedure.roles[role][0] for role in lift.by)
        case Mode.OVERRIDE_REASON:
            return tuple(procedure.override_reasons[reason][0] for reason in lift.reasons)
        case _:
            return ()


def _as_lift(procedure: Procedure, rule: LiftRule | None) -> Lift | None:
    if rule == "never":
        return None
    return _anybody(procedure) if rule is None else rule


def _anybody(procedure: Procedure) -> Lift:
    return Lift(by=tuple(procedure.roles), reasons=tuple(procedure.override_reasons))


def longest_code(plan: Plan) -> int:
    """Characters that a person's code may have: as many as the operator's, where the file asks for that."""
    step_id, _, field_id = (plan.procedure.operator_from or "").partition(".")
    fields = (field for stage in plan.stages_of(step_id) for field in stage.step.fields if field.id == field_id)
    return next((field.identifier.max_length for field in fields if field.identifier is not None), LONGEST_CODE)


def may_be_code(plan: Plan, code: SpelledText) -> bool:
    """Whether this may be the code of a person: not a role or a reason said once more, and no longer than codes are."""
    said = (*plan.procedure.roles.values(), *plan.procedure.override_reasons.values())
    words = {SpelledText(phrase).bare for phrases in said for phrase in phrases}
    return code.bare not in words and len(code.bare) <= longest_code(plan)
