"""Parts of what a record states: facts with their lines, readings and notes with their corrections, attestations."""

from dataclasses import dataclass
from typing import Generic, TypeVar

from handsfree.model.facts import Fact, NoteTaken, ReadingAmended, ReadingConfirmed, StatedReading
from handsfree.model.open_items import OpenItem
from handsfree.model.reasons import Severity
from handsfree.record.own_lines import Amended, JudgedAnew, TurnedStep

FactOn = TypeVar("FactOn", bound=Fact, covariant=True)


@dataclass(frozen=True, slots=True)
class RecordedFact(Generic[FactOn]):
    """One statement of the session.

    Attributes:
        seq: Its line; what an amendment names.
        at: RFC 3339 UTC stamp.
        fact: What is stated.
        event_seq: Line of the event that it follows from.
        clip_sha256: Hash of the sound of that event, where kept.
    """

    seq: int
    at: str
    fact: FactOn
    event_seq: int
    clip_sha256: str | None = None

    @property
    def kind(self) -> str:
        """Name of the fact, past tense."""
        return str(getattr(self.fact, "kind", ""))


@dataclass(frozen=True, slots=True)
class CutLight:
    """A run of light in which a record ends: no sum of the record counts it.

    Attributes:
        zone: The zone.
        lit_s: Seconds from "light on" to the last sign of life; it may have been lit for longer.
        seq: Line of "light on".
    """

    zone: str
    lit_s: float
    seq: int


@dataclass(frozen=True, slots=True)
class Amendment:
    """A later correction; the entry that it corrects stays as it was.

    Attributes:
        seq: Its own line.
        at: Stamp.
        entry: Line of the corrected fact.
        was: Members before.
        now: Members after.
        by: Role.
        reason: Why.
        judged: How readings are classed since; None where they were not judged.
        turned: The steps whose condition falls out otherwise since than in the visit.
    """

    seq: int
    at: str
    entry: int
    was: Amended
    now: Amended
    by: str
    reason: str
    judged: tuple[JudgedAnew, ...] | None = None
    turned: tuple[TurnedStep, ...] = ()


@dataclass(frozen=True, slots=True)
class Attestation:
    """Somebody vouched for the record as it was then.

    Attributes:
        seq: Its line.
        at: Stamp.
        by: Role.
        lines: How many lines the record had with this one.
        head: SHA-256 of the line before.
        public_key: Ed25519 key of the installation, hexadecimal.
        signature: Of the line, hexadecimal.
        open_items: What had been left open.
        because: Why that stays so; "" where nothing was.
    """

    seq: int
    at: str
    by: str
    lines: int
    head: str
    public_key: str
    signature: str
    open_items: tuple[OpenItem, ...]
    because: str


@dataclass(frozen=True, slots=True)
class RecordedReading:
    """A confirmed reading with what later corrected it.

    Attributes:
        recorded: As it was confirmed.
        stands: As it stands now.
        amendments: Later corrections, oldest first.
        superseded_by: Line of a reading of the same field, side and timing that was confirmed later, or of the
            statement that left out its step; None where it stands.
        first: The flagged value before it, where it was taken once more as the procedure asks; else None.
        anew: How it is classed since the last correction of it, or of what it is held against; None where none was
            judged. The class in `stands` is the one that the visit acted upon, and stays.
        turned: The steps whose condition its last correction turned, and its own where that was turned against it.
        stale: Whether it is computed from a value that was amended, and was not computed anew.
    """

    recorded: RecordedFact[ReadingConfirmed | ReadingAmended]
    stands: StatedReading
    amendments: tuple[Amendment, ...] = ()
    superseded_by: int | None = None
    first: StatedReading | None = None
    anew: JudgedAnew | None = None
    turned: tuple[TurnedStep, ...] = ()
    stale: bool = False

    @property
    def severity(self) -> Severity:
        """The graver of what the visit acted upon and what a later correction makes of it: no flag is lost."""
        later = self.anew.severity if self.anew is not None else Severity.NONE
        return max(self.stands.severity, later, key=lambda one: one.rank)


@dataclass(frozen=True, slots=True)
class RecordedNote:
    """A dictated note with what later corrected it.

    Attributes:
        recorded: As it was dictated.
        text: As it stands now.
        verified: Whether a person has read that.
        amendments: Later corrections, oldest first.
    """

    recorded: RecordedFact[NoteTaken]
    text: str
    verified: bool
    amendments: tuple[Amendment, ...] = ()
