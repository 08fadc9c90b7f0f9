"""What an account of a visit is made of: stops, holds, overrides, light, breaks. Codes and values, no words."""

from dataclasses import dataclass
from enum import StrEnum

from handsfree.model.facts import HoldKind, Utterance
from handsfree.model.light import RunEnd, ZoneStanding
from handsfree.model.open_items import OpenReading
from handsfree.model.reasons import Grounds


@dataclass(frozen=True, slots=True)
class Lifting:
    """What lifted a hold.

    Attributes:
        seq: Line.
        at: RFC 3339 UTC stamp.
        role: Who answered for it; None where its cause went away.
        reason: Identifier of the reason in the file, or of how the cause went away.
        code: Code of the person, where another than the operator answered; else None.
    """

    seq: int
    at: str
    role: str | None
    reason: str
    code: str | None


@dataclass(frozen=True, slots=True)
class HoldAccount:
    """A hold and what became of it.

    Attributes:
        seq: Line.
        at: RFC 3339 UTC stamp.
        hold: "red" or "stop".
        stage: Where.
        grounds: Why.
        lifted: What lifted it; None while it stands.
    """

    seq: int
    at: str
    hold: HoldKind
    stage: str
    grounds: Grounds
    lifted: Lifting | None


@dataclass(frozen=True, slots=True)
class RunAccount:
    """A run of light and how it ended.

    Attributes:
        seq: Line of its end, or of "light on" where the record ends in it.
        at: RFC 3339 UTC stamp of that line.
        zone: The zone.
        credited_s: Seconds credited.
        end: How it ended; None where the record ends in it.
        reason: Stop word or words that ended it, or "".
        off_said: Whether "light off" was said, with it or later.
    """

    seq: int
    at: str
    zone: str
    credited_s: float
    end: RunEnd | None
    reason: str
    off_said: bool

    @property
    def early(self) -> bool:
        """Whether something else than "light off" or the lamp ended it: a stop, a cry, a break."""
        return self.end in {None, RunEnd.STOPPED, RunEnd.CRIED, RunEnd.INTERRUPTED}


@dataclass(frozen=True, slots=True)
class StrayAccount:
    """Light outside a zone: no zone is credited with it.

    Attributes:
        seq: Line of "light on".
        at: RFC 3339 UTC stamp of it.
        stage: Where.
        seconds: For how long it may have been on; 0 where it was said that there was none; None where nobody said when
            it went off.
    """

    seq: int
    at: str
    stage: str
    seconds: float | None


class StopKind(StrEnum):
    """What stopped a visit or its light."""

    WORD = "stop-word"
    CRY = "cry"
    BREAK = "light-cut-by-break"
    FINDING = "finding"


class AfterStop(StrEnum):
    """What became of a visit after a stop that set no hold."""

    HELD = "held"
    WENT_ON = "went-on"
    ENDED = "ended-early"
    UNKNOWN = "not-on-record"


@dataclass(frozen=True, slots=True)
class StopAccount:
    """Something that stopped the visit or its light, with what became of it.

    Attributes:
        seq: Line.
        at: RFC 3339 UTC stamp.
        kind: What.
        words: The stop word, or the words of a cry; "" else.
        heard: The utterance, or None.
        stage: Where, or "".
        zone: The zone that was lit or asked about, or "".
        while_lit: Whether light was on.
        run: The run of light that it ended, or None.
        hold: The hold that it set, or None.
        heat: Of a cry, whether it was heat or pain; None where nobody answered, and for other kinds.
        after: What became of it.
        clip: Hash of its sound, or "".
    """

    seq: int
    at: str
    kind: StopKind
    words: str
    heard: Utterance | None
    stage: str
    zone: str
    while_lit: bool
    run: RunAccount | None
    hold: HoldAccount | None
    heat: bool | None
    after: AfterStop
    clip: str


class OverrideOf(StrEnum):
    """What somebody answered for."""

    HOLD = "hold"
    STEP = "step"
    GAPS = "missing-values"
    ZONE = "zone-left-short"
    END = "early-end"


@dataclass(frozen=True, slots=True)
class OverrideAccount:
    """Something that somebody answered for.

    Attributes:
        seq: Line.
        at: RFC 3339 UTC stamp.
        of: What.
        role: Who.
        reason: Identifier of the reason in the file.
        code: Code of the person, where another than the operator answered; else None.
        stage: Where, or "".
        grounds: Why it was held, or None.
        zone: The zone that was left, or "".
        gaps: The readings that are missing.
    """

    seq: int
    at: str
    of: OverrideOf
    role: str
    reason: str
    code: str | None
    stage: str = ""
    grounds: Grounds | None = None
    zone: str = ""
    gaps: tuple[OpenReading, ...] = ()


@dataclass(frozen=True, slots=True)
class ZoneAccount:
    """The light of a zone.

    Attributes:
        zone: Identifier.
        lit_s: Credited seconds.
        possible_s: Seconds for which it may have been lit.
        target_s: Seconds asked for.
        dose_j_cm2: Summed light-on exposure at beam centre, J/cm².
        standing: How it stands to its target.
        runs: Its runs.
    """

    zone: str
    lit_s: float
    possible_s: float
    target_s: float
    dose_j_cm2: float
    standing: ZoneStanding
    runs: tuple[RunAccount, ...]

    @property
    def off_s(self) -> float:
        """Seconds over the target; negative where they are missing."""
        return self.lit_s - self.target_s


@dataclass(frozen=True, slots=True)
class BreakAccount:
    """A time in which the visit did not go on.

    Attributes:
        seq: Line at which it ended, or began where it never did.
        at: RFC 3339 UTC stamp of that line.
        stage: Where.
        seconds: How long, wall clock.
        program_ended: Whether the program had ended meanwhile; else somebody said "wait".
    """

    seq: int
    at: str
    stage: str
    seconds: float
    program_ended: bool


class Attested(StrEnum):
    """Whether somebody vouches for a record as it stands."""

    NOT = "not-attested"
    AMENDED_SINCE = "amended-since"
    ATTESTED = "attested"
