"""What holds a new value of a record against its procedure."""

from pathlib import Path

from handsfree.record.amendments import ValueFault
from handsfree.record.verify import verify
from handsfree.report import record_page


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
    return record_page.limits_of(found, record_page.procedure_of(found, procedure)) if found is not None else None
