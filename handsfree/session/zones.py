"""Zones of light: which ones a stage lights, which one is next, what a run that ended puts on record. Changes no mode.

Times are those at which words were spoken.
"""

from typing import TypedDict

from handsfree.definition.plan import Stage
from handsfree.exposure.ledger import Ledger
from handsfree.exposure.light_cues import beeps_beside, flags_of
from handsfree.exposure.runs import LightRun
from handsfree.model.facts import LightTurnedOff, Utterance, ZoneTotalled
from handsfree.model.light import ZoneStanding
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.prompts.sentence_codes import AnySentence, ZoneFull, ZoneOver, ZoneShort
from handsfree.session.state import SessionState

_SUMS = {ZoneStanding.SHORT: ZoneShort, ZoneStanding.REACHED: ZoneFull, ZoneStanding.OVER: ZoneOver}


class TargetLimits(TypedDict):
    """Members of `ZoneTotalled` and `ZoneSum`."""

    tolerance_s: float
    over_from_s: float | None


def zones_of(stage: Stage, ledger: Ledger | None) -> tuple[str, ...]:
    """Identifiers of the zones that a stage lights."""
    if ledger is None or stage.step.kind != "expose":
        return ()
    wanted = stage.step.zones == "strap"
    return tuple(zone.id for zone in ledger.zones if zone.strap_shadowed is wanted)


def zone_for(stage: Stage, state: SessionState) -> str | None:
    """The first zone of a stage that is short of its seconds and was not left so, or its first one."""
    ids = zones_of(stage, state.ledger)
    return next((zone_id for zone_id in ids if is_owed(zone_id, state)), ids[0] if ids else None)


def is_owed(zone_id: str, state: SessionState) -> bool:
    """Whether a zone is short of its seconds, and nobody answered for leaving it so."""
    return state.ledger is not None and state.ledger.short_s(zone_id) > 0 and zone_id not in state.left_zones


def has_its_light(state: SessionState) -> bool:
    """Whether the zone that is to be lit next had its light before the work was broken off."""
    ledger = state.ledger
    if ledger is None or state.zone_id is None or not ledger.runs:
        return False
    return ledger.runs[-1].zone_id == state.zone_id and not is_owed(state.zone_id, state)


def label_of(ledger: Ledger, zone_id: str | None) -> str:
    """Name of a zone; "" where there is none."""
    return next((zone.label for zone in ledger.zones if zone.id == zone_id), "")


def how_to_light(ledger: Ledger, zone_id: str) -> Fixed:
    """What to say for light on a zone, as the strap is now."""
    shadowed = any(zone.id == zone_id and zone.strap_shadowed for zone in ledger.zones)
    return Fixed.STRAP_OFF_THEN_LIGHT if shadowed and ledger.strap_is_on else Fixed.SAY_LIGHT_ON


def is_being_lit(stage: Stage, state: SessionState) -> bool:
    """Whether the visit stands at a stage of light that is not done."""
    return stage.step.kind == "expose" and stage.id not in state.done and not state.reviewing


def run_facts(ledger: Ledger, run: LightRun, heard: Utterance | None) -> tuple[LightTurnedOff, ZoneTotalled]:
    """A run that ended, and the new sum of its zone."""
    credited_s = ledger.credited_s(run)
    ended = LightTurnedOff(
        zone=run.zone_id,
        counted_from_s=round(run.from_s, 3),
        counted_to_s=round(run.known_to_s, 3),
        possible_to_s=round(run.to_s, 3),
        credited_s=round(credited_s, 3),
        dose_j_cm2=round(credited_s * ledger.irradiance_mw_cm2 / 1000, 4),
        end=run.end,
        reason=run.reason,
        beeps=beeps_beside(ledger, run),
        flags=flags_of(ledger, run),
        heard=heard,
    )
    return ended, total_of(ledger, run.zone_id)


def total_of(ledger: Ledger, zone_id: str) -> ZoneTotalled:
    """The sum of a zone now."""
    return ZoneTotalled(
        zone=zone_id,
        lit_s=round(ledger.lit_s(zone_id), 3),
        possible_s=round(ledger.possible_s(zone_id), 3),
        target_s=round(ledger.target_s(zone_id), 3),
        dose_j_cm2=round(ledger.dose_j_cm2(zone_id), 4),
        **target_limits(ledger, zone_id),
    )


def target_limits(ledger: Ledger, zone_id: str) -> TargetLimits:
    """The limits by which the sum of a zone is judged, as they are put on record."""
    over_from_s = ledger.over_from_s(zone_id)
    return TargetLimits(
        tolerance_s=round(ledger.tolerance_s(zone_id), 3),
        over_from_s=round(over_from_s, 3) if over_from_s is not None else None,
    )


def zone_sum(ledger: Ledger, zone_id: str | None) -> AnySentence:
    """The seconds of a zone. They say nothing about firmness; the hand does."""
    zone = next(zone for zone in ledger.zones if zone.id == zone_id)
    kind = _SUMS[ledger.standing(zone.id)]
    return kind(zone.label, ledger.lit_s(zone.id), ledger.target_s(zone.id))


def zones_over_target(ledger: Ledger | None) -> tuple[str, ...]:
    """Names of the zones that had well over their seconds."""
    if ledger is None:
        return ()
    return tuple(zone.label for zone in ledger.zones if ledger.standing(zone.id) is ZoneStanding.OVER)


def zones_under_target(ledger: Ledger | None) -> tuple[str, ...]:
    """Names of the zones that had light, and well under their seconds."""
    if ledger is None:
        return ()
    lit = {run.zone_id for run in ledger.runs}
    return tuple(
        zone.label for zone in ledger.zones if zone.id in lit and ledger.standing(zone.id) is ZoneStanding.SHORT
    )
