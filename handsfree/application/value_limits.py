"""What holds a new value of a record against its procedure."""

from pathlib import Path

from handsfree.record.amendments import ValueFault
from handsfree.record.verify import verify
from handsfree.report.procedure_at_hand import limits_of as limits_by
from handsfree.report.procedure_at_hand import procedure_of


def limits_of(record: Path, procedure: Path | None = None) -> ValueFault | None:
    """Limits and lists for new values of a record; None where the very version of its procedure is not at hand.

    Args:
        record: Folder of the record, or its file.
        procedure: Procedure file, for a record of one that is not bundled.

    Raises:
        RecordError: There is no record, or it cannot be read.
        ProcedureFileError: The procedure file that was given has faults.
    """
    found = verify(record).record
    return limits_by(found, procedure_of(found, procedure)) if found is not None else None
