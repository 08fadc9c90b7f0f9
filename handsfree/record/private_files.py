"""Files and folders that only their owner may read, and names in a folder that survive a power loss.

On POSIX systems modes say who may read. Windows has none: there the folder of the user's profile keeps others out, and
files belong in it.
"""

import os
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.regular_files import open_within

POSIX = os.name == "posix"


def open_private(path: Path, flags: int) -> int:
    """Open a file of bytes, never through a link; one that is made may be read by its owner only.

    Args:
        path: The file.
        flags: As for `os.open`.

    Returns:
        The handle.

    Raises:
        OSError: It is a link or no regular file, or cannot be opened.
    """
    return open_within(path.parent, path.name, flags)


def open_to_others(path: Path) -> bool:
    """Whether other users may read a file, as far as its mode tells.

    Raises:
        OSError: It cannot be looked at.
    """
    return POSIX and path.stat().st_mode & 0o077 != 0


def sync_folder(folder: Path) -> None:
    """Make new names in a folder survive a power loss. Windows opens no folders; its file system logs names itself.

    Raises:
        RecordError: The folder cannot be synchronised.
    """
    if not POSIX:
        return
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
