"""What to say while a zone is lit and after: pure functions over the ledger, called with the session's time.

A caller keeps the time of its last look and asks for the cues since then, so nothing here has to be remembered. The
default times are this project's own choice (common practice, no published source) except where one is named; a device
profile replaces them.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from handsfree.exposure.agreement import Agreement, compare
from handsfree.exposure.ledger import Ledger, Run, RunEnd
from handsfree.exposure.profiles import require_positive


class Cue(StrEnum):
    """Something to be said now."""

    HALF = "half"
    TARGET_REACHED = "target_reached"
    OVERRUN = "overrun"
    WARMTH_DUE = "warmth_due"


class Flag(StrEnum):
    """Something to be kept beside a finished run."""

    UNDER_TARGET = "under_target"
    OVER_TARGET = "over_target"
    END_NOT_HEARD = "end_not_heard"
    INTERRUPTED = "interrupted"
    BEEPS_MISSING = "beeps_missing"


class HeatAction(StrEnum):
    """What an answer about warmth asks for."""

    GO_ON = "go_on"
    LIGHT_OFF_LIFT_INSPECT = "light_off_lift_inspect"
    ASK_AGAIN = "ask_again"


class LateHeat(StrEnum):
    """Where the late heat question stands."""

    NOT_YET = "not_yet"
    DUE = "due"
    OVERDUE = "overdue"


@dataclass(frozen=True, slots=True)
class GuidanceProfile:
    """When to speak.

    Attributes:
        overrun_factor: Credited seconds over target seconds from which a run is too long, above 1.
        warmth_every_s: Longest lit time without an answer about warmth, s.
        late_from_s: Earliest late heat question after the light last went off, s.
        late_to_s: Latest, s. Heat may peak after the source stops (seen in plaster: J Bone Joint Surg Am 2007;89:2369).
        pain_stop: Pain on the scale from 0 to 10 from which the light goes off.
        patient_reports_heat: False for a numb, blocked, sedated or otherwise silent hand: the questions go to the
            clinician's touch, and come twice as often.

    Raises:
        ValueError: A figure is out of range.
    """

    overrun_factor: float = 1.25
    warmth_every_s: float = 10.0
    late_from_s: float = 60.0
    late_to_s: float = 120.0
    pain_stop: int = 1
    patient_reports_heat: bool = True

    def __post_init__(self) -> None:
        require_positive("warmth_every_s", self.warmth_every_s)
        if not isfinite(self.overrun_factor) or self.overrun_factor <= 1:
            raise ValueError(f"overrun_factor is {self.overrun_factor}; it must be above 1")
        if not 0 < self.late_from_s < self.late_to_s:
            raise ValueError("late_from_s must be above 0 and before late_to_s")
        if not 1 <= self.pain_stop <= 10:
            raise ValueError(f"pain_stop is {self.pain_stop}; it must be from 1 to 10")


def _marks(ledger: Ledger, zone_id: str, profile: GuidanceProfile) -> tuple[tuple[Cue, float], ...]:
    target_s = ledger.target_s(zone_id)
    return (
        (Cue.HALF, target_s / 2),
        (Cue.TARGET_REACHED, target_s),
        (Cue.OVERRUN, target_s * profile.overrun_factor),
    )


def cues_between(
    ledger: Ledger, profile: GuidanceProfile, since_s: float, now_s: float, warmth_answered_s: float | None = None
) -> tuple[Cue, ...]:
    """Cues that fell due after `since_s` up to `now_s`, in the order in which they are to be said.

    Args:
        ledger: The ledger; while dark nothing is due.
        profile: When to speak.
        since_s: Session time of the last look.
        now_s: Session time now.
        warmth_answered_s: When warmth was last answered, or None.
    """
    zone_id = ledger.lit_zone
    if zone_id is None or now_s <= since_s:
        return ()
    before_s, after_s = ledger.lit_s(zone_id, since_s), ledger.lit_s(zone_id, now_s)
    cues = [cue for cue, mark_s in _marks(ledger, zone_id, profile) if before_s < mark_s <= after_s]
    # When one late look passes several marks only the last is worth saying.
    cues = cues[-1:]
    if since_s < _warmth_due_s(ledger, profile, now_s, warmth_answered_s) <= now_s:
        cues.append(Cue.WARMTH_DUE)
    return tuple(cues)


def next_cue_s(
    ledger: Ledger, profile: GuidanceProfile, now_s: float, warmth_answered_s: float | None = None
) -> float | None:
    """Session time of the next cue if nothing is said before; None while dark. Arguments as in `cues_between`."""
    zone_id = ledger.lit_zone
    if zone_id is None:
        return None
    due = [_warmth_due_s(ledger, profile, now_s, warmth_answered_s)]
    shaded = ledger.strap_is_on and any(z.id == zone_id and z.strap_shadowed for z in ledger.zones)
    if not shaded:
        lit_s = ledger.lit_s(zone_id, now_s)
        due += [now_s + mark_s - lit_s for _, mark_s in _marks(ledger, zone_id, profile)]
    return min((at_s for at_s in due if at_s > now_s), default=None)


def _warmth_due_s(ledger: Ledger, profile: GuidanceProfile, now_s: float, warmth_answered_s: float | None) -> float:
    started_s = now_s - ledger.running_s(now_s)
    every_s = profile.warmth_every_s if profile.patient_reports_heat else profile.warmth_every_s / 2
    return max(started_s, warmth_answered_s or started_s) + every_s


def flags_of(ledger: Ledger, run: Run, profile: GuidanceProfile) -> tuple[Flag, ...]:
    """Flags for a run that was just closed, judged by all credited seconds of its zone."""
    flags: list[Flag] = []
    if run.end is RunEnd.OFF_MISSED:
        flags.append(Flag.END_NOT_HEARD)
    if run.end is RunEnd.INTERRUPTED:
        flags.append(Flag.INTERRUPTED)
    if compare(run, ledger.beeps_s, ledger.beep_every_s) is Agreement.BEEPS_MISSING:
        flags.append(Flag.BEEPS_MISSING)
    lit_s, target_s = ledger.lit_s(run.zone_id), ledger.target_s(run.zone_id)
    if lit_s < target_s:
        flags.append(Flag.UNDER_TARGET)
    elif lit_s >= target_s * profile.overrun_factor:
        flags.append(Flag.OVER_TARGET)
    return tuple(flags)


def action_for(word: str) -> HeatAction:
    """What a word about warmth asks for. Only the closed words count; anything else is asked again."""
    if word in {"cool", "warm"}:
        return HeatAction.GO_ON
    if word in {"hot", "painful"}:
        return HeatAction.LIGHT_OFF_LIFT_INSPECT
    return HeatAction.ASK_AGAIN


def action_for_pain(score: int, profile: GuidanceProfile) -> HeatAction:
    """What a pain score on the numeric rating scale 0 … 10 asks for; outside the scale it is asked again."""
    if not 0 <= score <= 10:
        return HeatAction.ASK_AGAIN
    return HeatAction.LIGHT_OFF_LIFT_INSPECT if score >= profile.pain_stop else HeatAction.GO_ON


def warmth_question(profile: GuidanceProfile) -> str:
    """The question about warmth, put to the patient, or to the clinician where the patient cannot report heat."""
    if profile.patient_reports_heat:
        return "Ask the patient. Cool, warm, hot or painful?"
    return "The patient cannot report heat. Touch the zone. Cool, warm or hot?"


def warmth_cue(profile: GuidanceProfile) -> str:
    """What is said while lit when warmth was not answered for too long."""
    return "Warmth?" if profile.patient_reports_heat else "No report. Light off, and touch."


def late_question(profile: GuidanceProfile) -> str:
    """The question about late heat, a while after the last light."""
    if profile.patient_reports_heat:
        return "Heat can come late. Ask the patient: cool, warm, hot or painful?"
    return "Heat can come late. Touch every zone: cool, warm or hot?"


def late_heat(ledger: Ledger, profile: GuidanceProfile, now_s: float) -> LateHeat | None:
    """Where the late heat question stands; None while lit or before the first run."""
    if ledger.is_lit or not ledger.runs:
        return None
    dark_s = now_s - max(run.to_s for run in ledger.runs)
    if dark_s < profile.late_from_s:
        return LateHeat.NOT_YET
    return LateHeat.DUE if dark_s <= profile.late_to_s else LateHeat.OVERDUE
