"""Reasons in words for whoever reads a record: the same words that a visit says."""

from functools import cache

from handsfree.model.open_items import OpenItem
from handsfree.model.reasons import AsWritten, Ground, Grounds
from handsfree.model.refusals import RefusalReason, StepFirst
from handsfree.model.step_names import NO_NAMES, StepNames
from handsfree.session.prompts.wording import Wording


@cache
def _wording() -> Wording:
    return Wording()


def reason_words(reason: Ground | Grounds | RefusalReason | OpenItem, names: StepNames = NO_NAMES) -> str:
    """Why something is flagged, held, refused or open.

    A refusal is a sentence; the others are parts of one.

    Args:
        reason: Why.
        names: What the procedure calls its steps; a record holds their identifiers.
    """
    if isinstance(reason, OpenItem):
        return Wording(names=names).open_item(reason)
    if isinstance(reason, StepFirst):
        return _wording().refusal(reason, names.stage(reason.stage))
    if isinstance(reason, RefusalReason) and not isinstance(reason, AsWritten):
        return _wording().refusal(reason)
    return _wording().reason(reason)
