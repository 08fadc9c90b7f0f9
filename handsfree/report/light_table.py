"""Table of a report: light by zone, with its runs. Pure."""

from dataclasses import dataclass

from handsfree.model.facts import LightTurnedOff, WarmthAnswered, ZoneSum
from handsfree.model.light import LightFlag, RunEnd, ZoneStanding
from handsfree.record.contents import Record
from handsfree.record.display_text import clock_text, dose_text, plain, tenths
from handsfree.record.display_values import zone_name
from handsfree.report.light_summary import possible_text

_ENDS = {
    RunEnd.OFF_SAID: "light off",
    RunEnd.STOPPED: "stop",
    RunEnd.OFF_MISSED: "off not heard",
    RunEnd.CRIED: "possible cry",
}


@dataclass(frozen=True, slots=True)
class ZoneLight:
    """Light on one zone.

    Attributes:
        name: Its name.
        lit: Credited seconds as text.
        possible: Seconds for which it may have been lit, or "".
        target: Seconds asked for.
        dose: Summed light-on exposure at beam centre, J/cm².
        share: Credited seconds over the target; 0 without one.
        flags: What its runs were flagged with.
        warmth: What the patient said about warmth.
        runs: Its runs.
    """

    name: str
    lit: str
    possible: str
    target: str
    dose: str
    share: float
    flags: tuple[str, ...]
    warmth: str
    runs: tuple["RunRow", ...]


@dataclass(frozen=True, slots=True)
class RunRow:
    """One stretch of light.

    Attributes:
        at: When it began, as text.
        seconds: Credited length.
        end: How it ended.
    """

    at: str
    seconds: str
    end: str


def zones(record: Record) -> tuple[ZoneLight, ...]:
    """Light by zone, in the order of the record."""
    return tuple(_zone(record, total) for total in record.zones)


def _zone(record: Record, total: ZoneSum) -> ZoneLight:
    ended = [run.fact for run in record.of(LightTurnedOff) if run.fact.zone == total.zone]
    flags = dict.fromkeys(flag for run in ended for flag in run.flags)
    if total.standing is not ZoneStanding.SHORT:
        flags.pop(LightFlag.UNDER_TARGET, None)  # a later run made it up
    answers = [one.fact.answer for one in record.of(WarmthAnswered) if one.fact.zone == total.zone]
    return ZoneLight(
        name=zone_name(record, total.zone),
        lit=tenths(total.lit_s),
        possible=possible_text(total),
        target=tenths(total.target_s),
        dose=dose_text(total.dose_j_cm2),
        share=total.lit_s / total.target_s if total.target_s > 0 else 0.0,
        flags=tuple(plain(flag) for flag in flags),
        warmth=", ".join(answers),
        runs=tuple(_run(run) for run in ended),
    )


def _run(run: LightTurnedOff) -> RunRow:
    end = _ENDS.get(run.end, plain(run.end))
    seconds = tenths(max(0.0, run.counted_to_s - run.counted_from_s))
    return RunRow(clock_text(run.counted_from_s), seconds, f"{end} ({run.reason})" if run.reason else end)
