"""The procedure that a record was made with, where it is at hand, and what only it tells of the record."""

import contextlib
import json
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from handsfree.definition.loader import Bundle, load_bundle, load_bundled, load_carried
from handsfree.errors import HandsfreeError, UsageError
from handsfree.record.code_phrases import CODES_ALONE, CodePhrases
from handsfree.record.contents import Record, RecordHeader


def procedure_of(record: Record, file: Path | None = None) -> Bundle | None:
    """The procedure that a record was made with: its file where given, else the bundled one, else what it carries.

    Args:
        record: The record.
        file: Its procedure file; must be readable where given.

    Returns:
        The procedure; the bundled one of its name may be of another version.

    Raises:
        ProcedureFileError: The file that was given has faults.
        UsageError: It is not the one that the record was made with.
    """
    if file is not None:
        return given_procedure(record.header, file)
    bundled: Bundle | None = None
    with contextlib.suppress(HandsfreeError):
        bundled = load_bundled(record.header.procedure)
    if bundled is not None and bundled.sha256 == record.header.procedure_sha256:
        return bundled
    with contextlib.suppress(HandsfreeError):
        if record.carried:
            return _carried(record.carried, record.header.procedure_sha256)
    return bundled


def carries_another(record: Record, bundle: Bundle) -> bool:
    """Whether a record carries another procedure than the one of the hash that it names, which is at hand."""
    return bool(record.carried) and record.carried != bundle.expanded and not _says_the_same(record.carried, bundle)


def _says_the_same(content: bytes, bundle: Bundle) -> bool:
    """Whether it is the same, though another version of the program may have written it otherwise."""
    with contextlib.suppress(ValueError, RecursionError):
        return bool(json.loads(content) == json.loads(bundle.expanded))
    return False


@lru_cache(maxsize=32)
def _carried(content: bytes, sha256: str) -> Bundle:
    """A procedure is read once, however many records of a store carry it."""
    return load_carried(content, sha256)


def given_procedure(header: RecordHeader, file: Path) -> Bundle:
    """The procedure file that a user gave for a record.

    Raises:
        ProcedureFileError: It has faults.
        UsageError: It is not the one that the record was made with.
    """
    bundle = load_bundle(str(file))
    if bundle.sha256 != header.procedure_sha256:
        version = "another version of it" if bundle.procedure.id == header.procedure else bundle.procedure.id
        raise UsageError(
            f"--procedure: the record was begun with {header.procedure} (SHA-256 {header.procedure_sha256[:12]}), and "
            f"{file} is {version}; give the files of then, or leave it out"
        )
    return bundle


def very_version(record: Record, bundle: Bundle | None) -> Bundle | None:
    """The procedure, where it is of the very version, by hash, that the record was made with; else None."""
    return bundle if bundle is not None and bundle.sha256 == record.header.procedure_sha256 else None


def phrases_of(record: Record, bundle: Bundle | None) -> CodePhrases:
    """What the procedure calls roles, reasons and steps; codes alone where its very version is not at hand."""
    same = very_version(record, bundle)
    if same is None:
        return CODES_ALONE
    procedure = same.procedure
    return CodePhrases(
        _first(procedure.roles), _first(procedure.override_reasons), _first(procedure.skip_reasons), same.plan.names
    )


def _first(phrases: Mapping[str, tuple[str, ...]]) -> dict[str, str]:
    return {code: listed[0] for code, listed in phrases.items()}
