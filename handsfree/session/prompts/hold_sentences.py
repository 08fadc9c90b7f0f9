"""The sentences about what holds a visit, who answers for it, and how it is closed. See `sentence_codes`."""

from dataclasses import dataclass

from handsfree.model.open_items import OpenItem
from handsfree.model.reasons import Grounds
from handsfree.session.prompts.fixed import Consequence, WayOn
from handsfree.session.prompts.sentence_codes import Sentence


@dataclass(frozen=True, slots=True)
class WhichRole(Sentence):
    """Who answers for it."""

    roles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WhichReason(Sentence):
    """Why."""

    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ConfirmOverride(Sentence):
    """A hold is to be overridden: why it holds, what comes of lifting it, who answers for it, and why."""

    grounds: Grounds
    consequence: Consequence
    role: str
    reason: str


@dataclass(frozen=True, slots=True)
class ConfirmLeave(Sentence):
    """A zone is to be left short of its light."""

    label: str
    role: str
    reason: str


@dataclass(frozen=True, slots=True)
class ConfirmGaps(Sentence):
    """Missing values are to be accepted."""

    role: str
    reason: str


@dataclass(frozen=True, slots=True)
class ConfirmEnd(Sentence):
    """The visit is to be ended early."""

    role: str
    reason: str


@dataclass(frozen=True, slots=True)
class WaysOn(Sentence):
    """Every way on from a hold."""

    ways: tuple[WayOn, ...]


@dataclass(frozen=True, slots=True)
class SaidWhileHeld(Sentence):
    """An ordinary answer was said while the visit is held: every way on."""

    ways: tuple[WayOn, ...]


@dataclass(frozen=True, slots=True)
class ThenWays(Sentence):
    """Every way on from a hold, after what is to be done first."""

    ways: tuple[WayOn, ...]


@dataclass(frozen=True, slots=True)
class WasMisheard(Sentence):
    """A value that set a hold was said anew: was the first one misheard?"""

    label: str
    was: str
    now: str


@dataclass(frozen=True, slots=True)
class WasNowIs(Sentence):
    """A value that set a hold, and what it is now; the hold stays."""

    label: str
    was: str
    now: str


@dataclass(frozen=True, slots=True)
class HeldFor(Sentence):
    """Every reason why the visit is held."""

    grounds: tuple[Grounds, ...]


@dataclass(frozen=True, slots=True)
class HeldOnSide(Sentence):
    """Every reason why the visit is held, at a step of one side."""

    side: str
    grounds: tuple[Grounds, ...]


@dataclass(frozen=True, slots=True)
class HeldAtZone(Sentence):
    """Every reason why the visit is held, with the zone that was lit."""

    zone: str
    grounds: tuple[Grounds, ...]


@dataclass(frozen=True, slots=True)
class OverriddenSoFar(Sentence):
    """Before closing: what was lifted by an override."""

    grounds: tuple[Grounds, ...]


@dataclass(frozen=True, slots=True)
class GapsLeft(Sentence):
    """Before closing: how many missing values somebody accepted."""

    count: int


@dataclass(frozen=True, slots=True)
class FlaggedSoFar(Sentence):
    """Before closing: what is flagged."""

    grounds: tuple[Grounds, ...]


@dataclass(frozen=True, slots=True)
class OverTarget(Sentence):
    """Before closing: zones well over their seconds."""

    zones: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UnderTarget(Sentence):
    """Before closing: zones that had light, and well under their seconds."""

    zones: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StepsLeft(Sentence):
    """Before an early end: how many steps of the visit are not done."""

    count: int


@dataclass(frozen=True, slots=True)
class LeftOpen(Sentence):
    """Before closing: what stays open."""

    items: tuple[OpenItem, ...]


@dataclass(frozen=True, slots=True)
class HeldInStatus(Sentence):
    """What holds the visit, in a status."""

    grounds: tuple[Grounds, ...]
