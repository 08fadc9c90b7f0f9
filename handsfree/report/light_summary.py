"""The light of a visit in lines: each zone's sum, each run as it happened, and what does not go together."""

from collections.abc import Iterator

from handsfree.model.facts import (
    CryHeard,
    CrySettled,
    LampDisagreed,
    LateHeatAsked,
    LightOffConfirmed,
    LightOffSaidAfterSound,
    LightTurnedOff,
    LightTurnedOn,
    PainScored,
    StrapRemoved,
    StrapReplaced,
    WarmthAnswered,
    ZoneSum,
)
from handsfree.model.light import LampAgreement, LampDisagreement, LightFlag, RunEnd, ZoneStanding
from handsfree.record.contents import Record
from handsfree.record.display_text import clock_text, dose_text, plain, tenths
from handsfree.record.display_values import interrupted_lines, light_cut_lines, stray_lines, zone_name
from handsfree.record.moments import Moments

_ENDS = {
    RunEnd.OFF_SAID: "light off was said",
    RunEnd.BEEP_HEARD: "the lamp's beep",
    RunEnd.FELL_SILENT: "the lamp's beeps ceased",
    RunEnd.STOPPED: "a stop",
    RunEnd.CRIED: "words that may have been a cry of heat or pain",
    RunEnd.OFF_MISSED: "light off was not heard",
    RunEnd.INTERRUPTED: "interrupted, counted to the last sign of life",
}
_DISAGREEMENTS = {
    LampDisagreement.BEEPS_MISSING: "fewer beeps than the spoken seconds ask for",
    LampDisagreement.BEEP_AFTER_OFF: "it beeped after light off was said",
    LampDisagreement.WORDS_APART: "light off was said at another time than the lamp went off",
}
_HEAT = {True: "yes", False: "no", None: "nobody answered, stopped"}
_FLAGS = {LightFlag.UNDER_TARGET: "short of its target", LightFlag.OVER_TARGET: "well over its target"}
_Told = (
    CryHeard
    | CrySettled
    | LateHeatAsked
    | LightOffConfirmed
    | LightOffSaidAfterSound
    | LightTurnedOff
    | PainScored
    | StrapRemoved
    | StrapReplaced
    | WarmthAnswered
)
"""What is told of light, in the order in which it happened."""


def light_lines(record: Record) -> Iterator[str]:
    """Zones with their sums, then runs, strap and warmth in the order in which they happened."""
    for zone in record.zones:
        yield _zone_line(record, zone)
    moments = Moments.of(record)
    for recorded in record.facts:
        fact = recorded.fact
        if isinstance(fact, _Told):
            heard = None if isinstance(fact, LateHeatAsked) else fact.heard
            at_s = heard.spoken_from_s if heard is not None else moments.at_s(recorded)
            yield f"{clock_text(at_s)}  {_moment(record, fact)}"
    yield from light_cut_lines(record)
    yield from (told for _, told in stray_lines(record))


def light_attention(record: Record) -> list[str]:
    """What of the light is to be looked at first."""
    lines = [*light_cut_lines(record), *(told for _, told in (*interrupted_lines(record), *stray_lines(record)))]
    for disagreed in record.of(LampDisagreed):
        where = f", {zone_name(record, disagreed.fact.zone)}" if disagreed.fact.zone is not None else ""
        what = _DISAGREEMENTS[disagreed.fact.what]
        lines.append(f"lamp and words disagree{where}: {what}; neither was taken for the truth")
    lines += [_pain(record, one.fact) for one in record.of(PainScored) if one.fact.score != 0]
    if any(not lit.fact.heat_reported for lit in record.of(LightTurnedOn)):
        lines.append("the patient could not report heat: warmth was felt by hand")
    runs = record.of(LightTurnedOff)
    if runs and all(run.fact.beeps is LampAgreement.NOT_HEARD for run in runs):
        lines.append("the lamp's beep was never heard: the spoken seconds stand alone")
    return lines


def _zone_line(record: Record, zone: ZoneSum) -> str:
    runs = [run.fact for run in record.of(LightTurnedOff) if run.fact.zone == zone.zone]
    parts = [f"{tenths(zone.lit_s)} of {tenths(zone.target_s)} s", f"{dose_text(zone.dose_j_cm2)} J/cm2"]
    if len(runs) > 1:
        # The last run ends the work on a zone; only what broke off an earlier one is a reason to go on with it.
        stops = sorted({run.reason for run in runs[:-1] if run.reason})
        parts.append(f"{len(runs)} runs" + (f", gone on with after {', '.join(stops)}" if stops else ""))
    match zone.standing:
        case ZoneStanding.SHORT:
            parts.append(f"short by {tenths(zone.target_s - zone.lit_s)} s")
        case ZoneStanding.OVER:
            parts.append(f"over target by {tenths(zone.lit_s - zone.target_s)} s")
        case ZoneStanding.REACHED if zone.lit_s < zone.target_s:
            parts.append(f"within the profile's tolerance of {tenths(zone.tolerance_s or 0.0)} s")
        case ZoneStanding.REACHED:
            pass
    if possible := possible_text(zone):
        parts.append(f"lit for up to {possible} s")
    if zone.strap_shadowed:
        parts.append("in the strap's shadow, counted from strap off")
    return f"{zone_name(record, zone.zone)}: {', '.join(parts)}"


def possible_text(zone: ZoneSum) -> str:
    """Seconds for which a zone may have been lit, where they show beside what it was credited with; else ""."""
    return tenths(zone.possible_s) if zone.possible_s > zone.lit_s + 0.05 else ""


def _moment(record: Record, fact: _Told) -> str:
    match fact:
        case LightTurnedOff():
            end = f"the word {fact.reason}" if fact.reason else _ENDS[fact.end]
            told = [_FLAGS[flag] for flag in fact.flags if flag in _FLAGS]
            return (
                f"run on {zone_name(record, fact.zone)}: {tenths(fact.credited_s)} s, "
                f"{dose_text(fact.dose_j_cm2)} J/cm2, ended by {end}"
                + (f"; the zone is {' and '.join(told)}" if told else "")
            )
        case LightOffSaidAfterSound(agrees=agrees):
            return f"light off was said after it: {'goes with the sound' if agrees else 'at another time'}"
        case LightOffConfirmed():
            return "light off was said after the run was cut short"
        case CryHeard(words=words):
            return f"heard, may be heat or pain: {plain(words)}"
        case CrySettled(heat=heat):
            return f"hot or painful, asked: {_HEAT[heat]}"
        case StrapRemoved():
            return "strap off"
        case StrapReplaced():
            return "strap on"
        case PainScored():
            return _pain(record, fact)
        case LateHeatAsked(overdue=overdue):
            return f"late question about heat{', later than planned' if overdue else ''}"
        case WarmthAnswered(answer=answer):
            return f"warmth, {_where(record, fact)}: {answer}"


def _pain(record: Record, fact: PainScored) -> str:
    return f"pain score {fact.score} of 10, {_where(record, fact)}"


def _where(record: Record, fact: PainScored | WarmthAnswered) -> str:
    return "late question" if fact.late or fact.zone is None else zone_name(record, fact.zone)
