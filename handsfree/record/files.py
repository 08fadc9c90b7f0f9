"""Files of a record: who may read them, who writes them, and what a crash leaves behind."""

import contextlib
import os
import re
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.record.chained_file import LARGEST_FILE, ChainedFile
from handsfree.record.clips import remove_unfinished_clips
from handsfree.record.end_mark import settle_left
from handsfree.record.forms.form_reader import NewerFormError
from handsfree.record.line_checking import RECORD_FILE, LinesRead, read_lines
from handsfree.record.own_lines import EventLine
from handsfree.record.private_files import open_private, sync_folder
from handsfree.record.record_line import RecordLine
from handsfree.regular_files import read_within

_TORN = re.compile(r"torn-([0-9]{1,9})\.bin")


def open_checked(folder: Path) -> tuple[ChainedFile, LinesRead]:
    """Open and claim an existing record whose lines are without faults.

    Raises:
        NewerFormError: It is of a form that this program does not know.
        RecordError: There is none, another process writes it, it cannot be written, or it is broken.
    """
    path = folder / RECORD_FILE
    try:
        file = ChainedFile.claim(path)
    except FileNotFoundError as error:
        raise RecordError(f"{folder} holds no record ({RECORD_FILE})") from error
    except OSError as error:
        raise RecordError(f"cannot open {path} for writing: {error.strerror}") from error
    try:
        reading = read_lines(read_within(folder, RECORD_FILE, LARGEST_FILE))
    except OSError as error:
        file.close()
        raise RecordError(f"cannot read {path}: {error.strerror}") from error
    if reading.newer:
        file.close()
        raise NewerFormError(f"{path}: {reading.faults[0]}")
    if reading.faults:
        file.close()
        raise RecordError(f"{path} is broken: {reading.faults[0]}")
    _settle_leftovers(folder, reading)
    return file, reading


def _settle_leftovers(folder: Path, reading: LinesRead) -> None:
    """Finish or take away what a killed program was still making beside a record that this process has claimed.

    What cannot be taken away is no fault of the record.
    """
    with contextlib.suppress(OSError):
        settle_left(folder, reading)
        remove_unfinished_clips(folder)


def drop_unled(reading: LinesRead) -> None:
    """Count an unfinished batch without an event as torn: replay cannot complete it, and nobody was told of it."""
    lead = _last_lead(reading)
    if reading.due and lead is not None and lead[1].event is None:
        drop_batch(reading)


def drop_batch(reading: LinesRead) -> None:
    """Count the last event with its facts as torn."""
    lead = _last_lead(reading)
    if lead is None:
        return
    first = lead[0].seq
    dropped = b"".join(line.raw + b"\n" for line in reading.good[first:])
    del reading.lines[first:], reading.stated[first:]
    reading.torn = dropped + reading.torn
    reading.whole -= len(dropped)
    reading.due = 0


def _last_lead(reading: LinesRead) -> tuple[RecordLine, EventLine] | None:
    leads = ((line, stated) for line, stated in reversed(reading.pairs) if isinstance(stated, EventLine))
    return next(leads, None)


def repair(folder: Path, handle: int, reading: LinesRead) -> None:
    """Move a torn end to a side file; afterwards there is none.

    Raises:
        RecordError: The side file cannot be written; the record is as before.
    """
    if not reading.torn:
        return
    try:
        _set_aside(folder, reading.torn)
        os.ftruncate(handle, reading.whole)
        os.fsync(handle)
    except OSError as error:
        raise RecordError(f"cannot repair the end of {folder / RECORD_FILE}: {error.strerror}") from error
    reading.torn = b""


def _set_aside(folder: Path, torn: bytes) -> None:
    """Keep a torn end under a number past all that are there, also where some were taken away since."""
    numbers = (int(found[1]) for name in os.listdir(folder) if (found := _TORN.fullmatch(name)))  # noqa: PTH208
    name = f"torn-{1 + max(numbers, default=0)}.bin"
    handle = open_private(folder / name, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    with os.fdopen(handle, "wb") as file:
        file.write(torn)
        file.flush()
        os.fsync(file.fileno())
    sync_folder(folder)
