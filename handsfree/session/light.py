"""Light: what speaks against it, what a run that ended puts on record, which zone is next. Reads; changes no mode.

Times are those at which words were spoken.
"""

from dataclasses import replace

from handsfree.definition.plan import Plan, Stage
from handsfree.exposure.ledger import Ledger
from handsfree.exposure.light_cues import GuidanceProfile, beeps_beside, flags_of
from handsfree.exposure.runs import LightRun
from handsfree.model.commands import Control
from handsfree.model.facts import LightTurnedOff, Utterance, ZoneTotalled
from handsfree.model.readings import Option
from handsfree.model.refusals import Refusal, RefusalCode, StepFirst
from handsfree.session.modes import Mode
from handsfree.session.prompts.fixed import Fixed
from handsfree.session.stages import owed_before
from handsfree.session.state import SessionState
from handsfree.session.visit import name_of

BEAT_S = 1.0
"""While lit, a sign of life is written this often: what a crash can leave uncounted."""
WHILE_LIT = frozenset({Control.STRAP_ON, Control.STRAP_OFF, Control.LIGHT_ON})
"""Commands besides the stop words that are taken while lit; any other is answered with "light off first"."""
NO_LIGHT_YET = {
    Mode.WARMTH: RefusalCode.WARMTH_FIRST,
    Mode.LATE_HEAT: RefusalCode.WARMTH_FIRST,
    Mode.HELD: RefusalCode.HELD,
    Mode.PAUSED: RefusalCode.RESUME_FIRST,
    Mode.RECONFIRM: RefusalCode.POSITION_FIRST,
}
"""Where a light that comes too early is still heard: nobody would count its seconds otherwise."""


def guidance_now(plan: Plan, planned: GuidanceProfile, state: SessionState) -> GuidanceProfile:
    """When to speak; a patient who cannot report heat, by what is confirmed so far, changes it."""
    return replace(planned, patient_reports_heat=heat_is_reported(plan, state))


def heat_is_reported(plan: Plan, state: SessionState) -> bool:
    """Whether the patient can be relied on to report heat, by what is confirmed so far and the procedure file."""
    for stage in plan.stages:
        for field in stage.step.fields:
            taken = state.answers.get(stage.id, {}).get(field.id) if field.no_heat_report else None
            if taken is not None and isinstance(taken.value, Option) and taken.value.value in field.no_heat_report:
                return False
    return True


def why_not(plan: Plan, state: SessionState) -> Refusal | StepFirst | None:
    """Why the light must stay off; None if nothing that is recorded speaks against it."""
    stage, mode = plan.stage(state.place), state.modes.top
    if stage.step.kind != "expose" or state.ledger is None or state.zone_id is None:
        return Refusal(RefusalCode.NO_LIGHT_HERE)
    if mode in NO_LIGHT_YET:
        return Refusal(NO_LIGHT_YET[mode])
    if state.red or any(hold.kind == "stop" and hold.stage_id == stage.id for hold in state.holds):
        return Refusal(RefusalCode.HELD)
    owed = next(owed_before(plan, stage, state), None)
    if owed is not None:
        return StepFirst(name_of(owed, state.side))
    if stage.step.zones == "strap" and state.ledger.strap_is_on:
        return Refusal(RefusalCode.STRAP_OFF_FIRST)
    return None


def zones_of(stage: Stage, ledger: Ledger | None) -> tuple[str, ...]:
    """Identifiers of the zones that a stage lights."""
    if ledger is None or stage.step.kind != "expose":
        return ()
    wanted = stage.step.zones == "strap"
    return tuple(zone.id for zone in ledger.zones if zone.strap_shadowed is wanted)


def zone_for(stage: Stage, ledger: Ledger | None) -> str | None:
    """The first zone of a stage that is short of its seconds, or its first one."""
    ids = zones_of(stage, ledger)
    short = (zone_id for zone_id in ids if ledger is not None and ledger.short_s(zone_id) > 0)
    return next(short, ids[0] if ids else None)


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


def late_question_due(state: SessionState) -> bool:
    """Whether the late question about heat is to be asked now."""
    window = state.late_window_s
    resting = state.modes.top in {Mode.ASKING, Mode.OPEN_ITEMS}
    return window is not None and not state.lit and state.now_s >= window[0] and resting and not state.pending


def run_facts(
    ledger: Ledger, run: LightRun, guidance: GuidanceProfile, heard: Utterance | None
) -> tuple[LightTurnedOff, ZoneTotalled]:
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
        flags=flags_of(ledger, run, guidance),
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
    )
