"""Regular files only, of a size that fits, and inside a folder of somebody else's none through a link.

A record may come from elsewhere: in its folder a name may be a link to a foreign file, a pipe that is never filled or a
device without end. Such names are refused with an `OSError` whose `strerror` says so in words, before anything is read
or written. On POSIX systems folders are held open while what is in them is named, so that nothing can be put in
between; elsewhere each part of the name is looked at first and the opened file compared with what was seen.
"""

import contextlib
import errno
import os
import stat
from collections.abc import Iterator
from pathlib import Path, PurePath

LARGEST_TEXT = 4_000_000
"""Bytes of a file that a person writes. Chosen here, no source: a hundred times the longest bundled procedure."""
_BY_HANDLE = hasattr(os, "O_NOFOLLOW") and {os.open, os.stat, os.unlink, os.rename} <= os.supports_dir_fd
_PLAIN = (
    getattr(os, "O_BINARY", 0)  # Windows would write every line end as two characters
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_NOCTTY", 0)
)
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)
_FOLDER = getattr(os, "O_DIRECTORY", 0) | getattr(os, "O_PATH", 0)
_CHUNK = 1 << 20


def reason_of(error: OSError | ValueError) -> str:
    """Why a file cannot be used, in words; a `ValueError` is that of a name which no system takes."""
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


def read_named(path: Path, most: int = LARGEST_TEXT) -> bytes:
    """What is in a file that the user named; a link that the user named is followed.

    Args:
        path: The file.
        most: Bytes that it may have.

    Raises:
        OSError: It is not there, no regular file or too large, or cannot be read.
    """
    return _read(_open(str(path), os.O_RDONLY, 0o600, None, links=True), most, path)


def read_within(folder: Path, name: str, most: int) -> bytes:
    """What is in a file inside a folder.

    Args:
        folder: The folder, as the user named it.
        name: Name inside it, with slashes below it.
        most: Bytes that it may have.

    Raises:
        OSError: It or a folder on the way to it is a link; or as `read_named`.
    """
    return _read(open_within(folder, name, os.O_RDONLY), most, folder / name)


def open_within(folder: Path, name: str, flags: int) -> int:
    """Open a regular file inside a folder; one that is made may be read by its owner only.

    Child processes do not inherit the handle (PEP 446).

    Args:
        folder: The folder, as the user named it.
        name: Name inside it, with slashes below it.
        flags: As for `os.open`.

    Returns:
        The handle.

    Raises:
        OSError: It or a folder on the way to it is a link, it is no regular file, or cannot be opened.
    """
    with _at(folder, name) as (last, handle):
        return _open(last, flags, 0o600, handle, links=False)


def unlink_within(folder: Path, name: str) -> None:
    """Take a file out of a folder; a link itself, never what it leads to. Nothing happens where it is not there.

    Raises:
        OSError: A folder on the way to it is a link, or it cannot be taken out.
    """
    with contextlib.suppress(FileNotFoundError), _at(folder, name) as (last, handle):
        os.unlink(last, dir_fd=handle)


def rename_within(folder: Path, old: str, new: str) -> None:
    """Give a file inside a folder another name in the same part of it; what has that name is replaced.

    Raises:
        OSError: A folder on the way to it is a link, or it cannot be renamed.
    """
    with _at(folder, old) as (last, handle):
        target = PurePath(new).name
        if handle is None:
            os.replace(last, os.path.join(os.path.dirname(last), target))  # noqa: PTH105, PTH118, PTH120 - one form for both
        else:
            os.rename(last, target, src_dir_fd=handle, dst_dir_fd=handle)


def names_within(folder: Path, name: str) -> tuple[str, ...]:
    """Names in a folder inside a folder, sorted; none where it is not there or is a link.

    Raises:
        OSError: It cannot be read.
    """
    place = folder / name
    try:
        if not stat.S_ISDIR(_looked_at(str(place), None).st_mode):
            return ()
        return tuple(sorted(os.listdir(place)))  # noqa: PTH208 - names only
    except FileNotFoundError:
        return ()


def is_regular(path: Path) -> bool:
    """Whether a name is that of a regular file, and no link to one."""
    try:
        return stat.S_ISREG(_looked_at(str(path), None).st_mode)
    except (OSError, ValueError):
        return False


@contextlib.contextmanager
def _at(folder: Path, name: str) -> Iterator[tuple[str, int | None]]:
    """The last part of a name with a handle of the folder that holds it; where there are none, a path and None."""
    parts = PurePath(name).parts
    if not parts or PurePath(name).anchor or ".." in parts or "\0" in name:
        raise OSError(errno.EINVAL, "is no name inside the folder", name)
    if not _BY_HANDLE:
        for depth in range(1, len(parts)):
            _check_folder(_looked_at(str(folder.joinpath(*parts[:depth])), None))
        yield str(folder.joinpath(*parts)), None
        return
    handle = os.open(folder, os.O_RDONLY | _FOLDER)
    try:
        for part in parts[:-1]:
            _check_folder(_looked_at(part, handle))
            below = os.open(part, os.O_RDONLY | _FOLDER | _NO_LINK, dir_fd=handle)
            os.close(handle)
            handle = below
        yield parts[-1], handle
    finally:
        os.close(handle)


def _looked_at(name: str, handle: int | None) -> os.stat_result:
    """What a name stands for; a link itself."""
    return os.stat(name, dir_fd=handle, follow_symlinks=False)


def _check_folder(found: os.stat_result) -> None:
    _refuse_link(found)
    if not stat.S_ISDIR(found.st_mode):
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))


def _refuse_link(found: os.stat_result) -> None:
    reparse = getattr(found, "st_file_attributes", 0) & getattr(stat, "FILE_ATTRIBUTE_REPARSE_POINT", 0)
    if stat.S_ISLNK(found.st_mode) or reparse:
        raise OSError(errno.ELOOP, "it is a link, and none is followed here")


def _check_regular(found: os.stat_result) -> None:
    if stat.S_ISDIR(found.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    if not stat.S_ISREG(found.st_mode):
        raise OSError(errno.EINVAL, "it is no regular file")


def _open(name: str, flags: int, mode: int, handle: int | None, *, links: bool) -> int:
    before = None
    try:
        before = os.stat(name, dir_fd=handle, follow_symlinks=links)
    except FileNotFoundError:
        if not flags & os.O_CREAT:
            raise
    if before is not None and not flags & os.O_EXCL:
        if not links:
            _refuse_link(before)
        _check_regular(before)
    opened = os.open(name, flags | _PLAIN | (0 if links else _NO_LINK), mode, dir_fd=handle)
    try:
        now = os.fstat(opened)
        _check_regular(now)
        if not links and not _NO_LINK and before is not None and not os.path.samestat(before, now):
            raise OSError(errno.ELOOP, "it was replaced while it was opened")  # noqa: TRY301
    except OSError:
        os.close(opened)
        raise
    return opened


def _read(handle: int, most: int, path: Path) -> bytes:
    pieces: list[bytes] = []
    left = most + 1
    try:
        while left > 0 and (piece := os.read(handle, min(left, _CHUNK))):
            pieces.append(piece)
            left -= len(piece)
    finally:
        os.close(handle)
    if left <= 0:
        raise OSError(errno.EFBIG, f"it is larger than {most} bytes", str(path))
    return b"".join(pieces)
