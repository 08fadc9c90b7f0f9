"""The earlier record that a visit is compared with."""

from dataclasses import dataclass, replace
from pathlib import Path

from handsfree.definition.loader import Bundle
from handsfree.errors import RecordError, UsageError
from handsfree.model.baseline import Baseline
from handsfree.model.patient_reference import bare_code
from handsfree.record.baseline import earlier_of
from handsfree.record.verify import RecordState, verify


@dataclass(frozen=True, slots=True)
class BaselineRecord:
    """An earlier record, read and checked.

    Attributes:
        earlier: Its readings.
        head: SHA-256 of its last line.
        practice: Whether it was practice.
    """

    earlier: Baseline
    head: str
    practice: bool


def read_baseline(folder: Path, bundle: Bundle, *, meant: bool = False) -> BaselineRecord:
    """Read the record in `folder`.

    Args:
        folder: Of a closed record.
        bundle: The procedure that is to be compared with it.
        meant: Whether it is meant, though it be of another patient or side.

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
    return BaselineRecord(replace(earlier, meant=meant), found.head_hash, practice=found.record.practice)


def fits(baseline: BaselineRecord, patient_reference: str | None, *, practice: bool) -> None:
    """Check that a visit may be compared with a record.

    Raises:
        UsageError: The record is of another patient and not said to be meant, or practice.
    """
    other, meant = baseline.earlier.patient_reference, baseline.earlier.meant
    if other and patient_reference and bare_code(other) != bare_code(patient_reference) and not meant:
        raise UsageError(
            f"the record of --baseline is of {other}, this visit of {patient_reference}; "
            f"if it is meant all the same, say --baseline-meant"
        )
    if baseline.practice and not practice:
        raise UsageError("the record of --baseline was practice; compare with it in practice only (--practice)")
