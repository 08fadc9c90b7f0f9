"""Readings of one record that another is compared with, and how the other keeps them."""

from handsfree.model.baseline import MEANT_FROM_THE_START, Baseline, BaselineAnswer, differences, place
from handsfree.model.fact_base import KeptValue
from handsfree.model.facts import HoldLifted, HoldSet
from handsfree.model.readings import Between, Beyond, Exact, Option
from handsfree.model.reasons import BaselineOfAnotherPatient
from handsfree.record.contents import Record
from handsfree.record.header import BaselineUsed, RecordHeader


def earlier_of(record: Record) -> Baseline:
    """The last confirmed values of a record, later corrections included, that can be compared: numbers and options."""
    values: dict[str, KeptValue] = {}
    for reading in record.readings:
        stands = reading.stands
        if reading.superseded_by is None and isinstance(stands.value, Exact | Between | Beyond | Option):
            values[place(stands.step, stands.field, stands.side)] = stands.value
    return Baseline(record.header.record_id, _day(record), values, record.due, record.patient_reference, record.side)


def as_header(earlier: Baseline, head: str) -> BaselineUsed:
    """What the header of the later record keeps, so that it replays and resumes without the earlier one.

    Args:
        earlier: From `earlier_of`.
        head: SHA-256 of the last line of the earlier record.
    """
    return BaselineUsed(
        record_id=earlier.record_id,
        day=earlier.day,
        head=head,
        values=dict(earlier.values),
        due=earlier.due,
        patient_reference=earlier.patient_reference,
        side=earlier.side,
        meant=earlier.meant,
    )


def from_header(header: RecordHeader) -> Baseline | None:
    """What a record was begun with; None where it was compared with nothing."""
    kept = header.baseline
    if kept is None:
        return None
    return Baseline(
        kept.record_id, kept.day, dict(kept.values), kept.due, kept.patient_reference, kept.side, meant=kept.meant
    )


def compared_with(record: Record) -> Baseline | None:
    """What the values of a record were compared with.

    Returns:
        None where there was nothing, where somebody left it out, and where it is of another patient or side and nobody
        said that it is meant.
    """
    earlier = from_header(record.header)
    meant = {BaselineAnswer.MEANT.value, MEANT_FROM_THE_START}
    answered = {one.fact.grounds.ground: one.fact.reason in meant for one in record.of(HoldLifted)}
    unnamed = any(one.fact.grounds.ground == _of_unnamed(earlier) for one in record.of(HoldSet))
    found = differences(earlier, record.patient_reference, record.side, left_out=unnamed)
    return earlier if all(answered.get(one, False) for one in found) else None


def _of_unnamed(earlier: Baseline | None) -> BaselineOfAnotherPatient | None:
    """Why a visit of which nobody says whose it is was held."""
    return BaselineOfAnotherPatient(earlier.patient_reference, "") if earlier is not None else None


def _day(record: Record) -> str:
    """Local date of the start; of a visit that never began, the date of its stamp."""
    return record.started.today if record.started is not None else record.header.started[:10]
