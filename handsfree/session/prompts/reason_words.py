"""Reasons in words, for who reads a record: pages, notes, tables, scores."""

from functools import cache

from handsfree.model.open_items import OpenItem
from handsfree.model.reasons import Ground, Grounds
from handsfree.model.refusals import RefusalReason
from handsfree.session.prompts.wording import Wording


@cache
def _wording() -> Wording:
    return Wording()


def reason_words(reason: Ground | Grounds | RefusalReason | OpenItem) -> str:
    """A reason as it is spoken: part of a sentence, without a capital or a full stop; of a refusal a whole one."""
    if isinstance(reason, OpenItem):
        return _wording().open_item(reason)
    if isinstance(reason, Ground | Grounds):
        return _wording().reason(reason)
    return _wording().refusal(reason)
