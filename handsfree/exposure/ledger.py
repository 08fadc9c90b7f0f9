"""The exposure ledger: which zone was lit, for how long, and what may be credited.

Times are the session times at which words were *spoken*, in seconds. Two bounds are kept apart: credited seconds (never
more than is known to have been lit) decide whether a zone has its light; possible seconds (never less) count for heat.
Runs are summed; gaps count for nothing. The total is called "summed light-on exposure at beam centre".

One outcome for each odd case:

=============================  ==========================================================================
late recognition               the spoken time counts, not the time of arrival
"light on" in doubt            credited from its affirmation, possible from the words that were doubted
"light on" twice, same zone    within `REPEAT_S` ignored; later, the first run's end was missed (next line)
"light off" missed             run closed when the next light goes on, credited up to the lamp's last beep in it,
                               or nothing where none was heard; all of it is possible time
next zone, wait while lit      the light is still on: the session refuses them, nothing changes here
"light off" while dark         refused; an earlier "light on" that arrives after it is refused as stale
stop word                      ends the run when it was spoken; never refused
cry                            what may be one ends the run: credited up to where the words began, possible up to where
                               they ended, or to a "light off" that follows
crash                          lit up to the last heartbeat, marked interrupted
strap zone                     only the part of a run after "strap off" is credited
two words lost in a row        "light off" and the next "light on": the run goes on to the next word; cues guard it
beep while dark                later than `BEEP_TOLERANCE_S` after "light off" it contradicts the words: named, and
                               nothing is counted by it
end by sound                   where the profile says so: a beep ends the run when it begins; or the beeps cease, then
                               credited to the last one, possible up to when the next was due. "light off" said
                               later is set beside it; where they differ, credited to the earlier, possible to the later
=============================  ==========================================================================
"""

from dataclasses import dataclass, replace
from math import isfinite

from handsfree.exposure.profiles import EndMark, ZoneProfile, require_positive
from handsfree.exposure.runs import SOUND_ENDS, LedgerChange, LedgerOutcome, LightRun
from handsfree.exposure.strap import StrapTimes
from handsfree.model.light import RunEnd, ZoneStanding, standing_of

REPEAT_S = 2.0
"""A second "light on" for the lit zone within this many seconds is the same one heard twice. Chosen here, no source."""

BEEP_TOLERANCE_S = 1.0
"""How far words and the lamp's beeps may be apart. Chosen here, no source."""

EXPOSURE_LABEL = "summed light-on exposure at beam centre"


@dataclass(frozen=True, slots=True)
class _Lit:
    zone_id: str
    from_s: float
    last_beat_s: float
    last_tone_s: float
    possible_from_s: float | None = None


class Ledger:
    """Sums light by zone. Same calls, same ledger.

    Args:
        zones: Zones in the order of work, at least one, identifiers unique.
        irradiance_mw_cm2: Measured irradiance at beam centre at the working distance, mW/cm².
        beep_every_s: Seconds from one beep of the lamp to the next while lit, or None where it has none or it is not
            known; then missing beeps are not judged.
        ends_by: How the lamp's sound ends a run without words, or None where words alone do.
        tolerance_share: Part of a zone's target that may be missing to it, 0 or more.
        over_factor: Credited over target seconds from which a zone is over its target, or None where none is.

    Raises:
        ValueError: No zone, a repeated identifier, or a figure that is not above 0.
    """

    def __init__(
        self,
        zones: tuple[ZoneProfile, ...],
        irradiance_mw_cm2: float,
        beep_every_s: float | None = None,
        ends_by: EndMark | None = None,
        tolerance_share: float = 0.0,
        over_factor: float | None = None,
    ) -> None:
        if not zones:
            raise ValueError("a ledger needs at least one zone")
        self._zones = {zone.id: zone for zone in zones}
        if len(self._zones) != len(zones):
            raise ValueError("zone identifiers must be unique")
        require_positive("irradiance_mw_cm2", irradiance_mw_cm2)
        if beep_every_s is not None:
            require_positive("beep_every_s", beep_every_s)
        self._irradiance_mw_cm2 = irradiance_mw_cm2
        self._passes = dict.fromkeys(self._zones, 1)
        self._beep_every_s = beep_every_s
        self._ends_by = ends_by
        self._tolerance_share = tolerance_share
        self._over_factor = over_factor
        self._beeps_s: list[float] = []
        self._runs: list[LightRun] = []
        self._lit: _Lit | None = None
        self._dark_since_s = float("-inf")
        self._strap_times = StrapTimes()

    @property
    def zones(self) -> tuple[ZoneProfile, ...]:
        """All zones in the order of work."""
        return tuple(self._zones.values())

    @property
    def irradiance_mw_cm2(self) -> float:
        """Irradiance at beam centre, mW/cm²."""
        return self._irradiance_mw_cm2

    @property
    def beep_every_s(self) -> float | None:
        """Seconds from beep to beep while lit, or None."""
        return self._beep_every_s

    @property
    def beeps_s(self) -> tuple[float, ...]:
        """Session times of the beeps that were heard while lit."""
        return tuple(self._beeps_s)

    @property
    def silence_due_s(self) -> float | None:
        """When the lit run ends by silence if no beep is heard before; None where silence ends nothing.

        A run in which no beep was heard yet is not ended: then the lamp may just not be heard.
        """
        if self._ends_by is not EndMark.SILENCE or self._beep_every_s is None or self._lit is None:
            return None
        if self._lit.last_tone_s <= self._lit.from_s:
            return None
        return self._lit.last_tone_s + self._beep_every_s + BEEP_TOLERANCE_S

    @property
    def is_lit(self) -> bool:
        """Whether the light is on as far as known."""
        return self._lit is not None

    @property
    def lit_zone(self) -> str | None:
        """Identifier of the lit zone, or None."""
        return self._lit.zone_id if self._lit else None

    @property
    def runs(self) -> tuple[LightRun, ...]:
        """Closed runs in the order in which they were closed."""
        return tuple(self._runs)

    @property
    def strap_is_on(self) -> bool:
        """Whether the strap is on as far as said; on until the first "strap off"."""
        return self._strap_times.is_on

    def running_s(self, now_s: float) -> float:
        """Seconds since "light on" was spoken for the lit zone; 0 while dark."""
        return max(0.0, now_s - self._lit.from_s) if self._lit else 0.0

    def exposed_s(self, now_s: float) -> float:
        """Seconds for which the lit zone may have been lit in this run; 0 while dark."""
        if self._lit is None:
            return 0.0
        from_s = self._lit.from_s if self._lit.possible_from_s is None else self._lit.possible_from_s
        return max(0.0, now_s - from_s)

    def was_dark_after(self, spoken_s: float) -> bool:
        """Whether the light is known to have gone off after these words were spoken."""
        return self._lit is None and spoken_s < self._dark_since_s

    def lit_s(self, zone_id: str, now_s: float | None = None) -> float:
        """Credited seconds of a zone.

        Args:
            zone_id: The zone.
            now_s: When given, the run that is still going counts up to this session time.

        Raises:
            KeyError: Unknown zone.
        """
        zone = self._zones[zone_id]
        seconds = sum(self.credited_s(run) for run in self._runs if run.zone_id == zone_id)
        if now_s is not None and self._lit and self._lit.zone_id == zone_id:
            seconds += self._credit_s(zone, self._lit.from_s, now_s)
        return seconds

    def credited_s(self, run: LightRun) -> float:
        """Credited seconds of one run, as the strap words stand now."""
        return self._credit_s(self._zones[run.zone_id], run.from_s, run.known_to_s)

    def possible_s(self, zone_id: str, now_s: float | None = None) -> float:
        """Seconds for which a zone may have been lit, shadowed or not: the bound for heat. Arguments as in `lit_s`."""
        zone = self._zones[zone_id]
        seconds = sum(run.possible_s for run in self._runs if run.zone_id == zone.id)
        return seconds + (self.exposed_s(now_s) if now_s is not None and self.lit_zone == zone_id else 0.0)

    def dose_j_cm2(self, zone_id: str, now_s: float | None = None) -> float:
        """Summed light-on exposure at beam centre in J/cm², from credited seconds. Arguments as in `lit_s`."""
        return self.lit_s(zone_id, now_s) * self._irradiance_mw_cm2 / 1000

    def target_s(self, zone_id: str) -> float:
        """Seconds that all spots of a zone ask for, once for each time that they were asked for."""
        return self._passes[zone_id] * self._zones[zone_id].total_s(self._irradiance_mw_cm2)

    def ask_more(self, zone_id: str) -> None:
        """Ask for the seconds of a zone once more, or as often as leave some missing to what it has had.

        Raises:
            KeyError: Unknown zone.
        """
        self._passes[zone_id] += 1
        while self.short_s(zone_id) <= 0:
            self._passes[zone_id] += 1

    def passes(self, zone_id: str) -> int:
        """How often the seconds of a zone were asked for; 1 without more light."""
        return self._passes[zone_id]

    def spots(self, zone_id: str) -> int:
        """Positions of the light in a zone."""
        return self._zones[zone_id].spots

    def tolerance_s(self, zone_id: str) -> float:
        """Seconds that may be missing to the target of a zone."""
        return self.target_s(zone_id) * self._tolerance_share

    def over_from_s(self, zone_id: str) -> float | None:
        """Credited seconds from which a zone is over its target, or None."""
        return self.target_s(zone_id) * self._over_factor if self._over_factor is not None else None

    def standing(self, zone_id: str, now_s: float | None = None) -> ZoneStanding:
        """How the credited seconds of a zone stand to its target. Arguments as in `lit_s`."""
        return standing_of(
            self.lit_s(zone_id, now_s), self.target_s(zone_id), self.tolerance_s(zone_id), self.over_from_s(zone_id)
        )

    def short_s(self, zone_id: str, now_s: float | None = None) -> float:
        """Seconds still missing to the target; 0 where it is reached within the tolerance. Arguments as in `lit_s`."""
        missing_s = self.target_s(zone_id) - self.lit_s(zone_id, now_s)
        return max(0.0, missing_s) if self.standing(zone_id, now_s) is ZoneStanding.SHORT else 0.0

    def light_on(self, zone_id: str, spoken_s: float, possible_from_s: float | None = None) -> LedgerOutcome:
        """The light went on over a zone, by words at `spoken_s`; those that were doubted came at `possible_from_s`."""
        if not isfinite(spoken_s):
            return _bad_time()
        zone = self._zones.get(zone_id)
        if zone is None:
            return LedgerOutcome(LedgerChange.REFUSED_UNKNOWN_ZONE)
        missed: LightRun | None = None
        if self._lit is None:
            if spoken_s < self._dark_since_s:
                return self._stale(zone_id)
        else:
            if spoken_s < self._lit.from_s:
                return self._stale(zone_id)
            if zone_id == self._lit.zone_id and spoken_s - self._lit.from_s <= REPEAT_S:
                return LedgerOutcome(LedgerChange.REPEATED, zone_id)
            missed = self._close(spoken_s, self._lit.last_tone_s, RunEnd.OFF_MISSED)
        self._lit = _Lit(zone_id, spoken_s, spoken_s, spoken_s, possible_from_s)
        if missed is not None:
            return LedgerOutcome(LedgerChange.LIT_OFF_MISSED, zone_id, missed)
        if zone.strap_shadowed and not self._strap_times.is_off_at(spoken_s):
            return LedgerOutcome(LedgerChange.LIT_IN_SHADOW, zone_id)
        return LedgerOutcome(LedgerChange.LIT, zone_id)

    def light_off(self, spoken_s: float) -> LedgerOutcome:
        """The light went off."""
        if not isfinite(spoken_s):
            return _bad_time()
        if self._lit is None:
            return self._off_while_dark(spoken_s)
        if spoken_s < self._lit.from_s:
            return self._stale(self._lit.zone_id)
        run = self._close(spoken_s, spoken_s, RunEnd.OFF_SAID)
        return LedgerOutcome(LedgerChange.DARKENED, run.zone_id, run)

    def stop(self, spoken_s: float, reason: str) -> LedgerOutcome:
        """A stop word, or a finding that means "light off": always acts.

        A time before the run began ends the run with nothing credited.
        """
        if self._lit is None:
            self._dark_since_s = max(self._dark_since_s, spoken_s) if isfinite(spoken_s) else self._dark_since_s
            return LedgerOutcome(LedgerChange.STOPPED_DARK)
        end_s = max(spoken_s, self._lit.from_s) if isfinite(spoken_s) else self._lit.last_beat_s
        run = self._close(end_s, end_s, RunEnd.STOPPED, reason)
        return LedgerOutcome(LedgerChange.STOPPED, run.zone_id, run)

    def cry(self, from_s: float, to_s: float) -> LedgerOutcome:
        """What may be a cry of heat or pain was said from `from_s` to `to_s`: always acts."""
        if self._lit is None:
            return LedgerOutcome(LedgerChange.STOPPED_DARK)
        lit_from_s, beat_s = self._lit.from_s, self._lit.last_beat_s
        known_s = max(from_s if isfinite(from_s) else beat_s, lit_from_s)
        run = self._close(max(to_s if isfinite(to_s) else beat_s, known_s), known_s, RunEnd.CRIED)
        return LedgerOutcome(LedgerChange.CRIED, run.zone_id, run)

    def strap_off(self, spoken_s: float) -> LedgerOutcome:
        """The strap was taken off; shadowed zones may be credited from here on."""
        return self._strap(spoken_s, off=True)

    def strap_on(self, spoken_s: float) -> LedgerOutcome:
        """The strap was put on; shadowed zones are no longer credited."""
        return self._strap(spoken_s, off=False)

    def heartbeat(self, at_s: float) -> LedgerOutcome:
        """The program is alive at this session time; bounds what a crash may leave counted."""
        if self._lit is not None and isfinite(at_s) and at_s > self._lit.last_beat_s:
            self._lit = replace(self._lit, last_beat_s=at_s)
        return LedgerOutcome(LedgerChange.NOTHING, self.lit_zone)

    def tone(self, from_s: float, to_s: float) -> LedgerOutcome:
        """The lamp's beep was heard: it was on at that moment, or went off with it, whatever was said."""
        if not (isfinite(from_s) and isfinite(to_s)):
            return _bad_time()
        if self._lit is None:
            if self._runs and to_s > self._dark_since_s + BEEP_TOLERANCE_S:
                return LedgerOutcome(LedgerChange.BEEP_WHILE_DARK)
            return LedgerOutcome(LedgerChange.NOTHING)
        if to_s <= self._lit.last_tone_s:
            return LedgerOutcome(LedgerChange.NOTHING, self.lit_zone)
        self._beeps_s.append(to_s)
        self._lit = replace(self._lit, last_tone_s=to_s)
        # A beep right at the start is that of switching on.
        if self._ends_by is EndMark.BEEP and from_s > self._lit.from_s + BEEP_TOLERANCE_S:
            return self._ended_by_sound(from_s, from_s, RunEnd.BEEP_HEARD)
        return LedgerOutcome(LedgerChange.NOTHING, self.lit_zone)

    def listen_for_silence(self, now_s: float) -> LedgerOutcome:
        """End the run if the lamp's beeps have ceased, where the profile says that this is its end."""
        due_s = self.silence_due_s
        if due_s is None or now_s < due_s or self._lit is None:
            return LedgerOutcome(LedgerChange.NOTHING, self.lit_zone)
        last_s = self._lit.last_tone_s
        return self._ended_by_sound(due_s - BEEP_TOLERANCE_S, last_s, RunEnd.FELL_SILENT)

    def interrupt(self) -> LedgerOutcome:
        """The program ended in the middle: a lit zone counts up to the last heartbeat."""
        if self._lit is None:
            return LedgerOutcome(LedgerChange.NOTHING)
        last_s = self._lit.last_beat_s
        run = self._close(last_s, last_s, RunEnd.INTERRUPTED)
        return LedgerOutcome(LedgerChange.INTERRUPTED, run.zone_id, run)

    def _ended_by_sound(self, to_s: float, known_to_s: float, end: RunEnd) -> LedgerOutcome:
        run = self._close(to_s, known_to_s, end)
        return LedgerOutcome(LedgerChange.DARKENED_BY_SOUND, run.zone_id, run)

    def _off_while_dark(self, spoken_s: float) -> LedgerOutcome:
        last = self._runs[-1] if self._runs else None
        self._dark_since_s = max(self._dark_since_s, spoken_s)
        if last is not None and last.is_open_ended and spoken_s >= last.from_s:
            # The lamp may have stayed on until now: nothing more is credited, all of it counts for heat.
            self._runs[-1] = run = replace(last, to_s=max(last.to_s, spoken_s), confirmed=True)
            return LedgerOutcome(LedgerChange.OFF_AFTER_STOP, run.zone_id, run)
        if last is None or last.end not in SOUND_ENDS or last.confirmed or spoken_s < last.from_s:
            return LedgerOutcome(LedgerChange.REFUSED_NOT_LIT)
        if last.known_to_s - BEEP_TOLERANCE_S <= spoken_s <= last.to_s + BEEP_TOLERANCE_S:
            known_s = min(max(last.known_to_s, spoken_s), last.to_s)
            self._runs[-1] = run = replace(last, known_to_s=known_s, confirmed=True)
            return LedgerOutcome(LedgerChange.OFF_AGREES, run.zone_id, run)
        # Neither is taken for the truth: what is credited ends with the earlier, what is possible with the later.
        known_s, to_s = min(last.known_to_s, spoken_s), max(last.to_s, spoken_s)
        self._runs[-1] = run = replace(last, to_s=to_s, known_to_s=known_s, confirmed=True)
        apart_s = max(last.known_to_s - spoken_s, spoken_s - last.to_s)
        return LedgerOutcome(LedgerChange.OFF_DIFFERS, run.zone_id, run, apart_s)

    def _close(self, to_s: float, known_to_s: float, end: RunEnd, reason: str = "") -> LightRun:
        assert self._lit is not None  # noqa: S101 - callers check
        lit = self._lit
        run = LightRun(
            lit.zone_id, lit.from_s, to_s, min(known_to_s, to_s), end, reason, possible_from_s=lit.possible_from_s
        )
        self._runs.append(run)
        self._lit = None
        self._dark_since_s = to_s
        return run

    def _strap(self, spoken_s: float, *, off: bool) -> LedgerOutcome:
        if not isfinite(spoken_s):
            return _bad_time()
        self._strap_times.say(spoken_s, off=off)
        happened = LedgerChange.STRAP_TAKEN_OFF if off else LedgerChange.STRAP_PUT_ON
        return LedgerOutcome(happened, self.lit_zone)

    def _credit_s(self, zone: ZoneProfile, from_s: float, to_s: float) -> float:
        if not zone.strap_shadowed:
            return max(0.0, to_s - from_s)
        return self._strap_times.off_s(from_s, to_s)

    def _stale(self, zone_id: str) -> LedgerOutcome:
        return LedgerOutcome(LedgerChange.REFUSED_STALE, zone_id)


def _bad_time() -> LedgerOutcome:
    return LedgerOutcome(LedgerChange.REFUSED_TIME)
