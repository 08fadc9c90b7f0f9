"""Light-on seconds of an operator by day, folded from records: interrupted exposure of a day adds up (ICNIRP 2013)."""

from collections.abc import Iterable, Iterator
from datetime import datetime, timedelta

from handsfree.exposure.hazard import OperatorRun, daily_seconds
from handsfree.model.effects import Json
from handsfree.record.contents import Fact, Record

OPERATOR_STEPS = ("operator_code", "operator")
"""Steps whose answer says who holds the light, the telling one first."""
UNKNOWN = "unknown"


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
    operator = _operator(record)
    offset = timedelta(minutes=record.started.local_offset_minutes if record.started is not None else 0)
    lit: Fact | None = None
    last: Fact | None = None
    run: OperatorRun | None = None
    for fact in record.facts:
        match fact.kind:
            case "light_turned_on":
                if run is not None:
                    yield run
                lit = last = fact
                run = None
            case "light_still_on":
                last = fact
            case "light_turned_off" | "light_off_said_after_sound":
                lit = None
                seconds = _number(fact.data.get("possible_to_s")) - _number(fact.data.get("counted_from_s"))
                if run is not None and fact.kind == "light_turned_off":
                    yield run
                run = OperatorRun(_day(fact.at, offset), operator, seconds)
            case _:
                continue
    if run is not None:
        yield run
    if lit is not None and last is not None and last is not lit:
        seconds = _number(last.data.get("at_s")) - _number(lit.data.get("counted_from_s"))
        yield OperatorRun(_day(lit.at, offset), operator, max(0.0, seconds))


def _operator(record: Record) -> str:
    said = {str(one.data.get("step")): one.data.get("value") for one in record.readings if one.superseded_by is None}
    return next((str(said[step]) for step in OPERATOR_STEPS if isinstance(said.get(step), str)), UNKNOWN)


def _day(at: str, offset: timedelta) -> str:
    return (datetime.fromisoformat(at) + offset).date().isoformat()


def _number(value: Json) -> float:
    return float(value) if isinstance(value, int | float) else 0.0
