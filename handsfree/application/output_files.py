"""Writing a file that somebody asked for."""

import os
import stat
from pathlib import Path

from handsfree.errors import UsageError


def make_output_folder(folder: Path) -> None:
    """Make a folder that somebody asked for, where it is not there.

    Raises:
        UsageError: It cannot be made.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"cannot make the folder {folder}: {error.strerror}; give a writable place") from error


def write_output(file: Path, text: str, *, private: bool = True) -> None:
    """Write text to a file.

    Args:
        file: Made where it is not there, else written anew.
        text: What to write, as UTF-8, with its line ends as they are.
        private: Whether the file can be read by its owner alone, also one that was there before.

    Raises:
        UsageError: It cannot be written.
    """
    try:
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o600 if private else 0o666)
        with os.fdopen(handle, "wb") as out:
            # What was there is not lost to a file that must not be closed to others, nor a device changed.
            if stat.S_ISREG(os.fstat(handle).st_mode):
                if private and hasattr(os, "fchmod"):
                    os.fchmod(handle, 0o600)
                out.truncate()
            out.write(text.encode())
    except OSError as error:
        raise UsageError(f"cannot write {file}: {error.strerror}; give a file in a writable folder") from error
