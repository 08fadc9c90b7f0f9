"""Which export, and what may be exported at all."""

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.export.fhir import to_fhir
from handsfree.export.note import to_note
from handsfree.export.table import to_csv
from handsfree.record.replay import Record
from handsfree.record.verify import State, verify


class Form(StrEnum):
    """A form of export."""

    FHIR = "fhir"
    CSV = "csv"
    NOTE = "note"


_EXPORTS: dict[Form, Callable[[Record], str]] = {Form.FHIR: to_fhir, Form.CSV: to_csv, Form.NOTE: to_note}


def export(path: Path, form: Form, *, allow_practice: bool = False) -> str:
    """One record in another form; the same record always gives the same text.

    Args:
        path: Record folder or file.
        form: Which form.
        allow_practice: Whether a practice record may become FHIR; it is marked in every form.

    Raises:
        RecordError: The record is broken; or FHIR is asked of one that is practice or not closed.
    """
    found = verify(path)
    if found.state is State.BROKEN or found.record is None:
        raise RecordError(f"{path} is broken and is not exported: {found.faults[0]}")
    if form is Form.FHIR and not found.fine:
        raise RecordError(f"{path} is {found.state}; only a closed record becomes FHIR: resume it and end the session")
    if form is Form.FHIR and found.record.practice and not allow_practice:
        raise RecordError(
            f"{path} is practice, not a patient's; say --allow-practice to export it, marked, all the same"
        )
    return _EXPORTS[form](found.record)
