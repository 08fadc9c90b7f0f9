"""The procedure that a record was made with, beside it: what is needed to read the record travels with it.

Its hash stands in the first line, so that the chain vouches for it.
"""

import hashlib
import os
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.record.private_files import open_private
from handsfree.regular_files import read_within

PROCEDURE_COPY = "procedure.json"
"""Name of the file beside a record."""
_LARGEST = 16 * 1024 * 1024
"""Bytes. Chosen here, no source: a hundred times the longest bundled procedure."""


def digest_of(content: bytes) -> str:
    """What the first line says of it; "" where nothing is carried."""
    return hashlib.sha256(content).hexdigest() if content else ""


def write_carried(folder: Path, content: bytes) -> None:
    """Put it beside a record that is being made.

    Raises:
        RecordError: It cannot be written.
    """
    path = folder / PROCEDURE_COPY
    try:
        with os.fdopen(open_private(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise RecordError(f"cannot write {path}: {error.strerror}; give a writable folder") from error


def read_carried(folder: Path, sha256: str) -> tuple[bytes, str]:
    """What a record carries.

    Args:
        folder: Folder of the record.
        sha256: What its first line says; "" where it carries nothing.

    Returns:
        The content, empty where there is none to be trusted, and what is wrong, or "". A file that is missing is no
        fault of the record: it was copied without.
    """
    if not sha256:
        return b"", ""
    try:
        content = read_within(folder, PROCEDURE_COPY, _LARGEST)
    except FileNotFoundError:
        return b"", ""
    except OSError as error:
        return b"", f"{PROCEDURE_COPY} cannot be read: {error.strerror}"
    if digest_of(content) != sha256:
        return b"", f"{PROCEDURE_COPY} is not the procedure that the record was begun with: it was changed"
    return content, ""
