"""What is wrong with a record, in as many words as fit. Pure."""

from collections.abc import Sequence

from handsfree.record.chain_checking import RecordFault
from handsfree.record.display_text import one_line
from handsfree.record.verify import Verification

_IN_A_LINE = 3
"""Chosen here, no source."""


def told_faults(faults: Sequence[RecordFault], most: int = _IN_A_LINE) -> tuple[str, ...]:
    """The first faults, and how many more there are.

    Args:
        faults: All of them.
        most: How many are told.
    """
    told = tuple(one_line(str(fault)) for fault in faults[:most])
    more = len(faults) - len(told)
    return (*told, f"and {more} more; `handsfree verify --all` lists every one") if more > 0 else told


def why_nothing_is_shown(found: Verification) -> str:
    """Why a record whose lines are broken is not shown at all: what of it is true cannot be told."""
    return f"{'; '.join(told_faults(found.faults))} (an unaltered copy would be right; nothing of this one is shown)"
