"""What to say while a zone is lit and after: pure functions over the ledger, called with the session's time.

A caller keeps the time of its last look and asks for the cues since then, so nothing here has to be remembered. The
default times are this project's own choice (common practice, no published source); a device profile replaces them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import floor, inf, isfinite
from statistics import median
from typing import Self

from handsfree.exposure.agreement import compare
from handsfree.exposure.ledger import Ledger
from handsfree.exposure.profiles import require_positive
from handsfree.exposure.runs import SOUND_ENDS, LightRun
from handsfree.model.light import Cue, LampAgreement, LightFlag, RunEnd, ZoneStanding


@dataclass(frozen=True, slots=True)
class GuidanceProfile:
    """When to speak, and what to ask. A device profile replaces any of it.

    Attributes:
        tolerance_share: Part of the target that may be missing to it: a run that ends a moment early needs no second
            one, 0 … 0.1.
        overrun_factor: Credited seconds over target seconds from which a run is too long, above 1.
        ceiling_factor: Lit seconds over target seconds at which the ceiling of exposure lies: from there on the light
            is to be taken away, at least `overrun_factor`; None: half over the target, or that factor if it is more.
        repeat_every_s: Seconds from one prompt to end the light to the next, from the target on, 6 … 10. While the tool
            speaks it hears little: every 3 s, a synthetic person on a sound card made of software was not heard in five
            tries, every 6 s at once (`tests/live`).
        warmth_every_s: Longest lit time without an answer about warmth, s.
        cue_lead_s: How long before the target the cue to put the light off begins as long as no run of the visit has
            shown how fast people are, s: less than it takes to say, so that whoever answers at once is not short.
        cue_lead_most_s: The longest lead that runs of a visit may lead to, s, from `cue_lead_s` to 3; None: 2, or
            `cue_lead_s` if it is more.
        pain_stop: Pain on the scale from 0 to 10 from which the light goes off.
        patient_reports_heat: False for a numb, blocked, sedated or otherwise silent hand: the questions go to the
            clinician's touch.
        silent_every_s: As `warmth_every_s`, for a hand that reports nothing; at most that.
        warmth_again_s: Seconds in which nobody speaks until an open question about warmth is asked again, 10 … 120:
            time to ask, touch and answer. As long as it is open it is asked again, and keeps nobody from an end.
        silent_sign: What the clinician does instead of asking, in the profile's words; "" for the tool's own.

    Raises:
        ValueError: A figure is out of range.
    """

    tolerance_share: float = 0.05
    overrun_factor: float = 1.25
    ceiling_factor: float | None = None
    repeat_every_s: float = 6.0
    warmth_every_s: float = 10.0
    cue_lead_s: float = 0.5
    cue_lead_most_s: float | None = None
    pain_stop: int = 1
    patient_reports_heat: bool = True
    silent_every_s: float = 5.0
    warmth_again_s: float = 20.0
    silent_sign: str = ""

    def __post_init__(self) -> None:
        require_positive("warmth_every_s", self.warmth_every_s)
        require_positive("silent_every_s", self.silent_every_s)
        if self.silent_every_s > self.warmth_every_s:
            raise ValueError(
                f"silent_every_s is {self.silent_every_s:g}; a hand that reports nothing is not touched less often "
                f"than one is asked (warmth_every_s {self.warmth_every_s:g})"
            )
        if not 10 <= self.warmth_again_s <= 120:
            raise ValueError(
                f"warmth_again_s is {self.warmth_again_s}; it must be from 10 to 120, or it talks over answers"
            )
        if not 0 <= self.tolerance_share <= 0.1:
            raise ValueError(f"tolerance_share is {self.tolerance_share}; it must be from 0 to 0.1")
        if not isfinite(self.overrun_factor) or self.overrun_factor <= 1:
            raise ValueError(f"overrun_factor is {self.overrun_factor}; it must be above 1")
        if not isfinite(self.ceiling) or self.ceiling < self.overrun_factor:
            raise ValueError(
                f"ceiling_factor is {self.ceiling_factor}; it must be at least overrun_factor ({self.overrun_factor:g})"
            )
        if not 6 <= self.repeat_every_s <= 10:
            raise ValueError(f"repeat_every_s is {self.repeat_every_s}; it must be from 6 to 10, or no answer is heard")
        if not 0 <= self.cue_lead_s <= 3:
            raise ValueError(f"cue_lead_s is {self.cue_lead_s}; it must be from 0 to 3")
        if not self.cue_lead_s <= self.most_lead_s <= 3:
            raise ValueError(f"cue_lead_most_s is {self.cue_lead_most_s}; it must be from cue_lead_s to 3")
        if not 1 <= self.pain_stop <= 10:
            raise ValueError(f"pain_stop is {self.pain_stop}; it must be from 1 to 10")

    @property
    def ceiling(self) -> float:
        """`ceiling_factor` as it counts."""
        return max(1.5, self.overrun_factor) if self.ceiling_factor is None else self.ceiling_factor

    @property
    def most_lead_s(self) -> float:
        """`cue_lead_most_s` as it counts, s."""
        return max(2.0, self.cue_lead_s) if self.cue_lead_most_s is None else self.cue_lead_most_s

    def led_by(self, reactions_s: Sequence[float]) -> Self:
        """The profile with the lead that people of this visit ask for: the median of their reactions, within bounds.

        Args:
            reactions_s: Seconds from the cue to put the light off to the word, one for each run that it ended.
        """
        if not reactions_s:
            return self
        return replace(self, cue_lead_s=min(max(median(reactions_s), 0.0), self.most_lead_s))


@dataclass(frozen=True, slots=True)
class _Mark:
    """When a cue falls due.

    Attributes:
        cue: It.
        at_s: Seconds of light of the zone: credited ones, or exposed ones for the ceiling.
        every_s: Seconds from one to the next where it is repeated; 0 where it comes once.
        until_s: Where its repeats end.
        exposed: Whether seconds count that are possible only, or in the strap's shadow: they heat all the same.
    """

    cue: Cue
    at_s: float
    every_s: float = 0.0
    until_s: float = inf
    exposed: bool = False

    def fell_due(self, before_s: float, after_s: float) -> bool:
        """Whether it fell due after `before_s` up to `after_s`."""
        next_s = self.next_s(before_s)
        return next_s is not None and next_s <= after_s

    def next_s(self, now_s: float) -> float | None:
        """When it is due next after `now_s`, or None."""
        if now_s < self.at_s:
            return self.at_s if self.at_s < self.until_s else None
        if not self.every_s:
            return None
        next_s = self.at_s + (floor((now_s - self.at_s) / self.every_s) + 1) * self.every_s
        return next_s if next_s < self.until_s else None


_ENDINGS = (Cue.TARGET_REACHED, Cue.TIME_OVER, Cue.TAKE_AWAY)
"""What ends the light, each louder than the one before."""
_AT_ONCE_S = 0.01
"""Seconds into a run at which words are due that are due from its beginning: the first look at it finds them."""


def _marks(ledger: Ledger, zone_id: str, profile: GuidanceProfile) -> tuple[_Mark, ...]:
    target_s, spots, every_s = ledger.target_s(zone_id), ledger.spots(zone_id), profile.repeat_every_s
    passes = ledger.passes(zone_id)
    spot_s = target_s / (passes * spots)
    # Where the light moves on within the zone, each move is what matters; else the half of what is asked for now.
    between = (
        [_Mark(Cue.NEXT_SPOT, n * spot_s) for n in range(1, passes * spots) if n % spots]
        if spots > 1
        else [_Mark(Cue.HALF, target_s - spot_s / 2)]
    )
    off_s = max(target_s - spot_s / 2, target_s - profile.cue_lead_s)
    lit_s = ledger.lit_s(zone_id)
    if lit_s >= off_s:
        # A run that begins this close to the target has no time for a lead.
        off_s = target_s
    # A run that begins at the target or beyond it is over from its beginning, and is told so at once.
    over_s = target_s + every_s if lit_s < target_s else lit_s + _AT_ONCE_S
    ceiling_s = max(target_s * profile.ceiling, lit_s + _AT_ONCE_S)
    return (
        *between,
        _Mark(Cue.TARGET_REACHED, off_s),
        _Mark(Cue.TIME_OVER, over_s, every_s, ceiling_s),
        _Mark(Cue.OVERRUN, target_s * profile.overrun_factor),
        _Mark(Cue.TAKE_AWAY, ceiling_s, every_s, exposed=True),
    )


def _seconds(ledger: Ledger, zone_id: str, mark: _Mark, now_s: float) -> float:
    """The seconds that a mark is measured in."""
    return ledger.lit_s(zone_id) + ledger.exposed_s(now_s) if mark.exposed else ledger.lit_s(zone_id, now_s)


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
    cues = [
        mark.cue
        for mark in _marks(ledger, zone_id, profile)
        if mark.fell_due(_seconds(ledger, zone_id, mark, since_s), _seconds(ledger, zone_id, mark, now_s))
    ]
    # When one late look passes several marks only the last is worth saying, but never without the end of the light.
    ending = [cue for cue in cues if cue in _ENDINGS][-1:]
    cues = [*ending, *(cue for cue in cues if cue is Cue.OVERRUN)] if ending else cues[-1:]
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
    for mark in _marks(ledger, zone_id, profile):
        if mark.exposed or not shaded:
            lit_s = _seconds(ledger, zone_id, mark, now_s)
            at_s = mark.next_s(lit_s)
            due += [now_s + at_s - lit_s] if at_s is not None else []
    return min((at_s for at_s in due if at_s > now_s), default=None)


def _warmth_due_s(ledger: Ledger, profile: GuidanceProfile, now_s: float, warmth_answered_s: float | None) -> float:
    started_s = now_s - ledger.running_s(now_s)
    every_s = profile.warmth_every_s if profile.patient_reports_heat else profile.silent_every_s
    return max(started_s, warmth_answered_s or started_s) + every_s


def flags_of(ledger: Ledger, run: LightRun) -> tuple[LightFlag, ...]:
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
    match ledger.standing(run.zone_id):
        case ZoneStanding.SHORT:
            flags.append(LightFlag.UNDER_TARGET)
        case ZoneStanding.OVER:
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
