"""Readings of an earlier visit that later ones are compared with."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from handsfree.model.fact_base import KeptValue
from handsfree.model.readings import Side


class BaselineAnswer(StrEnum):
    """What is answered where the earlier record is of another patient or side; in the record, why a hold was lifted."""

    MEANT = "meant"
    LEFT_OUT = "left_out"


MEANT_FROM_THE_START = "meant_from_the_start"
"""Why a hold was lifted at once: whoever began the visit had said that an earlier record of another is meant."""


@dataclass(frozen=True, slots=True)
class Baseline:
    """What an earlier record says.

    Attributes:
        record_id: Of that record.
        day: Local date on which it was begun, ISO 8601.
        values: Its last confirmed values, by `place`.
        due: When it was put down that the next check is due, RFC 3339 UTC; "" where nothing was.
        patient_reference: Whose record it is; "" where it does not say.
        side: Which side is injured; None where it does not say.
        meant: Whether it was said at the start that it is meant, though it be of another patient or side.
    """

    record_id: str
    day: str
    values: Mapping[str, KeptValue] = field(default_factory=dict)
    due: str = ""
    patient_reference: str = ""
    side: Side | None = None
    meant: bool = False


def place(step: str, name: str, side: Side | str | None) -> str:
    """The name of a value: "step.field" or "step.field@left"."""
    return f"{step}.{name}" if side is None else f"{step}.{name}@{side}"
