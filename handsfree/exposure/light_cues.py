"""What to say while a zone is lit and after: pure functions over the ledger, called with the session's time.

A caller keeps the time of its last look and asks for the cues since then, so nothing here has to be remembered. The
default times are this project's own choice (common practice, no published source); a device profile replaces them.
"""

from dataclasses import dataclass
from math import isfinite

from handsfree.exposure.agreement import compare
from handsfree.exposure.ledger import Ledger
from handsfree.exposure.profiles import require_positive
from handsfree.exposure.runs import SOUND_ENDS, LightRun
from handsfree.model.light import Cue, LampAgreement, LightFlag, RunEnd


@dataclass(frozen=True, slots=True)
class GuidanceProfile:
    """When to speak, and what to ask. A device profile replaces any of it.

    Attributes:
        overrun_factor: Credited seconds over target seconds from which a run is too long, above 1.
        warmth_every_s: Longest lit time without an answer about warmth, s.
        cue_lead_s: How long before the target the cue to put the light off begins, s: less than it takes to say,
            so that whoever answers at once is not short. A voice that waits for the cue's end is a second late.
        pain_stop: Pain on the scale from 0 to 10 from which the light goes off.
        patient_reports_heat: False for a numb, blocked, sedated or otherwise silent hand: the questions go to the
            clinician's touch.
        silent_every_s: As `warmth_every_s`, for a hand that reports nothing; at most that.
        silent_sign: What the clinician does instead of asking, in the profile's words; "" for the tool's own.

    Raises:
        ValueError: A figure is out of range.
    """

    overrun_factor: float = 1.25
    warmth_every_s: float = 10.0
    cue_lead_s: float = 0.5
    pain_stop: int = 1
    patient_reports_heat: bool = True
    silent_every_s: float = 5.0
    silent_sign: str = ""

    def __post_init__(self) -> None:
        require_positive("warmth_every_s", self.warmth_every_s)
        require_positive("silent_every_s", self.silent_every_s)
        if self.silent_every_s > self.warmth_every_s:
            raise ValueError(
                f"silent_every_s is {self.silent_every_s:g}; a hand that reports nothing is not touched less often "
                f"than one is asked (warmth_every_s {self.warmth_every_s:g})"
            )
        if not isfinite(self.overrun_factor) or self.overrun_factor <= 1:
            raise ValueError(f"overrun_factor is {self.overrun_factor}; it must be above 1")
        if not 0 <= self.cue_lead_s <= 3:
            raise ValueError(f"cue_lead_s is {self.cue_lead_s}; it must be from 0 to 3")
        if not 1 <= self.pain_stop <= 10:
            raise ValueError(f"pain_stop is {self.pain_stop}; it must be from 1 to 10")


def _marks(ledger: Ledger, zone_id: str, profile: GuidanceProfile) -> tuple[tuple[Cue, float], ...]:
    target_s, spots = ledger.target_s(zone_id), ledger.spots(zone_id)
    # Where the light moves on within the zone, each move is what matters; else the half.
    between = (
        ((Cue.NEXT_SPOT, target_s * n / spots) for n in range(1, spots)) if spots > 1 else [(Cue.HALF, target_s / 2)]
    )
    off_s = max(target_s * (spots - 0.5) / spots, target_s - profile.cue_lead_s)
    if ledger.lit_s(zone_id) >= off_s:
        # A run that begins this close to the target has no time for a lead.
        off_s = target_s
    return (
        *between,
        (Cue.TARGET_REACHED, off_s),
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
    # When one late look passes several marks only the last is worth saying, but never without the end of the light.
    cues = cues[cues.index(Cue.TARGET_REACHED) :] if Cue.TARGET_REACHED in cues else cues[-1:]
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
    every_s = profile.warmth_every_s if profile.patient_reports_heat else profile.silent_every_s
    return max(started_s, warmth_answered_s or started_s) + every_s


def flags_of(ledger: Ledger, run: LightRun, profile: GuidanceProfile) -> tuple[LightFlag, ...]:
    """Flags for a run that was just closed, judged by all credited seconds of its zone."""
    flags: list[LightFlag] = []
    if run.end is RunEnd.OFF_MISSED:
        flags.append(LightFlag.END_NOT_HEARD)
    if run.end is RunEnd.INTERRUPTED:
        flags.append(LightFlag.INTERRUPTED)
    match beeps_beside(ledger, run):
        case LampAgreement.BEEPS_MISSING:
            flags.append(LightFlag.BEEPS_MISSING)
        case LampAgreement.BEEP_AFTER_OFF:
            flags.append(LightFlag.BEEP_AFTER_OFF)
    lit_s, target_s = ledger.lit_s(run.zone_id), ledger.target_s(run.zone_id)
    if lit_s < target_s:
        flags.append(LightFlag.UNDER_TARGET)
    elif lit_s >= target_s * profile.overrun_factor:
        flags.append(LightFlag.OVER_TARGET)
    return tuple(flags)


def beeps_beside(ledger: Ledger, run: LightRun) -> LampAgreement:
    """How a run that was just closed goes together with the lamp's beeps.

    Not judged where it was ended by sound. As long as no beep was heard at all, none is missing: the lamp may be too
    far from the microphone, or there is no microphone, and that says nothing about the words.
    """
    if run.end in SOUND_ENDS or ledger.beep_every_s is None:
        return LampAgreement.NOT_JUDGED
    return compare(run, ledger.beeps_s, ledger.beep_every_s) if ledger.beeps_s else LampAgreement.NOT_HEARD


def pain_stops(score: int, profile: GuidanceProfile) -> bool:
    """Whether a pain score on the numeric rating scale 0 … 10 puts the light off."""
    return score >= profile.pain_stop
