"""Records of a store summed up by operator, room or lot, each record once, practice apart. Pure."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

from handsfree.record.store import Summary

NOT_STATED = "not stated"


class SumBy(StrEnum):
    """What records are summed up by."""

    OPERATOR = "operator"
    ROOM = "room"
    LOT = "lot"
    PROCEDURE = "procedure"


@dataclass(frozen=True, slots=True)
class Sum:
    """Records that have something in common.

    Attributes:
        name: What they have in common.
        visits: How many, practice left out.
        practice: How many are practice; nothing else of them is counted.
        red: Red findings that stand.
        overrides: What somebody answered for.
        early_ends: Runs of light that a stop, a cry or a break ended.
        over_target: Zones over their target.
        open_items: What was left open.
    """

    name: str
    visits: int
    practice: int
    red: int
    overrides: int
    early_ends: int
    over_target: int
    open_items: int


_NAMES: dict[SumBy, Callable[[Summary], tuple[str, ...]]] = {
    SumBy.OPERATOR: lambda item: (item.operator or NOT_STATED,),
    SumBy.ROOM: lambda item: (item.room or NOT_STATED,),
    SumBy.LOT: lambda item: item.lots or (NOT_STATED,),
    SumBy.PROCEDURE: lambda item: (item.procedure or NOT_STATED,),
}


def sums(items: Iterable[Summary], by: SumBy) -> tuple[Sum, ...]:
    """Records summed up, by name. A visit with two lots counts with either.

    Args:
        items: The records, each once.
        by: What they are summed up by.
    """
    groups: dict[str, list[Summary]] = {}
    for item in items:
        for name in _NAMES[by](item):
            groups.setdefault(name, []).append(item)
    return tuple(_sum(name, listed) for name, listed in sorted(groups.items()))


def _sum(name: str, listed: list[Summary]) -> Sum:
    live = [item for item in listed if not item.practice]
    return Sum(
        name,
        len(live),
        len(listed) - len(live),
        sum(item.red for item in live),
        sum(item.overrides for item in live),
        sum(item.early_ends for item in live),
        sum(item.over_target for item in live),
        sum(item.open_items for item in live),
    )


def counted(item: Summary | Sum) -> tuple[str, ...]:
    """What stands out of a record or a sum, in words."""
    counts = (
        (item.red, "red"),
        (item.overrides, "overridden"),
        (item.early_ends, "light ended early"),
        (item.over_target, "over target"),
        (item.open_items, "open"),
    )
    return tuple(f"{count} {name}" for count, name in counts if count)
