"""The file form of procedures: strict, frozen, every limit with its source.

A procedure file says what is asked, in which order, what stops it and why. The product's own instructions win over it.
Steps are in `step_form`, their values in `field_form`; profiles of devices and lights: see `profile_form`.
"""

from typing import Annotated, Literal

from pydantic import Field

from handsfree.definition.condition_form import When
from handsfree.definition.field_form import (
    DUE_UNITS,
    Again,
    Compare,
    DateField,
    FlagClass,
    IdentifierField,
    Number,
    Sides,
    StepField,
)
from handsfree.definition.form_base import (
    STOP_PHRASES,
    STOP_WORDS,
    FileId,
    Identifier,
    Phrase,
    Phrases,
    SentenceCode,
    Spoken,
    Strict,
    Version,
)
from handsfree.definition.lift_form import LiftRules
from handsfree.definition.step_form import Explained, RepeatWithin, Repetition, Step, TeachItem, Timer


class Procedure(Strict):
    """A whole procedure, with its blocks put in (`blocks`).

    Attributes:
        form: Version of this form.
        id: Identifier, also the name of the file; in the record.
        title: What people call it.
        version: Version of the file, raised with every change.
        language: BCP 47 tag of its words; the tool hears en-US.
        approved_by: Role that has to approve it, as `handsfree approve --role` gives it; null: any role may. By itself
            it approves nothing: the approval is a file beside the procedure, NAME.approval.json.
        sources: Where the rules come from, by the key that steps and fields name: {local: "ward rule of 3 May 2026"}.
        cautions: Said when a visit begins.
        device_profile: File of the device, for sizes, bands and zones; with light it is needed.
        light_profile: File of the light, for its measured output; with light it is needed.
        roles: Who may answer for an override: identifier and the phrases that mean it.
        skip_reasons: Why a step that is not hard may be left out.
        override_reasons: Why a hold may be lifted, a gap accepted, or the visit ended early.
        lift: Who may lift holds and accept gaps, where no step or field says otherwise.
        kind_from: "step.field" with the options live and practice; None: a visit is practice only if begun as such.
        side_from: "step.field" with the options left and right, the injured side.
        patient_from: "step.field" with an identifier, the patient's reference: it is asked in a live visit that was
            begun without one, checked as a reference of the site, and stated. None: the procedure has no patient.
        operator_from: "step.field" whose answer names who does the work, a code or an option: the record states it,
            and a day's light is summed for each. Of a step that is done once.
        role_from: "step.field" whose option is that person's role, stated too; it stands in where there is no
            `operator_from`. Of a step that is done once.
        sentences: The tool's own sentences in other words, by code: {fixed.waiting: "On hold. Say resume."}.
        ask_after_s: Seconds of silence in a narrated visit after which the tool asks for what is missing.
        steps: The steps, in the order in which they are asked.
    """

    form: Literal[1]
    id: FileId
    title: Spoken
    version: Version
    language: str
    approved_by: str | None = None
    sources: dict[Identifier, str]
    cautions: Annotated[tuple[Spoken, ...], Field(min_length=1)]
    device_profile: FileId | None = None
    light_profile: FileId | None = None
    roles: Annotated[dict[Identifier, Phrases], Field(min_length=1)]
    skip_reasons: Annotated[dict[Identifier, Phrases], Field(min_length=1)]
    override_reasons: Annotated[dict[Identifier, Phrases], Field(min_length=1)]
    lift: LiftRules = Field(default_factory=LiftRules)
    kind_from: str | None = None
    side_from: str | None = None
    patient_from: str | None = None
    operator_from: str | None = None
    role_from: str | None = None
    sentences: dict[SentenceCode, Spoken] = Field(default_factory=dict)
    ask_after_s: Annotated[int, Field(ge=5, le=600)] = 30
    steps: Annotated[tuple[Step, ...], Field(min_length=1)]

    @property
    def declared(self) -> frozenset[str]:
        """What is declared of the whole visit, each as "step.field"."""
        known = (self.kind_from, self.side_from, self.patient_from, self.operator_from, self.role_from)
        return frozenset(name for name in known if name is not None)

    @property
    def compares_with_earlier(self) -> bool:
        """Whether values are compared with those of an earlier record."""
        return any(field.compare is not None and field.compare.earlier for step in self.steps for field in step.fields)


__all__ = [
    "DUE_UNITS",
    "STOP_PHRASES",
    "STOP_WORDS",
    "Again",
    "Compare",
    "DateField",
    "Explained",
    "FileId",
    "FlagClass",
    "Identifier",
    "IdentifierField",
    "Number",
    "Phrase",
    "Phrases",
    "Procedure",
    "RepeatWithin",
    "Repetition",
    "SentenceCode",
    "Sides",
    "Spoken",
    "Step",
    "StepField",
    "Strict",
    "TeachItem",
    "Timer",
    "Version",
    "When",
]
