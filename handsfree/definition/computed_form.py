"""The file form of a computed value, and its arithmetic: declared, never an expression that is run.

Nothing is converted: all values of a sum, a mean or a difference have one unit. A difference of temperatures in Cel is
no temperature but an interval, and has the unit K; temperatures are not summed (UCUM, special units on non-ratio
scales, section 21 and following; from memory).
"""

from collections.abc import Sequence
from datetime import timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from handsfree.definition.condition_form import FieldName
from handsfree.definition.form_base import Identifier, Strict
from handsfree.model.readings import Exact, SpokenValue

How = Literal["sum", "mean", "difference", "elapsed"]
ELAPSED_UNITS = {"s": timedelta(seconds=1), "min": timedelta(minutes=1), "h": timedelta(hours=1)}
"""UCUM codes of the units in which time between two steps may be told."""
INTERVAL_UNITS = {"Cel": "K", "[degF]": "[degF]"}
"""UCUM codes of temperatures, and of what their difference is in."""


class Computed(Strict):
    """How a value is computed from earlier answers: exactly one of its keys.

    Attributes:
        sum: Fields whose numbers are added, each "step.field"; of a step that is repeated, all its numbers.
        mean: Fields whose mean it is, likewise.
        difference: Two fields: the first less the second.
        elapsed: Two steps: the time from when the first was done until the second was.
    """

    sum: tuple[FieldName, ...] = ()
    mean: tuple[FieldName, ...] = ()
    difference: Annotated[tuple[FieldName, ...], Field(max_length=2)] = ()
    elapsed: Annotated[tuple[Identifier, ...], Field(max_length=2)] = ()

    @model_validator(mode="after")
    def _one(self) -> Self:
        given = [key for key in ("sum", "mean", "difference", "elapsed") if getattr(self, key)]
        if len(given) != 1:
            raise ValueError("needs exactly one of sum, mean, difference (fields), elapsed (steps)")
        if given[0] in {"difference", "elapsed"} and len(getattr(self, given[0])) != 2:
            raise ValueError(f"{given[0]} needs two, from which one value follows")
        return self

    @property
    def how(self) -> How:
        """Which of them it is."""
        if self.sum:
            return "sum"
        if self.mean:
            return "mean"
        return "difference" if self.difference else "elapsed"

    @property
    def inputs(self) -> tuple[str, ...]:
        """What it is computed from: fields as "step.field"; of time, steps."""
        return self.sum or self.mean or self.difference or self.elapsed

    @property
    def steps(self) -> tuple[str, ...]:
        """The steps that must be done before it can be computed."""
        return tuple(dict.fromkeys(name.partition(".")[0] for name in self.inputs))


def result_of(how: How, values: Sequence[SpokenValue], decimals: int, unit: str) -> Exact | None:
    """The computed value, rounded half up to the digits of its field.

    Args:
        how: What is computed.
        values: What it is computed from, in order; of elapsed time, two moments in seconds.
        decimals: Digits after the point, 0 … 3.
        unit: UCUM code of the result; of time one of `ELAPSED_UNITS`.

    Returns:
        None where a value is missing or no single number: nothing is guessed.
    """
    amounts = [value.value for value in values if isinstance(value, Exact)]
    if not amounts or len(amounts) != len(values) or (how in {"difference", "elapsed"} and len(amounts) != 2):
        return None
    match how:
        case "sum":
            amount = sum(amounts, Decimal(0))
        case "mean":
            amount = sum(amounts, Decimal(0)) / len(amounts)
        case "difference":
            amount = amounts[0] - amounts[1]
        case "elapsed":
            amount = (amounts[1] - amounts[0]) / Decimal(str(ELAPSED_UNITS[unit].total_seconds()))
    return Exact(amount.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP) + 0, decimals)
