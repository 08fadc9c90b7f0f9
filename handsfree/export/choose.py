"""Which export, and what may be exported at all."""

from collections.abc import Callable
from enum import StrEnum
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.export.export_words import ExportWords
from handsfree.export.fhir import to_fhir
from handsfree.export.fhir_transaction import PATIENT_SYSTEM, to_transaction
from handsfree.export.note import to_note
from handsfree.export.table import to_csv
from handsfree.record.contents import Record
from handsfree.record.verify import Contradictions, RecordState, refuse_contradicted, verify


class ExportForm(StrEnum):
    """A form of export."""

    FHIR = "fhir"
    CSV = "csv"
    NOTE = "note"


_EXPORTS: dict[ExportForm, Callable[[Record, ExportWords], str]] = {
    ExportForm.FHIR: to_fhir,
    ExportForm.CSV: to_csv,
    ExportForm.NOTE: to_note,
}


def export(
    path: Path,
    form: ExportForm,
    words: Callable[[Record], ExportWords],
    *,
    allow_practice: bool = False,
    contradicted: Contradictions = lambda _: (),
) -> str:
    """One record in another form; the same record always gives the same text.

    Args:
        path: Record folder or file.
        form: Which form.
        words: What the codes of the record are in words.
        allow_practice: Whether a practice record may become FHIR; it is marked in every form.
        contradicted: Replays the record, where its procedure is at hand.

    Raises:
        RecordError: The record is broken, or states what does not follow from what was heard; or FHIR is asked of one
            that is practice or not closed.
    """
    record = _exportable(path, form, allow_practice=allow_practice, contradicted=contradicted)
    return _EXPORTS[form](record, words(record))


def export_transaction(
    path: Path,
    words: Callable[[Record], ExportWords],
    *,
    patient_system: str = PATIENT_SYSTEM,
    allow_practice: bool = False,
    contradicted: Contradictions = lambda _: (),
) -> str:
    """One record as a FHIR transaction that may be sent again.

    Args:
        path: As for `export`, and so are the rest.
        words: What the codes of the record are in words.
        patient_system: System of the patient's identifier at the site.
        allow_practice: Whether a practice record may become FHIR.
        contradicted: Replays the record, where its procedure is at hand.

    Raises:
        RecordError: As `export`.
    """
    record = _exportable(path, ExportForm.FHIR, allow_practice=allow_practice, contradicted=contradicted)
    bundle = to_fhir(record, words(record))
    return to_transaction(bundle, amended=bool(record.amendments or record.attestations), patient_system=patient_system)


def _exportable(path: Path, form: ExportForm, *, allow_practice: bool, contradicted: Contradictions) -> Record:
    found = verify(path)
    if found.state is RecordState.BROKEN or found.record is None:
        raise RecordError(f"{path} is broken and is not exported: {found.faults[0]}")
    if form is ExportForm.FHIR and not found.fine:
        raise RecordError(f"{path} is {found.state}; only a closed record becomes FHIR: resume it and end the session")
    if form is ExportForm.FHIR and found.record.practice and not allow_practice:
        raise RecordError(
            f"{path} is practice, not a patient's; say --allow-practice to export it, marked, all the same"
        )
    refuse_contradicted(path, found.record, contradicted)
    return found.record
