"""The file form of one value that a step asks for: what is taken at all, and what of it is flagged."""

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Annotated, Literal, NamedTuple, Self

from pydantic import Discriminator, Field, Tag, model_validator

from handsfree.definition.computed_form import Computed
from handsfree.definition.date_limits import DayFromToday, is_before
from handsfree.definition.field_code import FieldCode
from handsfree.definition.form_base import Identifier, Phrase, Phrases, Spoken, Strict
from handsfree.definition.lift_form import LiftRule

FlagClass = Literal["amber", "red", "stop"]
"""What a flag does: amber is told, stop holds the visit until another answer or an override, red until an override."""
Positive = Annotated[Decimal, Field(gt=0, allow_inf_nan=False)]
"""A finite number above 0."""
_GRAVITY: tuple[FlagClass, ...] = ("amber", "stop", "red")
"""Classes from the mildest to the gravest, as `model.reasons.Severity` ranks them."""


def _one_or_each(value: object) -> str:
    return "each" if isinstance(value, dict) else "one"


Bounds = Annotated[
    Annotated[Decimal, Tag("one")] | Annotated[dict[FlagClass, Decimal], Tag("each")],
    Discriminator(_one_or_each),
]
"""One limit, of the field's `flag_class`, or several by their class: {amber: 40, red: 45}."""


class Limit(NamedTuple):
    """A number from which on a value has a class.

    Attributes:
        class_: The class.
        above: Whether values above it have that class; else those below it.
        bound: The number, in the field's unit; itself not flagged.
    """

    class_: FlagClass
    above: bool
    bound: Decimal

    def is_passed(self, low: Decimal, high: Decimal) -> bool:
        """Whether any value from `low` to `high` lies beyond it."""
        return high > self.bound if self.above else low < self.bound


DUE_UNITS = {"min": timedelta(minutes=1), "h": timedelta(hours=1)}
"""UCUM codes of the times after which something may be due."""


_OF_PRODUCTS = frozenset({"lot", "batch", "serial", "gtin", "udi", "product"})
"""Words of an id or a label that names a code of a product, where the file does not say what it is of."""


class Number(Strict):
    """A measured number.

    Attributes:
        unit: UCUM code of all numbers here: cm, s, min, deg, "{score}"; "1" for none. `verbalization.UNITS` lists those
            that can be said without `spoken`.
        spoken: What the unit is called aloud, said back so and understood so: newton metres. None: as in that list.
        low: Smallest value that can be; a smaller one is refused with the reason and asked for again at once.
        high: Largest value that can be, above `low`; a larger one is refused likewise.
        decimals: Most digits after the point that are taken, 0 … 3; a number with more is refused likewise.
        range_source: Key of the source of low and high, where it is another than that of the field.
        flag_above: Values above it are flagged, below `high`; None: none is. With several classes, each with its own
            limit, the gravest that a value is beyond counts: {amber: 40, red: 45}.
        flag_below: Values below it are flagged, above `low`; None: none is. Several classes likewise.
        flag_class: What the flag of a limit does that is given without a class; amber if left out.
        band: A band of the device profile that the value is held against (`profile_form.Band`).
        fractions: Whether "half" and "and a half" are taken.
        due: Whether it is the time from now until something is due, in min or h: it is said and recorded by the clock.
        measuring_error: Largest difference of two measurements of the same thing that says nothing, in the same unit:
            where values before and after are set beside each other, a larger one is marked, no other.
        error_source: Key of where that is from; needed with it.
    """

    unit: str
    spoken: Phrase | None = None
    low: Decimal
    high: Decimal
    decimals: Annotated[int, Field(ge=0, le=3)] = 0
    range_source: str | None = None
    flag_above: Bounds | None = None
    flag_below: Bounds | None = None
    flag_class: FlagClass = "amber"
    band: Identifier | None = None
    fractions: bool = False
    due: bool = False
    measuring_error: Positive | None = None
    error_source: str | None = None

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if (self.measuring_error is None) != (self.error_source is None):
            raise ValueError("measuring_error and error_source go together")
        if self.low >= self.high:
            raise ValueError(f"low {self.low} must be below high {self.high}")
        if self.due and self.unit not in DUE_UNITS:
            raise ValueError(f"due needs a unit of time: {', '.join(DUE_UNITS)}")
        return self

    @model_validator(mode="after")
    def _graver_farther_out(self) -> Self:
        if "flag_class" in self.model_fields_set and isinstance(self.flag_above or self.flag_below, dict):
            raise ValueError("flag_class is for a limit without a class; leave it out beside {amber: …, red: …}")
        for key, above in (("flag_above", True), ("flag_below", False)):
            if getattr(self, key) == {}:
                raise ValueError(f"{key} names no class: {{amber: …, red: …}}, or one number")
            for mild, grave in pairwise(one for one in self.limits if one.above is above):
                if not grave.is_passed(mild.bound, mild.bound) and grave.bound != mild.bound:
                    continue
                side = "above" if above else "below"
                raise ValueError(
                    f"{key}: {mild.class_} {side} {mild.bound} never counts, because {grave.class_} begins at "
                    f"{grave.bound} (the graver class lies farther out)"
                )
        return self

    @property
    def limits(self) -> tuple[Limit, ...]:
        """All limits, those above first, on each side from the mildest class to the gravest."""
        return (*self._limits(self.flag_above, above=True), *self._limits(self.flag_below, above=False))

    def _limits(self, bounds: Decimal | dict[FlagClass, Decimal] | None, *, above: bool) -> Iterator[Limit]:
        if bounds is None:
            return
        each = bounds if isinstance(bounds, dict) else {self.flag_class: bounds}
        yield from (Limit(class_, above, each[class_]) for class_ in _GRAVITY if class_ in each)

    @property
    def holds(self) -> bool:
        """Whether any limit holds the visit."""
        return any(limit.class_ != "amber" for limit in self.limits)


class IdentifierField(Strict):
    """A spelled code.

    Attributes:
        max_length: Most characters, 1 … 20, as GS1 lot and serial numbers have.
        of: What the code names: lot, serial or product are held against a recall list, other (a person, a patient, an
            instrument) is not. None: by id and label, as a scanned label is read: those with lot, batch, serial, gtin,
            udi or product in them name one.
    """

    max_length: Annotated[int, Field(ge=1, le=20)] = 20
    of: Literal["lot", "serial", "product", "other"] | None = None


class DateField(Strict):
    """A date, the month said by name.

    Attributes:
        month_only: Whether month and year are enough; they mean the last day of the month, as on a package.
        earliest: First day that can be, by the day of the visit: "today", "today - 2 years", "today + 30 days" (day,
            month, year). An earlier one is refused with the reason and asked for again at once. None: any can be.
        latest: Last day that can be, likewise; not before `earliest`.
        range_source: Key of the source of earliest and latest, where it is another than that of the field.
        not_before: "today": an earlier date can be and is a hard stop (an expiry, what is due); None: none is.
    """

    month_only: bool = False
    earliest: DayFromToday | None = None
    latest: DayFromToday | None = None
    range_source: str | None = None
    not_before: Literal["today"] | None = None

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.earliest is not None and self.latest is not None and is_before(self.latest, self.earliest):
            raise ValueError(f"earliest {self.earliest} must not lie after latest {self.latest}")
        if self.not_before is not None and self.latest is not None and is_before(self.latest, self.not_before):
            raise ValueError(f"latest {self.latest} lies before not_before {self.not_before}, so every date would stop")
        if self.not_before is not None and self.earliest is not None and not is_before(self.earliest, self.not_before):
            raise ValueError(f"no date that can be, from {self.earliest}, lies before not_before {self.not_before}")
        return self


class Compare(Strict):
    """Comparison with the same field, same side, of an earlier step or of an earlier record.

    Attributes:
        with_: The earlier step of this visit, written `with`: warmth_before.
        earlier: In its place: steps of the earlier record that the visit is begun with; the first that has a value
            counts. Without such a record nothing is compared.
        worse: What it does that an option stands further down the field's `scale` than before.
        rise: Smallest rise of a number that is flagged, in the field's unit, above 0.
        class_: What such a rise does, written `class`.
    """

    with_: Annotated[Identifier | None, Field(alias="with")] = None
    earlier: tuple[Identifier, ...] = ()
    worse: FlagClass | None = None
    rise: Positive | None = None
    class_: Annotated[FlagClass | None, Field(alias="class")] = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if (self.with_ is None) != bool(self.earlier):
            raise ValueError("needs with (a step of this visit) or earlier (steps of an earlier record), not both")
        if (self.rise is None) != (self.class_ is None):
            raise ValueError("rise and class go together")
        if self.worse is None and self.rise is None:
            raise ValueError("needs worse (options) or rise and class (numbers)")
        return self


class Sides(Strict):
    """Comparison of the injured side with the other one, once both are answered.

    Attributes:
        worse: What it does that the injured side stands further down the field's `scale` than the other.
        differ: Smallest difference of two numbers that is flagged, in the field's unit, above 0.
        class_: What such a difference does, written `class`.
        alike: What to look at where both sides are flagged by their own limits: "check room temperature"; it is told
            with the flag and makes no value less grave.
    """

    worse: FlagClass | None = None
    differ: Positive | None = None
    class_: Annotated[FlagClass | None, Field(alias="class")] = None
    alike: Phrase | None = None

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if (self.differ is None) != (self.class_ is None):
            raise ValueError("differ and class go together")
        if self.worse is None and self.differ is None and self.alike is None:
            raise ValueError("needs worse (options), differ and class (numbers), or alike")
        return self


class Again(Strict):
    """A flagged value is taken once more before it is left at that.

    Attributes:
        say: What is to be done before, and that it is to be repeated: "Warm the hand, repeat refill."
        class_: What it does that the value is amber the second time too, written `class`.
    """

    say: Spoken
    class_: Annotated[FlagClass, Field(alias="class")]


class StepField(Strict):
    """One value that a step asks for: exactly one of options, number, identifier, date.

    Attributes:
        id: Identifier, unique in the step; the record names a reading by step and field.
        label: Words that may (one field) or must (several) come before the value: "wrist".
        also: Other names of it that are understood: [capillary refill].
        options: Values and the phrases that mean them: {pale: [pale, white]}.
        number: A number with its unit and limits.
        identifier: A spelled code.
        date: A date.
        stop: Options that hold the visit until another answer or an override.
        amber: Options that are flagged and told, and hold nothing.
        red: Options that hold the visit until an override; another answer does not lift it.
        no_heat_report: Options after which the patient cannot be relied on to report heat: the questions about warmth
            go to the clinician's touch, and come more often.
        scale: Options from best to worst, for `compare` and `sides`.
        compare: Comparison with an earlier step or an earlier record.
        sides: Comparison of both sides, for a step that is done for each.
        again: What follows an amber value, not on the other side: something is done, and it is taken once more.
        told: What is said of an option that is flagged, where label and phrase make no sentence: {missing: patient has
            no eyewear}.
        lift: Who may lift a hold of this field by an override, or never; None: as the step says.
        source: Key of the source of this field's limits, where it is another than that of the step.
        code: What it is called in a published system, for whoever takes the record over; None: nothing is guessed.
        computed: How the number is computed from earlier answers, for kind compute; nobody is asked for it.
    """

    id: Identifier
    label: Phrase
    also: tuple[Phrase, ...] = ()
    options: dict[Identifier, Phrases] | None = None
    number: Number | None = None
    identifier: IdentifierField | None = None
    date: DateField | None = None
    stop: tuple[Identifier, ...] = ()
    amber: tuple[Identifier, ...] = ()
    red: tuple[Identifier, ...] = ()
    no_heat_report: tuple[Identifier, ...] = ()
    scale: tuple[Identifier, ...] = ()
    compare: Compare | None = None
    sides: Sides | None = None
    again: Again | None = None
    told: dict[Identifier, Spoken] = Field(default_factory=dict)
    lift: LiftRule | None = None
    source: str | None = None
    code: FieldCode | None = None
    computed: Computed | None = None

    @property
    def names_product(self) -> bool:
        """Whether it is the code of a lot, a serial number or a product, which may be recalled."""
        if self.identifier is None:
            return False
        if self.identifier.of is not None:
            return self.identifier.of != "other"
        return not _OF_PRODUCTS.isdisjoint([*self.id.split("_"), *self.label.lower().split()])

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = [self.options, self.number, self.identifier, self.date]
        if sum(kind is not None for kind in kinds) != 1:
            raise ValueError("needs exactly one of options, number, identifier, date")
        classed = (*self.stop, *self.amber, *self.red, *self.scale)
        unknown = sorted({*classed, *self.no_heat_report, *self.told} - set(self.options or ()))
        if unknown:
            raise ValueError(
                f"stop, amber, red, scale, no_heat_report or told name no option of this field: {', '.join(unknown)} "
                f"(there are: {', '.join(self.options or ()) or 'none'})"
            )
        twice = {value for value in classed if sum(value in group for group in (self.stop, self.amber, self.red)) > 1}
        if twice:
            raise ValueError(f"an option has one class, these have several: {', '.join(sorted(twice))}")
        if self.compare is not None and self.compare.worse is not None and len(self.scale) < 2:
            raise ValueError("compare.worse needs a scale of two options or more, best first")
        if self.compare is not None and self.compare.rise is not None and self.number is None:
            raise ValueError("compare.rise needs a number")
        if self.sides is not None and self.sides.worse is not None and len(self.scale) < 2:
            raise ValueError("sides.worse needs a scale of two options or more, best first")
        if self.sides is not None and self.sides.differ is not None and self.number is None:
            raise ValueError("sides.differ needs a number")
        if self.computed is not None:
            asked = [key for key in ("again", "compare", "sides", "also") if getattr(self, key)]
            asked += [
                key for key in ("band", "fractions", "due") if self.number is not None and getattr(self.number, key)
            ]
            if self.number is None or asked:
                raise ValueError(f"computed needs number{', and takes no ' + ', '.join(asked) if asked else ''}")
        if self.again is not None and self.options is None and self.number is None:
            raise ValueError("again needs options or a number")
        return self
