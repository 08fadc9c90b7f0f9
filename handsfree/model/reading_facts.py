"""Facts about readings: taken, refused, confirmed, corrected."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from handsfree.model.fact_base import Fact, KeptValue, Phase, Utterance
from handsfree.model.readings import Side, Timing
from handsfree.model.reasons import Grounds, ScanFault, Severity
from handsfree.model.refusals import RefusalReason

ReadBackWay = Literal["affirmed", "echo", "going_on", "computed"]
"""How a value came to be confirmed; a computed one follows from others, and is only said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ComputedFrom(Fact):
    """A value from which another one was computed.

    Attributes:
        stage: Its stage.
        field: Its field; "" where it is the moment at which the stage was done, in seconds of session time.
        value: The value.
        unit: UCUM unit, or None.
    """

    stage: str
    field: str
    value: KeptValue
    unit: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Computation(Fact):
    """How a value was computed.

    Attributes:
        how: What was computed; of a difference the first less the second, of elapsed time from the first to the second.
        inputs: From what, in order.
    """

    how: Literal["sum", "mean", "difference", "elapsed"]
    inputs: tuple[ComputedFrom, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedReading(Fact):
    """A value with everything that is known of it.

    Attributes:
        stage: Stage: step, or step@left.
        step: Step of the procedure.
        phase: Phase of the file.
        field: Field of the step.
        label: What the field is called aloud.
        side: Side, or None.
        timing: When in the visit, or None.
        value: The value.
        unit: UCUM unit of a number, else None.
        severity: Its class.
        grounds: Why it is flagged, or None.
        asked: Whether it was heard with doubt, asked about and affirmed.
        heard: The words; none of a computed value.
        computed: How it was computed; None where somebody said it.
    """

    stage: str
    step: str
    phase: Phase
    field: str
    label: str
    side: Side | None
    timing: Timing | None
    value: KeptValue
    unit: str | None
    severity: Severity
    grounds: Grounds | None
    asked: bool
    heard: Utterance
    computed: Annotated[Computation | None, Field(exclude_if=lambda how: how is None)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingProposed(StatedReading):
    """A value was taken and waits to be confirmed."""

    kind: Literal["reading_proposed"] = "reading_proposed"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingConfirmed(StatedReading):
    """A value was confirmed.

    Attributes:
        read_back: "affirmed" after an explicit read-back, "echo" where it was only said, "going_on" where it was
            said back in a later prompt or in the list of a gate, and people went on without objecting; "computed" where
            it follows from others.
    """

    read_back: ReadBackWay
    kind: Literal["reading_confirmed"] = "reading_confirmed"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingAmended(StatedReading):
    """A value took the place of one that was confirmed before.

    Attributes:
        read_back: As in `ReadingConfirmed`.
        old_value: The value before.
        why: "repeated" where the file asked for a second one, "corrected" where somebody did, "recomputed" where what
            it is computed from was corrected.
    """

    read_back: ReadBackWay
    old_value: KeptValue
    why: Literal["corrected", "repeated", "recomputed"]
    kind: Literal["reading_amended"] = "reading_amended"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingClassedAgain(Fact):
    """What a value is held against changed, and its class with it."""

    stage: str
    step: str
    field: str
    severity: Severity
    grounds: Grounds | None
    kind: Literal["reading_classed_again"] = "reading_classed_again"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRefused(Fact):
    """A value was not taken.

    Attributes:
        stage: The stage.
        field: The field, or "" where it is about several.
        reason: Why.
        heard: The words, where there are words of its own.
    """

    stage: str
    field: str
    reason: RefusalReason
    heard: Utterance | None
    kind: Literal["reading_refused"] = "reading_refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBackDisputed(Fact):
    """A read-back was denied.

    Attributes:
        stage: The stage.
        values: What had been read back, by field.
    """

    stage: str
    values: dict[str, KeptValue]
    kind: Literal["read_back_disputed"] = "read_back_disputed"


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingDisputed(Fact):
    """At a gate somebody objected to what stands, and was asked which of it is wrong."""

    stage: str
    kind: Literal["standing_disputed"] = "standing_disputed"


@dataclass(frozen=True, slots=True, kw_only=True)
class ValuesDropped(Fact):
    """Unconfirmed values were dropped by a correction, or by the end of the visit.

    Attributes:
        stage: The stage.
        values: The values, by field.
    """

    stage: str
    values: dict[str, KeptValue]
    kind: Literal["values_dropped"] = "values_dropped"


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatAsked(Fact):
    """Flagged values are to be taken once more.

    Attributes:
        stage: The stage.
        fields: The fields.
    """

    stage: str
    fields: tuple[str, ...]
    kind: Literal["repeat_asked"] = "repeat_asked"


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionOpened(Fact):
    """A confirmed stage was opened to be answered again."""

    stage: str
    kind: Literal["correction_opened"] = "correction_opened"


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionDropped(Fact):
    """A correction was taken back: what stood at the stage before stands again."""

    stage: str
    kind: Literal["correction_dropped"] = "correction_dropped"


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelScanned(Fact):
    """A device label was scanned.

    Attributes:
        stage: The stage.
        gtin: Device number, or None.
        lot: Lot, or None.
        serial: Serial number, or None.
        produced: Production date, or None.
        expiry: Last day of use, or None.
        faults: What cannot be trusted in it.
        heard: The line as it came.
    """

    stage: str
    gtin: str | None
    lot: str | None
    serial: str | None
    produced: date | None
    expiry: date | None
    faults: tuple[ScanFault, ...]
    heard: Utterance
    kind: Literal["label_scanned"] = "label_scanned"
