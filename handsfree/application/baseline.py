"""The earlier record that a visit is compared with."""

from dataclasses import dataclass
from pathlib import Path

from handsfree.definition.loader import Bundle
from handsfree.errors import RecordError, UsageError
from handsfree.model.baseline import Baseline
from handsfree.record.baseline import earlier_of
from handsfree.record.verify import RecordState, verify


@dataclass(frozen=True, slots=True)
class BaselineRecord:
    """An earlier record, read and checked.

    Attributes:
        earlier: Its readings.
        head: SHA-256 of its last line.
        patient_reference: Of whom it is, or None.
        practice: Whether it was practice.
    """

    earlier: Baseline
    head: str
    patient_reference: str | None
    practice: bool


def read_baseline(folder: Path, bundle: Bundle) -> BaselineRecord:
    """Read the record in `folder`.

    Args:
        folder: Of a closed record.
        bundle: The procedure that is to be compared with it.

    Raises:
        RecordError: It is no whole, closed record, or holds nothing that the procedure compares.
        UsageError: The procedure compares with no earlier record.
    """
    procedure = bundle.procedure
    if not procedure.compares_with_earlier:
        raise UsageError(f"{procedure.id} compares nothing with an earlier record; leave out --baseline")
    found = verify(folder)
    if found.record is None or found.state is RecordState.BROKEN:
        raise RecordError(f"{folder} is broken and cannot be compared with: {found.faults[0]}")
    if found.state not in (RecordState.COMPLETE, RecordState.ATTESTED):
        raise RecordError(f"{folder} is {found.state}; only a closed record can be compared with")
    earlier = earlier_of(found.record)
    wanted = {
        f"{step}.{field.id}"
        for each in procedure.steps
        for field in each.fields
        if field.compare is not None
        for step in field.compare.earlier
    }
    if not any(name.partition("@")[0] in wanted for name in earlier.values):
        raise RecordError(f"{folder} holds none of the readings that {procedure.id} compares with")
    reference = found.record.header.patient_reference
    return BaselineRecord(earlier, found.head_hash, reference, practice=found.record.practice)


def fits(baseline: BaselineRecord, patient_reference: str | None, *, practice: bool) -> None:
    """Check that a visit may be compared with a record.

    Raises:
        UsageError: The record is of another patient, or practice.
    """
    other = baseline.patient_reference
    if other is not None and patient_reference is not None and other != patient_reference:
        raise UsageError(f"the record of --baseline is of {other}, this visit of {patient_reference}")
    if baseline.practice and not practice:
        raise UsageError("the record of --baseline was practice; compare with it in practice only (--practice)")
