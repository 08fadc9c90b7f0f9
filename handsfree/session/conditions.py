"""Conditions of steps held against what was answered: they hold, fail, or cannot be decided. Pure."""

from collections.abc import Container, Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Protocol

from handsfree.definition.condition_form import When
from handsfree.model.readings import Between, Beyond, Exact, Option
from handsfree.session.state import TakenValue

_HAIR = Decimal("1e-9")
"""Less than any digit of a reading: what is under a limit is not the limit."""


class Truth(StrEnum):
    """Whether a condition holds."""

    HOLDS = "holds"
    FAILS = "fails"
    OPEN = "open"
    """What it hangs on is not answered yet, or no part of the visit."""
    UNDECIDED = "undecided"
    """What it hangs on was asked and has no value that decides it: the step is asked rather than left out."""


class Answered(Protocol):
    """What a condition is held against; a session, or a record."""

    @property
    def answers(self) -> Mapping[str, Mapping[str, TakenValue]]:
        """Values by stage and field."""

    @property
    def done(self) -> Container[str]:
        """The stages that are done."""


def truth_of(when: When, state: Answered) -> Truth:
    """Whether a condition holds, by what was answered so far."""
    if not when.parts:
        return _of_one(when, state)
    parts = {truth_of(part, state) for part in when.parts}
    settles, else_ = (Truth.FAILS, Truth.HOLDS) if when.all_ else (Truth.HOLDS, Truth.FAILS)
    order = (settles, Truth.OPEN, Truth.UNDECIDED) if when.all_ else (settles, Truth.UNDECIDED, Truth.OPEN)
    return next((truth for truth in order if truth in parts), else_)


def _of_one(when: When, state: Answered) -> Truth:
    step_id, _, field_id = (when.step or "").partition(".")
    taken = state.answers.get(step_id, {}).get(field_id)
    if taken is None:
        return Truth.UNDECIDED if step_id in state.done else Truth.OPEN
    holds = _holds(when, taken)
    return Truth.UNDECIDED if holds is None else Truth.HOLDS if holds else Truth.FAILS


def _holds(when: When, taken: TakenValue) -> bool | None:
    match taken.value:
        case Option(value=chosen) if when.is_:
            return chosen in when.is_
        case Exact(value=amount) if when.comparisons:
            return when.holds_for(amount, amount)
        case Between(low=low, high=high) if when.comparisons:
            return when.holds_for(low, high)
        case Beyond(comparator="<", limit=limit) if when.comparisons:
            return when.holds_for(Decimal("-Infinity"), limit - _HAIR)
        case Beyond(limit=limit) if when.comparisons:
            return when.holds_for(limit + _HAIR, Decimal("Infinity"))
        case _:
            return None
