"""From a record on disk to its page."""

import contextlib
from pathlib import Path

from handsfree.definition.loader import Bundle, load_bundle
from handsfree.errors import HandsfreeError, RecordError
from handsfree.record.contents import Record
from handsfree.record.verify import Verification, verify
from handsfree.report.embedded_sound import Sounds, embedded
from handsfree.report.page import report_page


def readable(path: Path) -> tuple[Verification, Record]:
    """Verify a record that is to be shown.

    Raises:
        RecordError: There is none, or its lines are broken.
    """
    found = verify(path)
    if found.record is None:
        raise RecordError(f"{path} cannot be shown: {'; '.join(map(str, found.faults))}")
    return found, found.record


def procedure_of(record: Record, file: Path | None = None) -> Bundle | None:
    """The procedure that a record was made with, where it is bundled or its file is given; only it knows the prompts.

    Args:
        record: The record.
        file: Its procedure file; must be readable where given.

    Raises:
        ProcedureFileError: The file that was given has faults.
    """
    if file is not None:
        return load_bundle(str(file))
    with contextlib.suppress(HandsfreeError):
        return load_bundle(record.header.procedure)
    return None


def make_report(path: Path, *, procedure: Path | None = None, sound: bool = True) -> tuple[str, Sounds]:
    """The page of a record, and what sound is in it.

    Args:
        path: Record folder, or its file.
        procedure: Procedure file, for records of a procedure that is not bundled.
        sound: Whether kept utterances go into the page.

    Raises:
        RecordError: As `readable`.
        ProcedureFileError: As `procedure_of`.
    """
    found, record = readable(path)
    folder = path if path.is_dir() else path.parent
    sounds = embedded(folder, record) if sound else Sounds((), 0)
    return report_page(found, record, procedure_of(record, procedure), sounds), sounds
