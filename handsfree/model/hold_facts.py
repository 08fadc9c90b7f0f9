"""Facts about what stops a visit, and who answered for it."""

from dataclasses import dataclass
from typing import Literal

from handsfree.model.fact_base import Fact, Utterance
from handsfree.model.open_items import OpenReading
from handsfree.model.reasons import Grounds

HoldKind = Literal["red", "stop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldSet(Fact):
    """The visit is held until a person answers for it.

    Attributes:
        hold: "red" (lifted by role and reason only) or "stop" (lifted by another answer too).
        stage: Where.
        grounds: Why.
    """

    hold: HoldKind
    stage: str
    grounds: Grounds
    kind: Literal["hold_set"] = "hold_set"


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldLifted(Fact):
    """A hold was lifted.

    Attributes:
        hold: Its kind.
        grounds: Why it had been set.
        role: Who lifted it; None where its cause went away.
        reason: Identifier of the reason in the file; "answered_again", "misheard" or "held_against_another_value"
            where its cause went away.
        code: Code of the person, where another than the operator answered; else None.
        heard: The words that settled it, or None.
    """

    hold: HoldKind
    grounds: Grounds
    role: str | None
    reason: str
    code: str | None
    heard: Utterance | None
    kind: Literal["hold_lifted"] = "hold_lifted"


@dataclass(frozen=True, slots=True, kw_only=True)
class OverrideDropped(Fact):
    """An override that was begun was taken back.

    Attributes:
        of: What it was of.
    """

    of: Literal["hold", "gaps", "zone", "end"]
    kind: Literal["override_dropped"] = "override_dropped"


@dataclass(frozen=True, slots=True, kw_only=True)
class GapsAccepted(Fact):
    """Somebody answered for readings without a value.

    Attributes:
        gaps: The readings.
        role: Who.
        reason: Identifier of the reason in the file.
        code: Code of the person, where another than the operator answered; else None.
        heard: The words that settled it.
    """

    gaps: tuple[OpenReading, ...]
    role: str
    reason: str
    code: str | None
    heard: Utterance
    kind: Literal["gaps_accepted"] = "gaps_accepted"


@dataclass(frozen=True, slots=True, kw_only=True)
class StopWordHeard(Fact):
    """A stop word was heard and acted upon.

    Attributes:
        word: Which.
        while_lit: Whether it ended light, in a zone or outside one.
        mode: What the session was doing.
        heard: The words.
    """

    word: Literal["stop", "hot", "pain"]
    while_lit: bool
    mode: str
    heard: Utterance
    kind: Literal["stop_word_heard"] = "stop_word_heard"


@dataclass(frozen=True, slots=True, kw_only=True)
class PainScored(Fact):
    """A pain score was given as an answer about warmth.

    Attributes:
        score: On the numeric rating scale, 0 … 10.
        zone: The zone, or None for the late question.
        late: Whether it answers the late question.
        heard: The words.
    """

    score: int
    zone: str | None
    late: bool
    heard: Utterance
    kind: Literal["pain_scored"] = "pain_scored"


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionReconfirmed(Fact):
    """After an interruption somebody confirmed position and warmth."""

    heard: Utterance
    kind: Literal["position_reconfirmed"] = "position_reconfirmed"


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldKept(Fact):
    """A value that had set a red hold was said anew, and had not been misheard: the hold stays.

    Attributes:
        grounds: Why it is held.
        heard: The words that settled it.
    """

    grounds: Grounds
    heard: Utterance
    kind: Literal["hold_kept"] = "hold_kept"
