"""The file form of a condition: on an answer, on a number against a limit with its unit, on several of these."""

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Annotated, Self

from pydantic import Field, model_validator

from handsfree.definition.form_base import Identifier, Strict

COMPARISONS = ("above", "at_least", "below", "at_most")
"""Keys that compare a number."""
_WORDS = {"above": "over", "at_least": "at least", "below": "under", "at_most": "at most"}
FieldName = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*$")]
"""A field of a step, "step.field": "place.place"."""


class When(Strict):
    """A condition: the step is left out unless it holds.

    It has one of four forms: `step` with `is`; `step` with one or two comparisons and `unit`; `all`; `any`. What was
    asked and has no value (skipped, "not done", a range across the limit) leaves it undecided: then the step is asked.

    Attributes:
        step: "step.field" of an earlier step that is done once: "place.place".
        is_: Options of that field for which this step is done, written `is`.
        above: The number is above this.
        at_least: The number is this or more.
        below: The number is below this.
        at_most: The number is this or less.
        unit: UCUM code of what the number is compared with; the unit of the field.
        all_: Conditions that must all hold, two or more, written `all`.
        any_: Conditions of which one must hold, two or more, written `any`.
    """

    step: FieldName | None = None
    is_: Annotated[tuple[Identifier, ...], Field(alias="is")] = ()
    above: Decimal | None = None
    at_least: Decimal | None = None
    below: Decimal | None = None
    at_most: Decimal | None = None
    unit: str | None = None
    all_: Annotated[tuple["When", ...], Field(alias="all")] = ()
    any_: Annotated[tuple["When", ...], Field(alias="any")] = ()

    @property
    def comparisons(self) -> dict[str, Decimal]:
        """What the number is compared with, by the key."""
        found = {key: getattr(self, key) for key in COMPARISONS}
        return {key: bound for key, bound in found.items() if bound is not None}

    @property
    def parts(self) -> tuple["When", ...]:
        """The conditions that it is made of; none where it is one by itself."""
        return self.all_ or self.any_

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        alone = self.step is not None and (bool(self.is_) != bool(self.comparisons)) and not self.parts
        several = self.step is None and not self.is_ and not self.comparisons and bool(self.all_) != bool(self.any_)
        if not alone and not several:
            raise ValueError(
                "is one of: {step: …, is: [option]}, {step: …, above: 40, unit: Cel} (or at_least, below, at_most), "
                "{all: [conditions]}, {any: [conditions]}"
            )
        if several and len(self.parts) < 2:
            raise ValueError(f"{'all' if self.all_ else 'any'} needs two conditions or more")
        if bool(self.comparisons) != (self.unit is not None):
            raise ValueError('a comparison needs its unit, and only a comparison has one (unit: Cel; "1" for none)')
        low = max((bound for key, bound in self.comparisons.items() if key in {"above", "at_least"}), default=None)
        high = min((bound for key, bound in self.comparisons.items() if key in {"below", "at_most"}), default=None)
        if len(self.comparisons) > 2 or (len(self.comparisons) == 2 and (low is None or high is None)):
            raise ValueError("takes one comparison, or one from below and one from above")
        if low is not None and high is not None and low >= high:
            raise ValueError(f"no number is over {low} and under {high}")
        return self

    def alone(self) -> Iterator["When"]:
        """Every condition on one field that it is made of; itself where it is one."""
        if not self.parts:
            yield self
        for part in self.parts:
            yield from part.alone()

    def holds_for(self, low: Decimal, high: Decimal) -> bool | None:
        """Whether a number compares so.

        Args:
            low: Smallest that it may be.
            high: Largest that it may be; the same for one number.

        Returns:
            None where some of what it may be does, and some does not.
        """
        ends = [all(_compares(key, amount, bound) for key, bound in self.comparisons.items()) for amount in (low, high)]
        if ends[0] != ends[1]:
            return None
        between = any(low < bound < high for bound in self.comparisons.values())
        return None if between and not ends[0] else ends[0]

    def words(self, said: Mapping[str, Mapping[str, str]]) -> str:
        """The condition in words, for paper.

        Args:
            said: What people say for the options of each list, by "step.field".
        """
        if self.parts:
            joint = " and " if self.all_ else " or "
            each = [(part.words(said), bool(part.parts)) for part in self.parts]
            return joint.join(f"({words})" if bracketed else words for words, bracketed in each)
        name = reference_words(self.step or "")
        if self.is_:
            return f"{name}: {' or '.join(said[self.step or ''][option] for option in self.is_)}"
        unit = "" if self.unit in {"1", "{score}"} else f" {self.unit}"
        return f"{name} " + " and ".join(f"{_WORDS[key]} {bound}{unit}" for key, bound in self.comparisons.items())


def reference_words(reference: str) -> str:
    """What "step.field", or a step alone, is called on paper: the step, and the field where that says more."""
    step, _, field = reference.partition(".")
    return (step if field in step or step in field else f"{step} {field}").replace("_", " ")


def _compares(key: str, amount: Decimal, bound: Decimal) -> bool:
    match key:
        case "above":
            return amount > bound
        case "at_least":
            return amount >= bound
        case "below":
            return amount < bound
        case _:
            return amount <= bound
