"""Lines that the journal itself writes: their kinds and members. All other lines are facts of a session."""

from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, ClassVar

from pydantic import Field

from handsfree.model.events import SessionEvent
from handsfree.model.fact_base import KeptValue
from handsfree.model.open_items import OpenItem
from handsfree.model.readings import Side
from handsfree.model.reasons import STRICT, Grounds, Severity
from handsfree.record.codec import JsonForm
from handsfree.record.header import RecordHeader

HEADER = "header"
EVENT = "event"
SEALED = "sealed"
INTERRUPTED = "interrupted"
FORM_RAISED = "form_raised"
AMENDED = "amended"
CLIP_DELETED = "clip_deleted"
ATTESTED = "attested"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLine:
    """Base of what the journal writes besides the header."""

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT


@dataclass(frozen=True, slots=True, kw_only=True)
class SignableLine(OwnLine):
    """What may stand after the end of a visit; each such line is signed by itself, so that no crash leaves one without.

    Attributes:
        public_key: Ed25519 key of the installation that wrote it, hexadecimal; "" where none was at hand.
        signature: Ed25519 over the line without this member and the sum, hexadecimal; "" without a key.
    """

    public_key: str = ""
    signature: str = ""

    @property
    def is_signed(self) -> bool:
        """Whether it claims to be signed."""
        return bool(self.public_key or self.signature)


@dataclass(frozen=True, slots=True, kw_only=True)
class EventLine(OwnLine):
    """What happened; the facts that follow from it are the next lines.

    Attributes:
        event: The event; None leads facts that follow from none.
        facts: How many follow.
        facts_sha256: SHA-256 over kind and data of each.
        clip_sha256: Hash of its sound, where that was kept.
    """

    event: Annotated[SessionEvent, Field(discriminator="type")] | None
    facts: int
    facts_sha256: tuple[str, ...]
    clip_sha256: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedLine(SignableLine):
    """The record is closed here, or closed again.

    Attributes:
        lines: How many lines it has with this one.
        head: SHA-256 of the line before.
    """

    lines: int
    head: str


@dataclass(frozen=True, slots=True, kw_only=True)
class InterruptedLine(OwnLine):
    """The program had ended without closing the record, which now goes on.

    Attributes:
        gap_s: Wall-clock seconds since the last line.
        torn_bytes: Length of what was cut off, now in a side file.
        facts_completed: How many facts of the last event were written again.
        program: Version of the program that goes on; "" where that was not kept.
        build: Its build; "" where that was not kept.
    """

    gap_s: float
    torn_bytes: int
    facts_completed: int
    program: str
    build: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FormRaisedLine(SignableLine):
    """A record of an older form gets new lines: all after this one are of the form that it names.

    Attributes:
        form: The form.
        program: Version of the program that goes on.
        build: Its build.
    """

    form: int
    program: str
    build: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Amended(OwnLine):
    """Members of an entry before or after a correction; None for what it does not touch.

    Attributes:
        value: Value of a reading.
        side: Its side.
        text: Text of a note.
        verified: Whether a person has read the note.
    """

    value: KeptValue | None = None
    side: Side | None = None
    text: str | None = None
    verified: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedAnew(OwnLine):
    """How the limits of the procedure class a reading once an entry was corrected: itself, or what it is held against.

    Attributes:
        entry: Sequence number of the reading.
        severity: Its class.
        grounds: Why; None where nothing in the file flags it.
        value: Its value since, where it is computed from what was corrected; None elsewhere.
    """

    entry: int
    severity: Severity
    grounds: Grounds | None
    value: Annotated[KeptValue | None, Field(exclude_if=lambda value: value is None)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnedStep(OwnLine):
    """A step whose condition falls out otherwise, by the values as they are amended, than it did in the visit.

    Attributes:
        step: The step.
        name: What it is called, in the words of the procedure.
        wanted: Whether it should have been done; else what was done there should not count.
    """

    step: str
    name: str
    wanted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AmendedLine(SignableLine):
    """An entry is corrected; it stays as it was.

    Attributes:
        entry: Sequence number of the entry.
        was: Its members before.
        now: Its members after.
        by: Role of who corrects.
        reason: Why, in words.
        judged: The corrected reading and those whose class changes with it; None where the very version of the
            procedure was not at hand, and for notes.
        turned: The steps whose condition it turns, with the corrections before it; empty where none is, and where
            nothing was judged.
    """

    entry: int
    was: Amended
    now: Amended
    by: str
    reason: str
    judged: Annotated[tuple[JudgedAnew, ...] | None, Field(exclude_if=lambda value: value is None)] = None
    turned: Annotated[tuple[TurnedStep, ...], Field(exclude_if=lambda value: not value)] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipDeletedLine(SignableLine):
    """Sound is deleted.

    Attributes:
        clips_sha256: Hashes of what is deleted.
        reason: Why, in words.
    """

    clips_sha256: tuple[str, ...]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AttestedLine(SignableLine):
    """Somebody vouches for the record; always signed.

    Attributes:
        by: Role.
        lines: How many lines it has with this one.
        head: SHA-256 of the line before.
        open_items: What was left open, as the visit was closed.
        because: Why that stays so, in words; "" where nothing was left open.
    """

    by: str
    lines: int
    head: str
    open_items: tuple[OpenItem, ...]
    because: str


OwnContent = (
    RecordHeader
    | EventLine
    | SealedLine
    | InterruptedLine
    | FormRaisedLine
    | AmendedLine
    | ClipDeletedLine
    | AttestedLine
)
_TYPES: dict[str, type[OwnContent]] = {
    HEADER: RecordHeader,
    EVENT: EventLine,
    SEALED: SealedLine,
    INTERRUPTED: InterruptedLine,
    FORM_RAISED: FormRaisedLine,
    AMENDED: AmendedLine,
    CLIP_DELETED: ClipDeletedLine,
    ATTESTED: AttestedLine,
}
OWN_KINDS = frozenset(_TYPES)
"""Kinds that only the journal writes; a session's facts may not use them."""


@cache
def own_form(kind: str) -> JsonForm[Any]:
    """The form of the data of a kind, without its sum."""
    return JsonForm(_TYPES[kind])


def kind_of(content: OwnContent) -> str:
    """The kind of a line."""
    return next(kind for kind, own in _TYPES.items() if isinstance(content, own))
