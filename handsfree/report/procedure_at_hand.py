"""The procedure that a record was made with, where it is at hand, and what only it tells of the record."""

import contextlib
from collections.abc import Mapping
from pathlib import Path

from handsfree.definition.loader import Bundle, load_bundle, load_bundled
from handsfree.errors import HandsfreeError
from handsfree.record.code_phrases import CODES_ALONE, CodePhrases
from handsfree.record.contents import Record


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
        return load_bundled(record.header.procedure)
    return None


def very_version(record: Record, bundle: Bundle | None) -> Bundle | None:
    """The procedure, where it is of the very version, by hash, that the record was made with; else None."""
    return bundle if bundle is not None and bundle.sha256 == record.header.procedure_sha256 else None


def phrases_of(record: Record, bundle: Bundle | None) -> CodePhrases:
    """What the procedure calls roles and reasons; codes alone where its very version is not at hand."""
    same = very_version(record, bundle)
    if same is None:
        return CODES_ALONE
    procedure = same.procedure
    return CodePhrases(_first(procedure.roles), _first(procedure.override_reasons), _first(procedure.skip_reasons))


def _first(phrases: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    return {code: listed[0] for code, listed in phrases.items()}
