"""Copies of one record in a store: it counts once. Pure but for looking into the files of what may be copies."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from handsfree.record.chained_file import LARGEST_FILE
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.store import Summary
from handsfree.regular_files import read_within


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


def without_copies(root: Path, items: Iterable[Summary]) -> Copies:
    """Tell copies from records of their own.

    Args:
        root: Folder of the store.
        items: Its records, as they were listed.
    """
    kept: list[Summary] = []
    copies: list[tuple[str, str]] = []
    strangers: list[tuple[str, str]] = []
    listed = list(items)
    same: dict[str, list[Summary]] = {}
    for item in sorted(listed, key=lambda one: (-one.lines, one.name)):
        known = same.setdefault(item.record_id, []) if item.record_id else []
        original = next((one for one in known if _goes_on_from(root, one, item)), None)
        if original is not None:
            copies.append((item.name, original.name))
            continue
        strangers += [(one.name, item.name) for one in known[:1]]
        known.append(item)
        kept.append(item)
    names = {item.name for item in kept}
    return Copies(tuple(item for item in listed if item.name in names), tuple(sorted(copies)), tuple(strangers))


def _goes_on_from(root: Path, longer: Summary, shorter: Summary) -> bool:
    """Whether one record begins with all lines of the other: the hash of its last line is named by the next one."""
    if longer.head == shorter.head:
        return True
    try:
        return shorter.head.encode() in read_within(root / longer.name, RECORD_FILE, LARGEST_FILE)
    except OSError:
        return False
