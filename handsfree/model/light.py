"""Names of what happens to light: how runs end, what is flagged, how lamp and words go together."""

from enum import StrEnum


class RunEnd(StrEnum):
    """How a run ended. `BEEP_HEARD` and `FELL_SILENT` are by the lamp's sound alone."""

    OFF_SAID = "off_said"
    BEEP_HEARD = "beep_heard"
    FELL_SILENT = "fell_silent"
    STOPPED = "stopped"
    OFF_MISSED = "off_missed"
    CRIED = "cried"
    INTERRUPTED = "interrupted"


class LightFlag(StrEnum):
    """Something to be kept beside a finished run."""

    UNDER_TARGET = "under_target"
    OVER_TARGET = "over_target"
    END_NOT_HEARD = "end_not_heard"
    INTERRUPTED = "interrupted"
    BEEPS_MISSING = "beeps_missing"
    BEEP_AFTER_OFF = "beep_after_off"


class ZoneStanding(StrEnum):
    """How the credited seconds of a zone stand to its target."""

    SHORT = "short"
    REACHED = "reached"
    OVER = "over"


def standing_of(lit_s: float, target_s: float, tolerance_s: float | None, over_from_s: float | None) -> ZoneStanding:
    """How a zone stands: judged in whole milliseconds, so that session, record and exports agree.

    Args:
        lit_s: Credited seconds.
        target_s: Seconds asked for.
        tolerance_s: Seconds that may be missing; None: not stated, none may.
        over_from_s: Seconds from which it is over its target; None: not stated.
    """
    lit_s = round(lit_s, 3)
    if lit_s < round(target_s - (tolerance_s or 0.0), 3):
        return ZoneStanding.SHORT
    if over_from_s is not None and lit_s >= round(over_from_s, 3):
        return ZoneStanding.OVER
    return ZoneStanding.REACHED


class LampAgreement(StrEnum):
    """How the spoken end of a run and the lamp's beeps go together."""

    AGREES = "agrees"
    BEEP_AFTER_OFF = "beep_after_off"
    BEEPS_MISSING = "beeps_missing"
    NOT_HEARD = "not_heard"
    NOT_JUDGED = "not_judged"


class LampDisagreement(StrEnum):
    """A disagreement of lamp and words that was named; none is ever settled by the tool."""

    BEEPS_MISSING = "beeps_missing"
    BEEP_AFTER_OFF = "beep_after_off"
    WORDS_APART = "words_apart"


class Cue(StrEnum):
    """Something to be said while lit."""

    HALF = "half"
    NEXT_SPOT = "next_spot"
    TARGET_REACHED = "target_reached"
    TIME_OVER = "time_over"
    OVERRUN = "overrun"
    TAKE_AWAY = "take_away"
    WARMTH_DUE = "warmth_due"


class Warmth(StrEnum):
    """Answers about warmth that let the work go on; "hot" and "painful" are stop words."""

    COOL = "cool"
    WARM = "warm"
