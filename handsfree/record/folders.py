"""Folders of records: private, and with names that survive a power loss."""

import os
from pathlib import Path

from handsfree.errors import RecordError


def sync_folder(folder: Path) -> None:
    """Make new names in a folder survive a power loss.

    Raises:
        RecordError: The folder cannot be synchronised.
    """
    try:
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        raise RecordError(f"cannot write {folder}: {error.strerror}") from error


def make_private(folder: Path) -> None:
    """Make a folder that only its owner may enter; an empty one is closed to others, one in use is left as it is.

    Raises:
        RecordError: It cannot be made.
    """
    try:
        if folder.is_dir():
            if not any(folder.iterdir()):
                folder.chmod(0o700)
            return
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir(mode=0o700)
    except OSError as error:
        raise RecordError(f"cannot make the folder {folder}: {error.strerror}; give a writable folder") from error
    sync_folder(folder.parent)
