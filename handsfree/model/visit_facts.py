"""Facts about the visit as a whole."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from handsfree.model.approval import Approval
from handsfree.model.events import LocalOffset
from handsfree.model.fact_base import Fact, StatedSeconds, Utterance
from handsfree.model.light import ZoneStanding, standing_of
from handsfree.model.open_items import OpenItem
from handsfree.model.readings import Exact, Side
from handsfree.model.reasons import STRICT


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitBegun(Fact):
    """The visit began.

    Attributes:
        record_id: Identifier of the record.
        procedure: Identifier of the procedure.
        procedure_sha256: Hash of the procedure with its profiles.
        practice: Whether it can only ever be practice.
        local_offset_minutes: Offset of local time from UTC, minutes.
        today: Local calendar date.
        versions: Name and version of everything that shapes the visit.
        unapproved: Titles of the files that run without an approval that counts.
        cautions: The file's cautions, as they were said.
        compared_with: Identifier of the baseline record, or None.
        approval: How the approval stood; None where the record does not say.
    """

    record_id: str
    procedure: str
    procedure_sha256: str
    practice: bool
    local_offset_minutes: LocalOffset
    today: date
    versions: dict[str, str]
    unapproved: tuple[str, ...]
    cautions: tuple[str, ...]
    compared_with: str | None
    approval: Annotated[Approval | None, Field(exclude_if=lambda approval: approval is None)] = None
    kind: Literal["visit_begun"] = "visit_begun"


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitContinued(Fact):
    """The visit went on after the program had ended without closing it.

    Attributes:
        gap_s: Wall-clock seconds in between.
        stage: Where it stood.
    """

    gap_s: float
    stage: str
    kind: Literal["visit_continued"] = "visit_continued"


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitPaused(Fact):
    """The word "wait" was said at a stage."""

    stage: str
    kind: Literal["visit_paused"] = "visit_paused"


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitResumed(Fact):
    """The word "resume" was said at a stage."""

    stage: str
    kind: Literal["visit_resumed"] = "visit_resumed"


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitEndedEarly(Fact):
    """The visit was ended early.

    Attributes:
        stage: Where it stood.
        role: Who ended it.
        reason: Identifier of the reason in the file.
        code: Code of the person, where another than the operator answered; else None.
        heard: The words that settled it.
    """

    stage: str
    role: str
    reason: str
    code: str | None
    heard: Utterance
    kind: Literal["visit_ended_early"] = "visit_ended_early"


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneSum:
    """A zone at the end of a visit.

    Attributes:
        zone: Identifier.
        label: Its name in the device profile.
        lit_s: Credited seconds.
        possible_s: Seconds for which it may have been lit.
        target_s: Seconds asked for.
        dose_j_cm2: Summed light-on exposure at beam centre, J/cm².
        runs: How many stretches of light.
        strap_shadowed: Whether it lies under the strap.
        tolerance_s: Seconds that may be missing to the target, by the profile; None where the record does not state it.
        over_from_s: Credited seconds from which it is over its target, by the profile; None likewise.
    """

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT

    zone: str
    label: str
    lit_s: float
    possible_s: float
    target_s: float
    dose_j_cm2: float
    runs: int
    strap_shadowed: bool
    tolerance_s: StatedSeconds = None
    over_from_s: StatedSeconds = None

    @property
    def standing(self) -> ZoneStanding:
        """How it stands to its target."""
        return standing_of(self.lit_s, self.target_s, self.tolerance_s, self.over_from_s)


Outcome = Literal["completed", "completed_with_overrides", "stopped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitClosed(Fact):
    """The visit was closed.

    Attributes:
        outcome: How: completed, completed with something that somebody answered for, or ended early.
        open_items: What was left open.
        zones: The light of every zone.
        practice: Whether it was practice.
        stages_done: How many stages.
        notes: How many notes.
    """

    outcome: Outcome
    open_items: tuple[OpenItem, ...]
    zones: tuple[ZoneSum, ...]
    practice: bool
    stages_done: int
    notes: int
    kind: Literal["visit_closed"] = "visit_closed"


@dataclass(frozen=True, slots=True, kw_only=True)
class CloseRefused(Fact):
    """The visit cannot be closed yet.

    Attributes:
        open_items: What is open.
    """

    open_items: tuple[OpenItem, ...]
    kind: Literal["close_refused"] = "close_refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class StatusTold(Fact):
    """The status was told.

    Attributes:
        stages_done: How many stages were done.
    """

    stages_done: int
    kind: Literal["status_told"] = "status_told"


@dataclass(frozen=True, slots=True, kw_only=True)
class KindDeclared(Fact):
    """Somebody said whether this is live or practice."""

    declared: Literal["live", "practice"]
    kind: Literal["kind_declared"] = "kind_declared"


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatorDeclared(Fact):
    """Somebody said who works, by code.

    Attributes:
        operator: The code, or the answer, as it was confirmed.
    """

    operator: str
    kind: Literal["operator_declared"] = "operator_declared"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleDeclared(Fact):
    """Somebody said in which role they work.

    Attributes:
        role: Identifier of the answer.
    """

    role: str
    kind: Literal["role_declared"] = "role_declared"


@dataclass(frozen=True, slots=True, kw_only=True)
class PatientReferenceDeclared(Fact):
    """Somebody said whose visit it is, by a code of the site.

    Attributes:
        reference: The code, as it was confirmed.
    """

    reference: str
    kind: Literal["patient_reference_declared"] = "patient_reference_declared"


@dataclass(frozen=True, slots=True, kw_only=True)
class SideDeclared(Fact):
    """Somebody said which side is injured."""

    side: Side
    kind: Literal["side_declared"] = "side_declared"


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeChosen(Fact):
    """A size was read off the chart.

    Attributes:
        size: The size; None where the measure lies on none.
        mean: Mean of the measures, in `unit`.
        unit: UCUM unit.
        landmark: Where it is measured, as in the chart.
    """

    size: str | None
    mean: Decimal
    unit: str
    landmark: str
    kind: Literal["size_chosen"] = "size_chosen"


@dataclass(frozen=True, slots=True, kw_only=True)
class DueSet(Fact):
    """An answer said when something is due.

    Attributes:
        stage: Stage of the answer.
        step: Its step.
        field: Its field.
        due: RFC 3339 UTC.
        value: The answer.
        unit_s: Seconds in one of its units.
    """

    stage: str
    step: str
    field: str
    due: str
    value: Exact
    unit_s: float
    kind: Literal["due_set"] = "due_set"


@dataclass(frozen=True, slots=True, kw_only=True)
class DueMet(Fact):
    """The visit had been due, by its baseline.

    Attributes:
        due: RFC 3339 UTC.
        late_s: Seconds after it; negative where the visit is early.
    """

    due: str
    late_s: int
    kind: Literal["due_met"] = "due_met"
