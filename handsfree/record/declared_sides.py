"""Stages by their real side, for readers: earlier builds named some by the role of the side. Pure."""

import dataclasses
from dataclasses import replace
from typing import Any, TypeVar

from handsfree.model.facts import SideDeclared
from handsfree.model.readings import Side
from handsfree.record.contents import Record

SIDE_ROLES = frozenset({"injured", "other"})
"""How a side was named in the name of a stage."""
_Stated = TypeVar("_Stated")


def with_declared_sides(record: Record) -> Record:
    """The same record with left or right in place of "injured" and "other" in the names of stages.

    Of a fact the side counts that was declared last before it. One that was stated before any was declared keeps its
    role, because nobody had said which side that is. For readers only: replay and signatures need what was written.
    """
    side: Side | None = None
    facts = []
    for one in record.facts:
        if isinstance(one.fact, SideDeclared):
            side = one.fact.side
        facts.append(one if side is None else replace(one, fact=_sided(one.fact, side)))
    return replace(record, facts=tuple(facts))


def _sided(stated: _Stated, side: Side) -> _Stated:
    """A fact, or a part of one, with its stages by that side; the very same one where none is named by its role."""
    if isinstance(stated, tuple):
        parts = tuple(_sided(part, side) for part in stated)
        same = all(part is was for part, was in zip(parts, stated, strict=True))
        return stated if same else parts  # type: ignore[return-value]  # a tuple for a tuple
    if not dataclasses.is_dataclass(stated) or isinstance(stated, type):
        return stated
    changed: dict[str, Any] = {}
    for item in dataclasses.fields(stated):
        was = getattr(stated, item.name)
        now = _stage(was, side) if item.name == "stage" else _sided(was, side)
        if now is not was:
            changed[item.name] = now
    return replace(stated, **changed) if changed else stated


def _stage(stage: str, injured: Side) -> str:
    step, _, role = stage.partition("@")
    match role:
        case "injured":
            return f"{step}@{injured}"
        case "other":
            return f"{step}@{Side.LEFT if injured is Side.RIGHT else Side.RIGHT}"
        case _:
            return stage
