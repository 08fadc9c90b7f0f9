"""One writer at a time, on every system.

`portalocker` locks an open handle: by flock on POSIX systems, by the file locks of Windows there. The system drops such
a lock with the process that held it, so a killed program leaves none behind. `filelock` would serve as well for the
writer, but its plain lock is never shared: whoever only asks would keep a writer out. What is locked is an empty file
beside the record, never the record: a lock of Windows keeps others, and even this process, from reading what it covers.
The empty file stays for good, because taking it away would let two processes hold two files of the same name. It means
nothing without its lock, and a copy of a record does without it.
"""

import os
from pathlib import Path

import portalocker

from handsfree.errors import RecordError
from handsfree.record.private_files import open_private

LOCK_SUFFIX = ".lock"


def lock_file(path: Path) -> Path:
    """The file whose lock stands for that of `path`."""
    return path.with_name(path.name + LOCK_SUFFIX)


def lock(path: Path, *, wait: bool = False) -> int:
    """Claim a file for this process.

    Args:
        path: What is to be written, there or not.
        wait: Wait until another process has released it; on Windows at most ten seconds.

    Returns:
        A handle; closing it releases the file, and so does a crash.

    Raises:
        OSError: The file beside it cannot be opened.
        RecordError: Another process has it, or it cannot be locked where it lies.
    """
    handle = open_private(lock_file(path), os.O_RDWR | os.O_CREAT)
    flags = portalocker.LockFlags.EXCLUSIVE
    try:
        portalocker.lock(handle, flags if wait else flags | portalocker.LockFlags.NON_BLOCKING)
    except portalocker.AlreadyLocked as error:
        os.close(handle)
        raise RecordError(f"{path} is being written by another process; wait until it has ended") from error
    except portalocker.LockException as error:
        os.close(handle)
        raise RecordError(f"{path} cannot be locked: {error.strerror}; give a folder on another file system") from error
    return handle


def is_written(path: Path) -> bool:
    """Whether a process has claimed a file. Asks by a shared lock, so that several may ask at once.

    Raises:
        RecordError: Nobody can tell.
    """
    try:
        handle = open_private(lock_file(path), os.O_RDONLY)
    except FileNotFoundError:
        return False
    except OSError as error:
        raise RecordError(f"cannot tell whether {path} is being written: {error.strerror}") from error
    try:
        portalocker.lock(handle, portalocker.LockFlags.SHARED | portalocker.LockFlags.NON_BLOCKING)
    except portalocker.AlreadyLocked:
        return True
    except portalocker.LockException as error:
        raise RecordError(f"cannot tell whether {path} is being written: {error.strerror}") from error
    finally:
        os.close(handle)
    return False
