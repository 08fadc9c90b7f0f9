"""Files of a record: who may read them, who writes them, and what a crash leaves behind."""

import contextlib
import json
import os
from pathlib import Path

from handsfree.errors import RecordError
from handsfree.record.chain_checking import RecordFault
from handsfree.record.chained_file import LARGEST_FILE, ChainedFile
from handsfree.record.clips import remove_unfinished_clips
from handsfree.record.forms.form_reader import NewerFormError
from handsfree.record.line_checking import RECORD_FILE, LinesRead, read_lines
from handsfree.record.own_lines import EventLine
from handsfree.record.private_files import open_private, sync_folder
from handsfree.record.record_line import RecordLine, canonical
from handsfree.regular_files import read_within, unlink_within

END_FILE = "record.end"
"""Count and hash of the last seal. Shows a file cut back to an earlier seal, as long as both are not changed."""
_END_MADE = f"{END_FILE}.new"
_LARGEST_END = 4096


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
    remove_leftovers(folder)
    if reading.newer:
        file.close()
        raise NewerFormError(f"{path}: {reading.faults[0]}")
    if reading.faults:
        file.close()
        raise RecordError(f"{path} is broken: {reading.faults[0]}")
    return file, reading


def remove_leftovers(folder: Path) -> None:
    """Take away what a killed program was still making beside a record that this process has claimed.

    What cannot be taken away is no fault of the record.
    """
    with contextlib.suppress(OSError):
        unlink_within(folder, _END_MADE)
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
    number = 1 + sum(1 for _ in folder.glob("torn-*.bin"))
    handle = open_private(folder / f"torn-{number}.bin", os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    try:
        os.write(handle, torn)
        os.fsync(handle)
    finally:
        os.close(handle)
    sync_folder(folder)


def note_end(folder: Path, line: RecordLine) -> None:
    """Keep count and hash of a seal beside the record. A failure is no fault: the record itself is on the disk."""
    new = folder / _END_MADE
    try:
        handle = open_private(new, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        with os.fdopen(handle, "wb") as file:
            file.write(canonical({"lines": line.seq + 1, "head": line.hash}))
            file.flush()
            os.fsync(file.fileno())
        new.replace(folder / END_FILE)
    except OSError:
        with contextlib.suppress(OSError):
            new.unlink(missing_ok=True)


def end_fault(folder: Path, reading: LinesRead) -> RecordFault | None:
    """Whether the record still holds what was sealed last, as far as the note beside it tells."""
    try:
        noted = json.loads(read_within(folder, END_FILE, _LARGEST_END))
        count, head = noted["lines"], noted["head"]
    except FileNotFoundError:
        return None
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return RecordFault(0, f"{END_FILE} cannot be read")
    if type(count) is not int or not 1 <= count <= len(reading.lines):
        return RecordFault(
            len(reading.lines) + 1, f"{count} lines were sealed and {len(reading.lines)} are left: cut off"
        )
    line = reading.lines[count - 1]
    if line is None or line.hash != head:
        return RecordFault(count, "is not the line that was sealed")
    return None
