"""Readings of an earlier visit that later ones are compared with."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from handsfree.model.fact_base import KeptValue
from handsfree.model.readings import Side


@dataclass(frozen=True, slots=True)
class Baseline:
    """What an earlier record says.

    Attributes:
        record_id: Of that record.
        day: Local date on which it was begun, ISO 8601.
        values: Its last confirmed values, by `place`.
        due: When it was put down that the next check is due, RFC 3339 UTC; "" where nothing was.
    """

    record_id: str
    day: str
    values: Mapping[str, KeptValue] = field(default_factory=dict)
    due: str = ""


def place(step: str, name: str, side: Side | str | None) -> str:
    """The name of a value: "step.field" or "step.field@left"."""
    return f"{step}.{name}" if side is None else f"{step}.{name}@{side}"
