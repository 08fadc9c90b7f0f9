"""What an export needs from the sentences of the tool and from the procedure of a record."""

from pathlib import Path

from handsfree.definition.loader import Bundle
from handsfree.export.export_words import ExportWords, PublishedCode
from handsfree.model.open_items import OpenItem
from handsfree.model.reasons import Grounds
from handsfree.record.contents import Record
from handsfree.report.hold_actions import told_at_holds
from handsfree.report.procedure_at_hand import phrases_of, procedure_of, very_version
from handsfree.session.prompts.reason_words import reason_words


def export_words(record: Record, procedure: Path | None = None) -> ExportWords:
    """The words for the codes of a record.

    Args:
        record: The record.
        procedure: Procedure file, for a record of one that is not bundled.

    Raises:
        ProcedureFileError: The procedure file that was given has faults.
    """
    bundle = procedure_of(record, procedure)
    phrases = phrases_of(record, bundle)

    def reason(why: Grounds | OpenItem) -> str:
        return reason_words(why, phrases.names)

    return ExportWords(reason, phrases, told_at_holds(record, bundle), _codes(record, bundle))


def _codes(record: Record, bundle: Bundle | None) -> dict[tuple[str, str], PublishedCode]:
    """What the author of the procedure states of its fields; nothing is guessed."""
    same = very_version(record, bundle)
    if same is None:
        return {}
    return {
        (step.id, field.id): PublishedCode(field.code.system, field.code.code, field.code.display)
        for step in same.procedure.steps
        for field in step.fields
        if field.code is not None
    }
