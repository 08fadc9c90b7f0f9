"""Light-on seconds of an operator by day, folded from records: interrupted exposure of a day adds up (ICNIRP 2013)."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta

from handsfree.exposure.hazard import OperatorRun, daily_seconds
from handsfree.model.facts import LightOffConfirmed, LightOffSaidAfterSound, LightTurnedOff, LightTurnedOn
from handsfree.model.light import RunEnd
from handsfree.record.contents import Record

UNKNOWN = "unknown"
"""The operator of a record that states none."""


def light_seconds_by_day(records: Iterable[Record], *, practice: bool = False) -> dict[tuple[str, str], float]:
    """Summed light-on seconds by local day and operator.

    Args:
        records: Folded records, in any order.
        practice: Whether practice counts too. A light in practice is as bright, but a rehearsal has none.

    Returns:
        (ISO 8601 day, operator's code or role, `UNKNOWN` where not stated) to seconds. It is what the operator said and
        the lamp sounded, an upper bound for time near a lit light; nobody's time of looking is known.
    """
    return daily_seconds(run for record in records if practice or not record.practice for run in operator_runs(record))


def operator_runs(record: Record) -> Iterator[OperatorRun]:
    """Every run of light of a record, as long as the light may have been on; a run that was cut, to its last sign."""
    operator = record.operator or UNKNOWN
    offset = timedelta(minutes=record.started.local_offset_minutes if record.started is not None else 0)
    run: OperatorRun | None = None
    begun_s, open_ended = 0.0, False
    for recorded in record.facts:
        match recorded.fact:
            case LightTurnedOn() if run is not None:
                yield run
                run = None
            case LightTurnedOff(counted_from_s=from_s, possible_to_s=to_s):
                if run is not None:
                    yield run
                run, begun_s = OperatorRun(_day(recorded.at, offset), operator, to_s - from_s), from_s
                open_ended = recorded.fact.end in {RunEnd.CRIED, RunEnd.STOPPED}
            case LightOffConfirmed(heard=heard) if run is not None and open_ended:
                # A cry or a stop word said nothing of the lamp: it may have been on until somebody did.
                run = replace(run, seconds=max(run.seconds, heard.spoken_from_s - begun_s))
            case LightOffSaidAfterSound(counted_from_s=from_s, possible_to_s=to_s):
                run = OperatorRun(_day(recorded.at, offset), operator, to_s - from_s)  # as it is counted now
    if run is not None:
        yield run
    cut = record.light_cut
    if cut is not None and cut.lit_s > 0:
        begun = next(recorded.at for recorded in record.facts if recorded.seq == cut.seq)
        yield OperatorRun(_day(begun, offset), operator, cut.lit_s)


def _day(at: str, offset: timedelta) -> str:
    return (datetime.fromisoformat(at) + offset).date().isoformat()
