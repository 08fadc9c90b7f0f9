"""The file form of procedures: strict, frozen, every limit with its source.

A procedure file says what is asked, in which order, what stops it and why. The product's own instructions win over it.
Profiles of devices and lights: see `handsfree.definition.profile_form`.
"""

from datetime import timedelta
from decimal import Decimal
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from handsfree.model.readings import Timing

Identifier = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
FileId = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$", max_length=60)]
Version = Annotated[str, Field(pattern=r"^\d+\.\d+\.\d+$")]
Phrase = Annotated[str, Field(pattern=r"^[a-z][a-z' -]*$")]
Phrases = Annotated[tuple[Phrase, ...], Field(min_length=1)]
Spoken = Annotated[str, Field(min_length=1, max_length=160)]
SentenceCode = Annotated[str, Field(pattern=r"^[a-z_]+\.[a-z_]+$")]
"""A sentence of the tool itself, as the catalogue of `handsfree.session.prompts` names it: "fixed.waiting"."""
FlagClass = Literal["amber", "red", "stop"]
Positive = Annotated[Decimal, Field(gt=0, allow_inf_nan=False)]
STOP_WORDS = frozenset({"stop", "hot", "pain", "painful", "hurts"})
"""Words that act at once whoever says them; no phrase of a file may hold one."""
DUE_UNITS = {"min": timedelta(minutes=1), "h": timedelta(hours=1)}
"""UCUM codes of the times after which something may be due."""
STOP_PHRASES = frozenset({"light off"})
"""Longer commands that act at once."""


class Strict(BaseModel):
    """Refuses unknown keys and silent conversions; frozen."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, populate_by_name=True)


class Number(Strict):
    """A measured number.

    Attributes:
        unit: UCUM code.
        low: Smallest plausible value.
        high: Largest plausible value.
        decimals: Digits after the point that are taken.
        flag_above: Values above it are flagged.
        flag_below: Values below it are flagged.
        flag_class: How.
        band: Name of a band in the device profile that the value is held against.
        fractions: Whether "half" and "and a half" are taken.
        due: Whether it is the time from now until something is due; minutes or hours.
    """

    unit: str
    low: Decimal
    high: Decimal
    decimals: Annotated[int, Field(ge=0, le=3)] = 0
    flag_above: Decimal | None = None
    flag_below: Decimal | None = None
    flag_class: FlagClass = "amber"
    band: Identifier | None = None
    fractions: bool = False
    due: bool = False

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.low >= self.high:
            raise ValueError(f"low {self.low} must be below high {self.high}")
        if self.due and self.unit not in DUE_UNITS:
            raise ValueError(f"due needs a unit of time: {', '.join(DUE_UNITS)}")
        return self


class IdentifierField(Strict):
    """A spelled code.

    Attributes:
        max_length: Longest code; GS1 lot and serial numbers have at most 20 characters.
    """

    max_length: Annotated[int, Field(ge=1, le=20)] = 20


class DateField(Strict):
    """A date.

    Attributes:
        month_only: Month and year are enough and mean the last day of the month.
        not_before: "today": an earlier date is a hard stop (an expiry, an appointment).
    """

    month_only: bool = False
    not_before: Literal["today"] | None = None


class Compare(Strict):
    """Comparison with the same field, same side, of an earlier step or of an earlier record.

    Attributes:
        with_: The earlier step.
        earlier: In its place: steps of the earlier record that the visit is begun with, the first that has a value
            counts. Without such a record nothing is compared.
        worse: Class of a step down the scale.
        rise: Smallest rise of a number that is flagged.
        class_: Class of such a rise.
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
        worse: Class where the injured side stands further down the scale.
        differ: Smallest difference of two numbers that is flagged.
        class_: Class of such a difference.
        alike: What to look at where both sides are flagged by their own limits, for example the warmth of the room; it
            is told with the flag and makes no value less grave.
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
        say: What is to be done before, and that it is to be repeated.
        class_: Class where it is flagged the second time too.
    """

    say: Spoken
    class_: Annotated[FlagClass, Field(alias="class")]


class StepField(Strict):
    """One value that a step asks for: exactly one of options, number, identifier, date.

    Attributes:
        id: Identifier, unique in the step.
        label: Words that may (one field) or must (several) come before the value.
        options: Values and the phrases that mean them; the first phrase is the one read back.
        stop: Options that are a hard stop.
        amber: Options that are flagged.
        red: Options that set the red latch.
        no_heat_report: Options after which the patient cannot be relied on to report heat: the questions about warmth
            go to the clinician's touch, and come more often.
        scale: Options from best to worst, for comparison.
        compare: Comparison with an earlier step or record.
        sides: Comparison of both sides, for a step that is done for each.
        again: What follows an amber value, not on the other side: something is done, and it is taken once more.
        source: Source of this field's limits, where it is another than that of the step.
    """

    id: Identifier
    label: Phrase
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
    source: str | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = [self.options, self.number, self.identifier, self.date]
        if sum(kind is not None for kind in kinds) != 1:
            raise ValueError("needs exactly one of options, number, identifier, date")
        classed = (*self.stop, *self.amber, *self.red, *self.scale)
        unknown = sorted({*classed, *self.no_heat_report} - set(self.options or ()))
        if unknown:
            raise ValueError(
                f"stop, amber, red, scale or no_heat_report name no option of this field: {', '.join(unknown)}"
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
        if self.again is not None and self.options is None and self.number is None:
            raise ValueError("again needs options or a number")
        return self


class TeachItem(Strict):
    """One thing that the patient is told.

    Attributes:
        id: Identifier.
        say: What is said.
        expert: Two or three words for those who know it, said in its place.
        teach_back: Whether the patient must say it back in own words.
    """

    id: Identifier
    say: Spoken
    expert: Spoken | None = None
    teach_back: bool = True


class RepeatWithin(Strict):
    """Two measurements of one thing.

    Attributes:
        fields: The two fields.
        tolerance: Largest difference, in the fields' unit; beyond it both are measured again.
    """

    fields: Annotated[tuple[Identifier, ...], Field(min_length=2, max_length=2)]
    tolerance: Annotated[Decimal, Field(ge=0, allow_inf_nan=False)]


class When(Strict):
    """A condition: the step is left out unless it holds.

    Attributes:
        step: "step.field" of an earlier step.
        is_: Options for which this step is done.
    """

    step: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*$")]
    is_: Annotated[tuple[Identifier, ...], Field(alias="is", min_length=1)]


class Explained(Strict):
    """Words that are taken for one another when a check speaks them, and why that is borne.

    Attributes:
        said: What is said, label included where the step has several fields.
        heard: What is heard instead; None stands for anything, and for nothing.
        why: Why it is left so, for those who approve the file.
    """

    said: Phrase
    heard: Phrase | None = None
    why: Annotated[str, Field(min_length=1)]


class Step(Strict):
    """One step. See the attributes of the file form in DEVELOPERS.md."""

    id: Identifier
    kind: Literal["tell", "confirm", "measure", "finding", "choose", "identify", "expose", "teach"]
    phase: Literal["before", "during", "after"]
    prompt: Spoken
    expert: Spoken | None = None
    hard: bool = False
    source: str
    fields: tuple[StepField, ...] = ()
    timing: Annotated[Timing | None, Field(strict=False)] = None
    for_each: Literal["side"] | None = None
    group: Identifier | None = None
    read_back: Literal["confirm", "echo"] | None = None
    requires: tuple[Identifier, ...] = ()
    when: When | None = None
    agree: bool = False
    repeat_within: RepeatWithin | None = None
    size_from: Literal["device"] | None = None
    light_must_be_off: bool = False
    time_out: bool = False
    red_action: Spoken | None = None
    zones: Literal["open", "strap"] | None = None
    warmth: bool = False
    late_question_s: Annotated[tuple[int, ...], Field(min_length=2, max_length=2)] | None = None
    items: tuple[TeachItem, ...] = ()
    explained: tuple[Explained, ...] = ()

    @model_validator(mode="after")
    def _fits_kind(self) -> Self:
        valued = self.kind in {"measure", "finding", "choose", "identify"}
        if valued != bool(self.fields):
            raise ValueError(f"kind {self.kind} {'needs' if valued else 'takes no'} fields")
        if (self.kind == "expose") != (self.zones is not None):
            raise ValueError("zones (open or strap) belongs to kind expose, and kind expose needs it")
        if (self.kind == "teach") != bool(self.items):
            raise ValueError("items belongs to kind teach, and kind teach needs at least one")
        if self.for_each is None and any(field.sides is not None for field in self.fields):
            raise ValueError("sides in a field needs for_each: side in the step")
        if self.kind != "expose" and (self.warmth or self.late_question_s is not None):
            raise ValueError("warmth and late_question_s belong to kind expose")
        if self.late_question_s is not None and not 0 < self.late_question_s[0] < self.late_question_s[1]:
            raise ValueError("late_question_s is [earliest, latest] in seconds, earliest first")
        return self

    @property
    def explicit_read_back(self) -> bool:
        """Whether values wait for "affirmative": numbers, sides, codes, dates, groups unless the file says so."""
        if self.read_back is not None:
            return self.read_back == "confirm"
        return len(self.fields) > 1 or any(
            field.options is None or set(field.options) <= {"left", "right"} for field in self.fields
        )


class Procedure(Strict):
    """A whole procedure."""

    form: Literal[1]
    id: FileId
    title: Spoken
    version: Version
    language: str
    approved_by: str | None
    sources: dict[Identifier, str]
    cautions: Annotated[tuple[Spoken, ...], Field(min_length=1)]
    device_profile: FileId | None = None
    light_profile: FileId | None = None
    roles: Annotated[dict[Identifier, Phrases], Field(min_length=1)]
    skip_reasons: Annotated[dict[Identifier, Phrases], Field(min_length=1)]
    override_reasons: Annotated[dict[Identifier, Phrases], Field(min_length=1)]
    kind_from: str | None = None
    side_from: str | None = None
    operator_from: str | None = None
    role_from: str | None = None
    sentences: dict[SentenceCode, Spoken] = Field(default_factory=dict)
    steps: Annotated[tuple[Step, ...], Field(min_length=1)]

    @property
    def compares_with_earlier(self) -> bool:
        """Whether values are compared with those of an earlier record."""
        return any(field.compare is not None and field.compare.earlier for step in self.steps for field in step.fields)
