"""From a record on disk to its page."""

from pathlib import Path

from handsfree.errors import RecordError
from handsfree.record.contents import Record
from handsfree.record.verify import Contradictions, Verification, verify
from handsfree.report.embedded_sound import Sounds, embedded
from handsfree.report.page import report_page
from handsfree.report.procedure_at_hand import procedure_of
from handsfree.report.told_faults import why_nothing_is_shown


def readable(path: Path, contradicted: Contradictions = lambda _: ()) -> tuple[Verification, Record]:
    """Verify a record that is to be shown.

    Args:
        path: Record folder, or its file.
        contradicted: Replays the record, where its procedure is at hand; what it finds is shown with the faults.

    Raises:
        RecordError: There is none, or its lines are broken.
    """
    found = verify(path)
    if found.record is None:
        raise RecordError(f"{path} cannot be shown: {why_nothing_is_shown(found)}")
    return found.contradicted_by(contradicted(found.record)), found.record


def make_report(
    path: Path, *, procedure: Path | None = None, sound: bool = True, contradicted: Contradictions = lambda _: ()
) -> tuple[str, Sounds]:
    """The page of a record, and what sound is in it.

    Args:
        path: Record folder, or its file.
        procedure: Procedure file, for records of a procedure that is not bundled.
        sound: Whether kept utterances go into the page.
        contradicted: As for `readable`.

    Raises:
        RecordError: As `readable`.
        ProcedureFileError: As `procedure_of`.
    """
    found, record = readable(path, contradicted)
    folder = path if path.is_dir() else path.parent
    sounds = embedded(folder, record) if sound else Sounds((), 0)
    return report_page(found, record, procedure_of(record, procedure), sounds), sounds
