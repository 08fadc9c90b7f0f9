"""The file form of one step: what is asked, when it is done, what must come before it."""

from decimal import Decimal
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from handsfree.definition.computed_form import ELAPSED_UNITS
from handsfree.definition.condition_form import When
from handsfree.definition.field_form import Positive, StepField
from handsfree.definition.form_base import Identifier, Phrase, Spoken, Strict
from handsfree.definition.lift_form import LiftRule
from handsfree.model.readings import Timing


class TeachItem(Strict):
    """One thing that the patient is told.

    Attributes:
        id: Identifier; the record names the item by it.
        say: What is said: "Keep it dry."
        expert: Two or three words for those who know it, said in its place.
        teach_back: Whether it is asked if the patient has said it back; else, whether it was told.
    """

    id: Identifier
    say: Spoken
    expert: Spoken | None = None
    teach_back: bool = True


class RepeatWithin(Strict):
    """Two measurements of one thing.

    Attributes:
        fields: The two fields, numbers of this step.
        tolerance: Largest difference, in the fields' unit, 0 or more; beyond it both are measured again.
    """

    fields: Annotated[tuple[Identifier, ...], Field(min_length=2, max_length=2)]
    tolerance: Annotated[Decimal, Field(ge=0, allow_inf_nan=False)]


class Repetition(Strict):
    """A step that is done again and again, until somebody says that it was the last.

    Attributes:
        least: How often it is done at least, 1 or more.
        most: How often at most, up to 20: each number is one word, so that it can be said in front of digits.
        name: What each one is called aloud, before its number: "wheel bolt".
    """

    least: Annotated[int, Field(ge=1, le=20)]
    most: Annotated[int, Field(ge=2, le=20)]
    name: Phrase

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.least > self.most:
            raise ValueError(f"least {self.least} must not be over most {self.most}")
        return self


class SecondPerson(Strict):
    """Another person than the operator confirms the step, by role and spelled code.

    Attributes:
        role: Field of this step whose options are roles of the procedure.
        code: Field of this step, an identifier of a person; never the code that `operator_from` names.
    """

    role: Identifier
    code: Identifier


class Timer(Strict):
    """Something that is said by itself a while after its step was done.

    Attributes:
        id: Identifier, once in the file; the words of it are what the timer is called: blade_rest.
        after: How long after, above 0.
        unit: Of `after`: s, min or h.
        say: What is said then: "The blade has rested."
    """

    id: Identifier
    after: Positive
    unit: Literal["s", "min", "h"]
    say: Spoken

    @property
    def seconds(self) -> float:
        """How long it runs, seconds."""
        return float(self.after) * ELAPSED_UNITS[self.unit].total_seconds()


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
    """One step: what is asked, what must come before, and what is done with the answer.

    Attributes:
        id: Identifier, once in the file; in the record, with @left or @right where it is done for each side.
        kind: What is answered: tell "next step"; confirm "affirmative"; choose, finding, measure and identify values of
            `fields` (a scanned label fills identify alone); compute nothing: its fields are computed as soon as what
            they come from is answered, said, and held against their limits; teach "affirmative" to each of `items`;
            expose light.
        phase: Before, during or after the work on the patient. `plan` makes phases with gates of it; a step that stands
            behind one of a later phase belongs to that later one.
        prompt: What is asked, at most 12 words a sentence; {side} becomes left or right.
        expert: Two or three words for those who know it, said in its place to them.
        hard: Whether it can never be skipped; every later gate waits for it.
        source: Key in `Procedure.sources` of where the rule comes from.
        fields: The values that it asks for, for choose, finding, measure and identify.
        timing: When its readings are taken, for the record; with it "not done" and its like are answers, flagged amber.
        for_each: "side": done for the injured side, then for the other; needs `Procedure.side_from`.
        group: Steps of the same group follow one another and may be answered in any order, in one breath.
        read_back: "confirm" waits for "affirmative" after the read-back, "echo" says the value once, "group" waits for
            the other steps of its group and is read back with them, but for an answer that is grave by itself, "sides"
            for the same steps of the other side as well. None: confirm for several fields, numbers, codes, dates, and
            left or right; echo for one choice of others.
        requires: Earlier steps that must be done and not skipped first; a skipped one is asked again before this one.
        when: The step is left out unless this holds.
        agree: Whether all fields must have the same answer; else the visit is held.
        repeat_within: Two numbers that must agree.
        size_from: "device": the mean of its numbers chooses the size from the chart of the device profile.
        light_must_be_off: Whether its values are refused while the light is on.
        time_out: Whether it is part of the time-out, the last of phase before: a phase of its own with a gate behind
            it, which waits for its hard steps.
        red_action: What to do first where an answer is red; None: to call the senior clinician. Of a step that is done
            for each side it is for the injured one.
        red_action_other: As `red_action`, for the side that is not injured.
        lift: Who may lift a hold of this step by an override, or never; None: as the procedure says.
        at_early_end: Whether it is asked, if it was not done, where the visit ends early after work on the patient had
            begun (a step of phase during, or light).
        more_light: Whether, while an answer of this step holds the visit, zones may get more light; put it before
            anything that ends the protection against light.
        zones: For expose, the zones of the device profile that are lit: open, or those in the strap's shadow.
        warmth: For expose, whether the patient's warmth is asked for after each run of light.
        late_question_s: For expose, [earliest, latest] seconds from the last light to the late question about heat;
            asked after the latest, the record says that it was overdue.
        items: What is told, for teach.
        repeat: It is done again and again: "wheel bolt one", "wheel bolt two" …; {number} in a prompt becomes its
            number.
        second_person: The step is confirmed by somebody else than the operator: which fields say who.
        timers: What is said by itself some time after the step was done.
        topic: What the step is about, in one or two words, for a narrated visit: "sensation". It may stand before the
            labels of its fields, and must where a label with that answer could be of two steps of one phase.
        reported: Whole sentences that say in a narrated visit that the step is done, for confirm: "padding complete".
        together: Whether all items are said in one go, for teach: one "affirmative" when they were told, another when
            the patient has said back those with `teach_back`. Of the first step of a group with one read-back: its
            prompt asks for all steps of the group; once any of them was said, its own labels are asked for alone.
        explained: Confusions that a spoken check found and that are borne.
    """

    id: Identifier
    kind: Literal["tell", "confirm", "measure", "finding", "choose", "identify", "expose", "teach", "compute"]
    phase: Literal["before", "during", "after"]
    prompt: Spoken
    expert: Spoken | None = None
    hard: bool = False
    source: str
    fields: tuple[StepField, ...] = ()
    timing: Annotated[Timing | None, Field(strict=False)] = None
    for_each: Literal["side"] | None = None
    group: Identifier | None = None
    read_back: Literal["confirm", "echo", "group", "sides"] | None = None
    requires: tuple[Identifier, ...] = ()
    when: When | None = None
    agree: bool = False
    repeat_within: RepeatWithin | None = None
    size_from: Literal["device"] | None = None
    light_must_be_off: bool = False
    time_out: bool = False
    red_action: Spoken | None = None
    red_action_other: Spoken | None = None
    lift: LiftRule | None = None
    at_early_end: bool = False
    more_light: bool = False
    zones: Literal["open", "strap"] | None = None
    warmth: bool = False
    late_question_s: Annotated[tuple[int, ...], Field(min_length=2, max_length=2)] | None = None
    items: tuple[TeachItem, ...] = ()
    repeat: Repetition | None = None
    second_person: SecondPerson | None = None
    timers: tuple[Timer, ...] = ()
    topic: Phrase | None = None
    reported: tuple[Phrase, ...] = ()
    together: bool = False
    explained: tuple[Explained, ...] = ()

    def _may_repeat(self) -> None:
        """Refuse what makes no sense of a step that is done again and again."""
        keys = ("for_each", "group", "size_from", "second_person", "time_out", "agree", "repeat_within", "reported")
        against = [key for key in keys if getattr(self, key)]
        against += [key for key in ("again", "compare", "sides") if any(getattr(field, key) for field in self.fields)]
        if against or self.kind in {"expose", "compute", "teach", "tell"}:
            what = ", ".join(against) or f"kind {self.kind}"
            raise ValueError(f"repeat does not go with {what}")

    def _may_be_read_together(self) -> None:
        """Refuse a read-back that nothing could be shared with."""
        if self.read_back in {"group", "sides"} and self.group is None:
            raise ValueError(f"read_back: {self.read_back} needs a group")
        if self.read_back == "sides" and self.for_each is None:
            raise ValueError("read_back: sides needs for_each: side")
        if self.read_back == "sides" and any(field.identifier or field.date for field in self.fields):
            raise ValueError("read_back: sides takes no codes and dates, because no side is said with them")
        if self.together and self.kind != "teach" and self.read_back != "group":
            raise ValueError("together belongs to kind teach, or to the first step of a group with read_back: group")

    @model_validator(mode="after")
    def _fits_kind(self) -> Self:
        valued = self.kind in {"measure", "finding", "choose", "identify", "compute"}
        if valued != bool(self.fields):
            raise ValueError(f"kind {self.kind} {'needs' if valued else 'takes no'} fields")
        if any((field.computed is not None) != (self.kind == "compute") for field in self.fields):
            raise ValueError("kind compute has computed in each field, and no other kind has it")
        if self.kind == "compute" and (self.group or self.agree or self.repeat_within or self.size_from):
            raise ValueError("kind compute asks nothing, so it takes no group, agree, repeat_within or size_from")
        if self.repeat is not None:
            self._may_repeat()
        if self.second_person is not None and (self.for_each or self.group or self.read_back == "echo"):
            raise ValueError("second_person is asked once and read back: no for_each, group or read_back: echo")
        if (self.kind == "expose") != (self.zones is not None):
            raise ValueError("zones (open or strap) belongs to kind expose, and kind expose needs it")
        if (self.kind == "teach") != bool(self.items):
            raise ValueError("items belongs to kind teach, and kind teach needs at least one")
        self._may_be_read_together()
        if self.for_each is None and any(field.sides is not None for field in self.fields):
            raise ValueError("sides in a field needs for_each: side in the step")
        if self.red_action_other is not None and self.for_each is None:
            raise ValueError("red_action_other needs for_each: side")
        if self.at_early_end and self.kind == "expose":
            raise ValueError("at_early_end: an early end asks and tells, it gives no light")
        if self.kind != "expose" and (self.warmth or self.late_question_s is not None):
            raise ValueError("warmth and late_question_s belong to kind expose")
        if self.reported and self.kind != "confirm":
            raise ValueError("reported belongs to kind confirm: other steps are answered by their fields")
        if self.late_question_s is not None and not 0 < self.late_question_s[0] < self.late_question_s[1]:
            raise ValueError("late_question_s is [earliest, latest] in seconds, earliest first")
        return self
