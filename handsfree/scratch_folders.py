"""Folders for what is still being made; one that a killed program left behind is taken away by the next.

Each holds an empty file that is locked as long as its maker lives: the system drops the lock with the process, so a
folder whose file can be locked has no maker any more.
"""

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import portalocker

from handsfree.regular_files import open_within

PREFIX = ".handsfree-unfinished-"
_HELD = "held"
_LOCK = portalocker.LockFlags.EXCLUSIVE | portalocker.LockFlags.NON_BLOCKING
_swept: set[Path] = set()


@contextlib.contextmanager
def scratch_folder(place: Path | None = None) -> Iterator[Path]:
    """A folder that is there until the block ends.

    Args:
        place: Folder to make it in, on the file system where what is made will stay; that for temporary files where
            left out. What was left there is taken away once in the life of a process.

    Raises:
        OSError: It cannot be made.
    """
    place = place or Path(tempfile.gettempdir())
    if place not in _swept:
        _swept.add(place)
        sweep(place)
    folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=place))
    handle = -1
    try:
        handle = open_within(folder, _HELD, os.O_RDWR | os.O_CREAT)
        # Who just looks whether it is left behind lets it go at once; then it is gone, and this one is no worse off.
        with contextlib.suppress(portalocker.LockException):
            portalocker.lock(handle, _LOCK)
        yield folder
    finally:
        if handle >= 0:
            os.close(handle)
        shutil.rmtree(folder, ignore_errors=True)


def sweep(place: Path) -> int:
    """Take away what killed programs of this user left in a folder. Returns how many folders."""
    try:
        found = sorted(place.glob(f"{PREFIX}*"))
    except OSError:
        return 0
    return sum(_take_away(folder) for folder in found)


def _take_away(folder: Path) -> bool:
    try:
        if hasattr(os, "getuid") and folder.lstat().st_uid != os.getuid():
            return False
        handle = open_within(folder, _HELD, os.O_RDWR)
    except OSError:
        return False  # a link, another user's, or one that is just being made
    try:
        portalocker.lock(handle, _LOCK)
    except portalocker.LockException:
        return False
    finally:
        os.close(handle)
    shutil.rmtree(folder, ignore_errors=True)
    return not folder.exists()
