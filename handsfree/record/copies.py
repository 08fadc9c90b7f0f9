"""Copies of one record in one place: it counts once. Pure."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from handsfree.record.store import Summary


@dataclass(frozen=True, slots=True)
class Copies:
    """The records of a store, each once.

    Attributes:
        once: Of each record the folder that goes furthest.
        copies: The others, each with the folder that counts: the same lines, or the first of them.
        strangers: Pairs of folders that call themselves the same record and say different things; both count.
    """

    once: tuple[Summary, ...]
    copies: tuple[tuple[str, str], ...]
    strangers: tuple[tuple[str, str], ...]


def without_copies(items: Iterable[Summary], goes_on_from: Callable[[Summary, Summary], bool]) -> Copies:
    """Tell copies from records of their own.

    Args:
        items: Records of one place, as they were listed.
        goes_on_from: Whether one of two records begins with all lines of the other.
    """
    kept: list[Summary] = []
    copies: list[tuple[str, str]] = []
    strangers: list[tuple[str, str]] = []
    listed = list(items)
    same: dict[str, list[Summary]] = {}
    for item in sorted(listed, key=lambda one: (-one.lines, one.name)):
        known = same.setdefault(item.record_id, []) if item.record_id else []
        original = next((one for one in known if goes_on_from(one, item)), None)
        if original is not None:
            copies.append((item.name, original.name))
            continue
        strangers += [(one.name, item.name) for one in known[:1]]
        known.append(item)
        kept.append(item)
    names = {item.name for item in kept}
    return Copies(tuple(item for item in listed if item.name in names), tuple(sorted(copies)), tuple(strangers))
