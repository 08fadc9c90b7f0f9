"""Whether the earlier record that a visit is compared with is of the same patient and side. Pure.

While a difference stands unanswered, and where somebody left the earlier record out, nothing is compared with it.
"""

from collections.abc import Iterator

from handsfree.model.baseline import Baseline
from handsfree.model.patient_reference import bare_code
from handsfree.model.readings import Side
from handsfree.model.reasons import BaselineOfAnotherPatient, BaselineOfAnotherSide
from handsfree.session.state import Hold, SessionState
from handsfree.session.visit import Visit

Difference = BaselineOfAnotherPatient | BaselineOfAnotherSide
"""How an earlier record differs from the visit."""


def differences(earlier: Baseline | None, here: str, side: Side | None) -> Iterator[Difference]:
    """How an earlier record differs, as far as both say whose and which side they are.

    Args:
        earlier: The earlier record, or None.
        here: Whose visit this one is; "" where unknown.
        side: Its injured side; None where unknown.
    """
    if earlier is None:
        return
    there = earlier.patient_reference
    if there and here and bare_code(there) != bare_code(here):
        yield BaselineOfAnotherPatient(there, here)
    if earlier.side is not None and side is not None and earlier.side is not side:
        yield BaselineOfAnotherSide(*(("left", "right") if earlier.side is Side.LEFT else ("right", "left")))


def _of_visit(visit: Visit, state: SessionState) -> Iterator[Difference]:
    return differences(visit.baseline, state.patient_reference, state.side)


def unanswered(visit: Visit, state: SessionState) -> Iterator[Difference]:
    """The differences of which nobody has said whether the earlier record is meant."""
    yield from (one for one in _of_visit(visit, state) if one not in state.baseline_answers)


def compared_with(visit: Visit, state: SessionState) -> Baseline | None:
    """What values are compared with; None where there is nothing, or it is of another and not said to be meant."""
    meant = all(state.baseline_answers.get(one, False) for one in _of_visit(visit, state))
    return visit.baseline if meant else None


def asked_about(state: SessionState) -> Hold | None:
    """The hold whose question about the earlier record is put now; red ones come before it."""
    if state.red:
        return None
    return next((hold for hold in state.holds if isinstance(hold.grounds.ground, Difference)), None)
