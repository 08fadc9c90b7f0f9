"""Holds: which ones follow from a severity, which go with their cause. Pure.

Who may lift the others, and how, is asked in `handlers.overriding`.
"""

from collections.abc import Iterable

from handsfree.definition.form import Step
from handsfree.definition.plan import SideRole, Stage
from handsfree.model.reasons import (
    AnswersDiffer,
    BetweenSizes,
    Grounds,
    HeatWordSaid,
    NoSize,
    OffSizeChart,
    PainOverLimit,
    Severity,
)
from handsfree.session.prompts.fixed import HoldAction
from handsfree.session.state import Hold

ANSWERED_AGAIN = "answered_again"
MISHEARD = "misheard"
WITHDRAWN = "step_left_out"
HELD_AGAINST_ANOTHER_VALUE = "held_against_another_value"


def hold_of(stage: Stage, field_id: str, severity: Severity, grounds: Grounds | None) -> Hold | None:
    """The hold that the class of a value sets at a stage; None where it sets none."""
    if grounds is None:
        return None
    match severity:
        case Severity.RED:
            return Hold("red", stage.id, grounds, red_action(stage.step, stage.role), field_id=field_id)
        case Severity.STOP:
            return Hold("stop", stage.id, grounds, HoldAction.DO_NOT_GO_ON, field_id=field_id)
        case _:
            return None


def red_action(step: Step, role: SideRole | None) -> HoldAction | str:
    """What to do first: what is right for the injured side, a splint off say, is no help to the other one."""
    own = step.red_action_other if role is SideRole.OTHER else step.red_action
    return own or HoldAction.CALL_SENIOR


def hold_after_heat(stage: Stage, ground: HeatWordSaid | PainOverLimit, zone: str) -> Hold:
    """Heat or pain, with the name of the zone that was lit; "" where none was."""
    return Hold("red", stage.id, Grounds(ground), HoldAction.LIGHT_OFF_LOOK, zone=zone)


def hold_for_differing_answers(stage: Stage) -> Hold:
    """Answers that must agree do not."""
    return Hold("stop", stage.id, Grounds(AnswersDiffer()), HoldAction.FIND_OUT)


def hold_for_size(stage: Stage, ground: NoSize | BetweenSizes | OffSizeChart) -> Hold:
    """No size follows from the measures."""
    ask = isinstance(ground, BetweenSizes)
    return Hold("stop", stage.id, Grounds(ground), HoldAction.ASK_WHICH_SIZE if ask else HoldAction.DO_NOT_GO_ON)


def lifted_with_cause(holds: Iterable[Hold], stage_id: str, grounds: Grounds | None = None) -> list[Hold]:
    """The stops of a stage, or the one with these grounds, that go with their cause. A red hold stays."""
    return [
        hold
        for hold in holds
        if hold.kind == "stop"
        and hold.answerable
        and hold.stage_id == stage_id
        and (grounds is None or hold.grounds == grounds)
    ]


def overrides_its_stage(hold: Hold) -> bool:
    """Whether lifting it by role and reason takes the answer of its stage as given: not where heat or pain set it."""
    if isinstance(hold.grounds.ground, HeatWordSaid | PainOverLimit):
        return False
    return hold.kind == "red" or hold.answerable


def in_order(holds: Iterable[Hold]) -> tuple[Hold, ...]:
    """Red ones first, else as they were set: the first one is that which is answered for (`state.answered_first`)."""
    return tuple(sorted(holds, key=lambda hold: hold.kind != "red"))
