"""Reasons in words for whoever reads a record: the same words that a visit says."""

from functools import cache

from handsfree.model.open_items import OpenItem
from handsfree.model.reasons import AsWritten, Ground, Grounds
from handsfree.model.refusals import RefusalReason, StepFirst
from handsfree.session.prompts.wording import Wording


@cache
def _wording() -> Wording:
    return Wording()


def reason_words(reason: Ground | Grounds | RefusalReason | OpenItem) -> str:
    """Why something is flagged, held, refused or open.

    A refusal is a sentence; the others are parts of one. A step that had to be done first is named by its identifier in
    words, because a record does not hold its prompt.
    """
    if isinstance(reason, OpenItem):
        return _wording().open_item(reason)
    if isinstance(reason, StepFirst):
        return _wording().refusal(reason, reason.stage.replace("_", " ").replace("@", ", "))
    if isinstance(reason, RefusalReason) and not isinstance(reason, AsWritten):
        return _wording().refusal(reason)
    return _wording().reason(reason)
