"""Whether the earlier record that a visit is compared with is of the same patient and side. Pure.

While a difference stands unanswered, and where somebody left the earlier record out, nothing is compared with it.
"""

from collections.abc import Iterator

from handsfree.model.baseline import Baseline, Difference, differences
from handsfree.session.state import Done, Hold, SessionState, answered_first
from handsfree.session.visit import Visit


def _of_visit(visit: Visit, state: SessionState) -> Iterator[Difference]:
    # In practice nobody is asked whose visit it is: what it is compared with may be of anybody.
    left_out = any(
        stage.names_patient and (state.practice or state.done.get(stage.id) is Done.SKIPPED)
        for stage in visit.plan.stages
    )
    return differences(visit.baseline, state.patient_reference, state.side, left_out=left_out)


def unanswered(visit: Visit, state: SessionState) -> Iterator[Difference]:
    """The differences of which nobody has said whether the earlier record is meant."""
    yield from (one for one in _of_visit(visit, state) if one not in state.baseline_answers)


def compared_with(visit: Visit, state: SessionState) -> Baseline | None:
    """What values are compared with; None where there is nothing, or it is of another and not said to be meant."""
    meant = all(state.baseline_answers.get(one, False) for one in _of_visit(visit, state))
    return visit.baseline if meant else None


def asked_about(state: SessionState) -> Hold | None:
    """The hold whose question about the earlier record is put now; what is answered for before it comes first."""
    hold = answered_first(state.holds) if state.holds else None
    return hold if hold is not None and isinstance(hold.grounds.ground, Difference) else None
