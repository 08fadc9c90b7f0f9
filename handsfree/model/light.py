"""Names of what happens to light: how runs end, what is flagged, how lamp and words go together."""

from enum import StrEnum


class RunEnd(StrEnum):
    """How a run ended. `BEEP_HEARD` and `FELL_SILENT` are by the lamp's sound alone."""

    OFF_SAID = "off_said"
    BEEP_HEARD = "beep_heard"
    FELL_SILENT = "fell_silent"
    STOPPED = "stopped"
    OFF_MISSED = "off_missed"
    INTERRUPTED = "interrupted"


class LightFlag(StrEnum):
    """Something to be kept beside a finished run."""

    UNDER_TARGET = "under_target"
    OVER_TARGET = "over_target"
    END_NOT_HEARD = "end_not_heard"
    INTERRUPTED = "interrupted"
    BEEPS_MISSING = "beeps_missing"
    BEEP_AFTER_OFF = "beep_after_off"


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
    OVERRUN = "overrun"
    WARMTH_DUE = "warmth_due"


class Warmth(StrEnum):
    """Answers about warmth that let the work go on; "hot" and "painful" are stop words."""

    COOL = "cool"
    WARM = "warm"
