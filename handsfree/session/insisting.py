"""A number that cannot be and that somebody says again: it stays refused, and is kept beside the gap that it leaves.

Nobody has to say another number than the one that is read, and no such number is ever a value. The gap is flagged,
keeps a hard step from being closed quietly, and is answered for as any other (`navigation.gaps`).
"""

from decimal import Decimal

from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.model.commands import SlotValue
from handsfree.model.readings import Exact, HowToSay, Refused, SpokenValue
from handsfree.model.refusals import OutOfRange, RefusalReason, SayItSo
from handsfree.session.context import EventContext
from handsfree.session.held_over import RefusedNumber


def insisted_on(
    now: EventContext, stage: Stage, field: StepField, given: SlotValue, problem: RefusalReason
) -> Decimal | None:
    """The refused number, where the same one was refused before and is said anew; else None: it is asked for again.

    Args:
        now: The context; the number is remembered.
        stage: The stage that asks.
        field: The field of it.
        given: What was said.
        problem: Why it was refused.
    """
    amount = _amount(given.value, problem)
    if amount is None:
        return None
    name, said_s = f"{stage.id}.{field.id}", now.heard.spoken_from_s
    before = now.state.refused.get(name)
    if before is None or before.amount != amount or before.said_s == said_s:
        # Words that went on after a pause are heard twice and said once.
        now.state.refused[name] = RefusedNumber(amount, said_s)
        return None
    del now.state.refused[name]
    return amount


def _amount(value: SpokenValue, problem: RefusalReason) -> Decimal | None:
    """The number that lies outside what can be; None where something else was wrong."""
    match value, problem:
        case Exact(value=amount), OutOfRange():
            return amount
        case Refused(code=HowToSay.IMPLAUSIBLE, arguments=(_, _, text)), SayItSo():
            return Decimal(text)
        case _:
            return None
