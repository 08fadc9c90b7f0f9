"""The first line of a record: what the record is of, and what it was begun with."""

from dataclasses import dataclass, field
from typing import Annotated, ClassVar

from pydantic import Field

from handsfree import __version__
from handsfree.build import build
from handsfree.model.approval import Approval
from handsfree.model.fact_base import KeptValue
from handsfree.model.patient_reference import DEFAULT_PATTERN
from handsfree.model.readings import Side
from handsfree.model.reasons import STRICT
from handsfree.model.working import Working
from handsfree.record.clips import Retention

FORM = 2
"""The form of records that this program writes."""
WORDINGS: dict[str, bool | None] = {"expert": True, "novice": False, "as_led": None}
"""How `versions` says whether prompts were short; "as_led" for as long as somebody narrated."""
_LEFT_OUT = Field(exclude_if=lambda value: not value)
"""A member that stands on a line only where it says something: earlier lines of this form do not have it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecallListUsed:
    """The recall list that a record was begun with; a session that replays the record needs the same.

    Attributes:
        sha256: Of the file.
        lots: Lot to reason.
    """

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT

    sha256: str
    lots: dict[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class BaselineUsed:
    """What a record was compared with, so that it replays and resumes without the earlier one.

    Attributes:
        record_id: Of the earlier record.
        day: Local date on which that was begun, ISO 8601.
        head: SHA-256 of its last line.
        values: Its last confirmed values, by `handsfree.model.baseline.place`.
        due: When it was put down that the next check is due, RFC 3339 UTC; "" where nothing was.
        patient_reference: Whose record it is; "" where it does not say.
        side: Which side is injured; None where it does not say.
        meant: Whether it was said at the start that it is meant, though it be of another patient or side.
    """

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT

    record_id: str
    day: str
    head: str
    values: dict[str, KeptValue]
    due: str = ""
    patient_reference: Annotated[str, _LEFT_OUT] = ""
    side: Annotated[Side | None, _LEFT_OUT] = None
    meant: Annotated[bool, _LEFT_OUT] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordHeader:
    """What a record is of. It names nobody.

    Attributes:
        form: Form of the lines up to a line that raises it.
        record_id: Identifier of the record.
        procedure: Identifier of the procedure.
        title: Its title.
        procedure_sha256: Hash of the procedure with its profiles.
        practice: Whether it can only ever be practice.
        versions: Name and version of everything that shapes the visit.
        program: Version of the program that began it; "" where that was not kept.
        build: Its build; "" where that was not kept.
        started: RFC 3339 UTC, the stamp of the line; "" takes that of the writing.
        patient_reference: As given at the start, never a name; None where it is asked in the visit, or not at all.
        reference_pattern: Regular expression that a reference must match, so that the record replays by it.
        retention: How long sound is kept.
        recall_list: Lots that stop the visit, or None.
        baseline: What it is compared with, or None.
        room: Where it was made, a name of the site's; "" where nobody said.
        carried_sha256: Hash of the procedure with its profiles that lies beside it, as JSON; "" where none does.
        approval: How the approval of the procedure stood; None in records of before.
    """

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT

    form: int = FORM
    record_id: str
    procedure: str
    title: str
    procedure_sha256: str
    practice: bool
    versions: dict[str, str]
    program: str = __version__
    build: str = field(default_factory=build)
    started: str = ""
    patient_reference: str | None = None
    reference_pattern: Annotated[str, Field(exclude_if=lambda pattern: pattern == DEFAULT_PATTERN)] = DEFAULT_PATTERN
    retention: Retention = Retention.OFF
    recall_list: RecallListUsed | None = None
    baseline: BaselineUsed | None = None
    room: Annotated[str, _LEFT_OUT] = ""
    carried_sha256: Annotated[str, _LEFT_OUT] = ""
    approval: Annotated[Approval | None, _LEFT_OUT] = None

    @property
    def expert(self) -> bool | None:
        """Whether prompts were short when it was begun; None for as long as somebody narrated."""
        return WORDINGS.get(self.versions.get("wording", "novice"), False)

    @property
    def working(self) -> Working:
        """Who led when it was begun."""
        return Working(self.versions.get("working", Working.GUIDED))

    @property
    def going_on(self) -> bool:
        """Whether findings could stand without being affirmed; in records that do not say, each was affirmed."""
        return self.versions.get("confirming") == "going_on"
