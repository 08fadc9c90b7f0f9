"""An append-only file of chained lines that one process writes at a time and that survives being cut off anywhere.

The journal of a visit and the attempts of practice are such files. What the lines mean is theirs; here they are kept.
"""

import contextlib
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from handsfree.errors import RecordError
from handsfree.record.chain_checking import ChainRead, check_chain
from handsfree.record.file_lock import lock
from handsfree.record.private_files import open_private
from handsfree.record.record_line import FIRST_PREV, RecordLine, parse_line
from handsfree.regular_files import read_within

LARGEST_FILE = 512_000_000
"""Bytes of a file of lines. Chosen here, no source: a thousand fittings of half an hour."""


@dataclass(frozen=True, slots=True)
class FileTail:
    """Where a file ends.

    Attributes:
        seq: Sequence number of the line to come.
        prev: Its `prev`: the hash of the last line.
        size: Bytes up to and including the last line end.
    """

    seq: int = 0
    prev: str = FIRST_PREV
    size: int = 0


def read_chain(path: Path) -> ChainRead:
    """Every line of a file, form and chain checked; no line where there is no file.

    Raises:
        RecordError: The file cannot be read, or a line was altered, dropped or torn; names the line.
    """
    try:
        reading = ChainRead.split(read_within(path.parent, path.name, LARGEST_FILE))
    except FileNotFoundError:
        return ChainRead()
    except OSError as error:
        raise RecordError(f"cannot read {path}: {error.strerror}") from error
    if reading.torn:
        raise RecordError(f"{path}: the last line is torn (take it out; the lines before it are whole)")
    check_chain(reading)
    if reading.faults:
        first = min(reading.faults, key=lambda fault: fault.line)
        raise RecordError(f"{path}:{first.line}: {first.what}")
    return reading


class ChainedFile:
    """A file that this process has claimed for writing. Make one with `claim`; it is released by `close`.

    Attributes:
        path: The file.
        handle: Its open handle, below 0 once it is closed.
        tail: Where the next line goes; 0 until `follow` is told what the file holds.
    """

    def __init__(self, path: Path, handle: int, lock_handle: int) -> None:
        self.path = path
        self.handle = handle
        self._lock_handle = lock_handle
        self.tail = FileTail()
        self._failed: str | None = None

    @classmethod
    def claim(cls, path: Path, *, create: bool = False, wait: bool = False) -> Self:
        """Open and claim a file; released when it is closed, also by a crash.

        Args:
            path: The file.
            create: Make it, readable by its owner only, where it is not there.
            wait: Wait until another process has released it.

        Raises:
            OSError: It cannot be opened.
            RecordError: Another process has it, or it cannot be locked where it lies.
        """
        handle = open_private(path, os.O_RDWR | os.O_APPEND | (os.O_CREAT if create else 0))
        try:
            return cls(path, handle, lock(path, wait=wait))
        except (OSError, RecordError):
            os.close(handle)
            raise

    def follow(self, reading: ChainRead) -> None:
        """Go on after these lines."""
        self.tail = FileTail(len(reading.lines), reading.head, reading.whole)

    def append(self, lines: Sequence[RecordLine]) -> None:
        """Write lines that follow the tail: one write, one fsync.

        Raises:
            RecordError: They could not be written or earlier ones were not, or one could not be read back; the file is
                as before, or ends in a torn line.
        """
        if self._failed is not None:
            raise RecordError(f"the record takes nothing more: {self._failed}")
        if self.handle < 0:
            raise RecordError("the record is not open")
        pieces = [line.raw for line in lines]
        for raw in pieces:
            parse_line(raw)  # what could not be read back is refused before it is written (a float past 2^53)
        content = b"".join(raw + b"\n" for raw in pieces)
        self._check_place()
        try:
            written = 0
            while written < len(content):
                written += os.write(self.handle, content[written:])
            os.fsync(self.handle)
        except OSError as error:
            self._failed = f"writing failed ({error.strerror})"
            with contextlib.suppress(OSError):
                os.ftruncate(self.handle, self.tail.size)
            raise RecordError(f"cannot write {self.path}: {error.strerror}; nothing more is recorded") from error
        self.tail = FileTail(lines[-1].seq + 1, lines[-1].hash, self.tail.size + len(content))

    def _check_place(self) -> None:
        """Lines go to the open file even where its folder was taken away; nobody would ever find them."""
        try:
            there = os.path.samestat(self.path.lstat(), os.fstat(self.handle))
        except OSError:
            there = False
        if not there:
            self._failed = "it was taken away while it was written"
            raise RecordError(f"{self.path} was taken away while it was written; nothing more is recorded")

    def close(self) -> None:
        """Release the file."""
        if self.handle >= 0:
            os.close(self.handle)
            os.close(self._lock_handle)
            self.handle = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
