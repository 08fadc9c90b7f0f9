"""The ways on from where a visit is held: all of them are said, so that nobody needs a false word. Pure."""

from handsfree.definition.plan import Plan, Stage
from handsfree.model.baseline import Difference
from handsfree.model.reasons import HeatWordSaid, PainOverLimit
from handsfree.session.computed_inputs import stage_behind
from handsfree.session.lift_rules import lift_of
from handsfree.session.prompts.fixed import WayOn
from handsfree.session.stages import is_computed, why_not_correctable
from handsfree.session.state import Done, Hold, SessionState, answered_first
from handsfree.session.visit import Visit


def ways_from(visit: Visit, state: SessionState, hold: Hold) -> tuple[WayOn, ...]:
    """Everything that leads on from a hold, the most usual first; the end of the visit always does."""
    stage = visit.plan.stage(hold.stage_id)
    heat = isinstance(hold.grounds.ground, HeatWordSaid | PainOverLimit)
    found = []
    if isinstance(hold.grounds.ground, Difference):
        found += [WayOn.COMPARE_ANYWAY, WayOn.LEAVE_IT_OUT]
    if may_give_more_light(visit.plan, state, hold):
        found.append(WayOn.MORE_LIGHT)
    if not heat and why_not_correctable(visit, stage, state) is None:
        found.append(WayOn.CORRECTION)
    liftable = lift_of(visit.plan, hold) is not None
    if liftable:
        found.append(WayOn.OVERRIDE)
    if liftable and may_leave_zone(visit.plan.stage(state.place), state):
        found.append(WayOn.LEAVE_ZONE)
    return (*found, WayOn.END_VISIT)


def stage_to_correct(plan: Plan, state: SessionState) -> Stage | None:
    """The stage that "correction" opens at a hold: where its value was said; None where nobody said any."""
    stage = plan.stage(answered_first(state.holds).stage_id)
    return stage_behind(plan, stage, state) if is_computed(stage) else stage


def may_give_more_light(plan: Plan, state: SessionState, hold: Hold) -> bool:
    """Whether zones may get more light from here: where the file says so, and nothing but this step's stop holds."""
    stage = plan.stage(hold.stage_id)
    exposed = any(done is Done.EXPOSED for done in state.done.values())
    return stage.step.more_light and hold.kind == "stop" and not state.red and exposed and not state.ending


def may_leave_zone(stage: Stage, state: SessionState) -> bool:
    """Whether a zone can be left open from here."""
    return stage.step.kind == "expose" and state.zone_id is not None and state.ledger is not None and not state.ending
