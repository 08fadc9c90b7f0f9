"""Runs of light, how they end, and what one call to the ledger did."""

from dataclasses import dataclass
from enum import StrEnum

from handsfree.model.light import RunEnd

OFF_BY_WORDS = "light off"
"""The reason of a run that "light off" ended, said of a time before it began."""


class LedgerChange(StrEnum):
    """What a call did to the ledger."""

    LIT = "lit"
    LIT_IN_SHADOW = "lit_in_shadow"
    LIT_OFF_MISSED = "lit_off_missed"
    DARKENED = "darkened"
    DARKENED_BY_SOUND = "darkened_by_sound"
    OFF_AGREES = "off_agrees"
    OFF_DIFFERS = "off_differs"
    OFF_AFTER_STOP = "off_after_stop"
    CRIED = "cried"
    STOPPED = "stopped"
    STOPPED_DARK = "stopped_dark"
    STRAP_TAKEN_OFF = "strap_taken_off"
    STRAP_PUT_ON = "strap_put_on"
    INTERRUPTED = "interrupted"
    NOTHING = "nothing"
    BEEP_WHILE_DARK = "beep_while_dark"
    REPEATED = "repeated"
    REFUSED_UNKNOWN_ZONE = "refused_unknown_zone"
    REFUSED_NOT_LIT = "refused_not_lit"
    REFUSED_STALE = "refused_stale"
    REFUSED_TIME = "refused_time"


@dataclass(frozen=True, slots=True)
class LightRun:
    """One stretch of light.

    Attributes:
        zone_id: Where.
        from_s: When "light on" was spoken, or affirmed where it was doubted.
        to_s: Latest moment at which the light may have been on, as far as words and beeps tell.
        known_to_s: Latest moment at which it is known to have been on; at most `to_s`.
        end: How it ended.
        reason: Stop word or finding that ended it, else empty.
        confirmed: Whether "light off" was said after an end by sound, by a cry, or by a stop word.
        possible_from_s: Earliest moment at which it may have been on, where "light on" was doubted; else None.
    """

    zone_id: str
    from_s: float
    to_s: float
    known_to_s: float
    end: RunEnd
    reason: str = ""
    confirmed: bool = False
    possible_from_s: float | None = None

    @property
    def possible_s(self) -> float:
        """Seconds for which it may have been on."""
        return self.to_s - (self.from_s if self.possible_from_s is None else self.possible_from_s)

    @property
    def is_open_ended(self) -> bool:
        """Whether words ended it that do not say that the lamp is off, and nobody has said so since."""
        return self.end in {RunEnd.CRIED, RunEnd.STOPPED} and self.reason != OFF_BY_WORDS and not self.confirmed


@dataclass(frozen=True, slots=True)
class LedgerOutcome:
    """What one call did.

    Attributes:
        happened: Its name.
        zone_id: The zone it is about, or None.
        run: The run that was closed, or None.
        apart_s: How far words and lamp lie apart, seconds; 0 unless they differ.
    """

    happened: LedgerChange
    zone_id: str | None = None
    run: LightRun | None = None
    apart_s: float = 0.0

    @property
    def refused(self) -> bool:
        """Whether nothing was changed because the call was refused."""
        return self.happened.value.startswith("refused")


SOUND_ENDS = frozenset({RunEnd.BEEP_HEARD, RunEnd.FELL_SILENT})
"""Ends that were told by the lamp, not by a person."""
