"""Readings of an earlier visit that later ones are compared with."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from handsfree.model.fact_base import KeptValue
from handsfree.model.patient_reference import bare_code
from handsfree.model.readings import Side
from handsfree.model.reasons import BaselineOfAnotherPatient, BaselineOfAnotherSide


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


Difference = BaselineOfAnotherPatient | BaselineOfAnotherSide
"""How an earlier record differs from the visit that is compared with it."""


def differences(
    earlier: Baseline | None, here: str, side: Side | None, *, left_out: bool = False
) -> Iterator[Difference]:
    """How an earlier record differs, or may, as far as both say whose and which side they are.

    Args:
        earlier: The earlier record, or None.
        here: Whose visit this one is; "" where unknown.
        side: Its injured side; None where unknown.
        left_out: Whether nobody says whose visit this one is, asked or, in practice, not asked: the record may be of
            anybody.
    """
    if earlier is None:
        return
    there = earlier.patient_reference
    if there and ((here and bare_code(there) != bare_code(here)) or (left_out and not here)):
        yield BaselineOfAnotherPatient(there, here)
    if earlier.side is not None and side is not None and earlier.side is not side:
        yield BaselineOfAnotherSide(*(("left", "right") if earlier.side is Side.LEFT else ("right", "left")))


def place(step: str, name: str, side: Side | str | None) -> str:
    """The name of a value: "step.field" or "step.field@left"."""
    return f"{step}.{name}" if side is None else f"{step}.{name}@{side}"
