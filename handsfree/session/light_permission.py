"""Whether the light may go on: what speaks against it, and where a light that comes too early is still heard. Pure."""

from handsfree.definition.plan import Plan
from handsfree.model.commands import Control
from handsfree.model.refusals import Refusal, RefusalCode, StepFirst
from handsfree.session.modes import Mode
from handsfree.session.stages import owed_before
from handsfree.session.state import SessionState
from handsfree.session.visit import name_of

NO_LIGHT_YET = {
    Mode.WARMTH: RefusalCode.WARMTH_FIRST,
    Mode.LATE_HEAT: RefusalCode.WARMTH_FIRST,
    Mode.HELD: RefusalCode.HELD,
    Mode.PAUSED: RefusalCode.RESUME_FIRST,
    Mode.RECONFIRM: RefusalCode.POSITION_FIRST,
    Mode.CRIED: RefusalCode.HEAT_FIRST,
}
"""Where a light that comes too early is still heard: nobody would count its seconds otherwise."""
WHILE_LIT = frozenset({Control.STRAP_ON, Control.STRAP_OFF, Control.LIGHT_ON, Control.CRY, Control.STATUS})
"""Commands besides the stop words that are taken while lit; any other is answered with "light off first"."""


def why_not(plan: Plan, state: SessionState) -> Refusal | StepFirst | None:
    """Why the light must stay off; None if nothing that is recorded speaks against it."""
    stage, mode = plan.stage(state.place), state.modes.top
    if stage.step.kind != "expose" or state.ledger is None or state.zone_id is None:
        return _missing(plan, state) or Refusal(RefusalCode.NO_LIGHT_HERE)
    if mode in NO_LIGHT_YET:
        return Refusal(NO_LIGHT_YET[mode])
    if mode is not Mode.ASKING and mode is not Mode.LIT:
        return Refusal(RefusalCode.ANSWER_FIRST)
    if state.red or any(hold.kind == "stop" and hold.stage_id == stage.id for hold in state.holds):
        return Refusal(RefusalCode.HELD)
    owed = next(owed_before(plan, stage, state), None)
    if owed is not None:
        return StepFirst(name_of(owed, state.side))
    if state.standing:
        return Refusal(RefusalCode.ANSWER_FIRST)
    if stage.step.zones == "strap" and state.ledger.strap_is_on:
        return Refusal(RefusalCode.STRAP_OFF_FIRST)
    return None


def _missing(plan: Plan, state: SessionState) -> StepFirst | None:
    """The first step that is owed before the next light; in a visit that ends early no light comes next."""
    if state.ending:
        return None
    stage = next((one for one in plan.stages if one.step.kind == "expose" and one.id not in state.done), None)
    owed = next(owed_before(plan, stage, state), None) if stage is not None else None
    return StepFirst(name_of(owed, state.side)) if owed is not None else None
