"""One folder of records: list, filter, find a lot. The files are the truth; the index is a cache (`store_index`)."""

import contextlib
import json
import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from handsfree import __version__
from handsfree.errors import RecordError
from handsfree.model.light import ZoneStanding
from handsfree.model.patient_reference import bare_code
from handsfree.model.reasons import Severity
from handsfree.record.chained_file import LARGEST_FILE
from handsfree.record.device_lots import lots_named, lots_standing
from handsfree.record.file_lock import is_written
from handsfree.record.forms.form_reader import NewerFormError
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.record_line import FIRST_PREV
from handsfree.record.store_index import keep, recalled
from handsfree.record.verify import RecordState, Verification, verify
from handsfree.record.visit_account import account_of
from handsfree.regular_files import read_within

_UNREADABLE_FILE = "-"


@dataclass(frozen=True, slots=True)
class Summary:
    """One record in a list.

    Attributes:
        name: Folder of the record inside the store.
        state: As `verify` found it when the file last changed; sound beside it is not checked again by listing.
        started: RFC 3339 UTC stamp of the first line, "" where it cannot be read.
        procedure: Identifier of the procedure.
        operator: Operator code as read back, "" where there is none.
        patient: Patient reference, as given or said; "" where there is none.
        practice: Whether it is practice.
        lines: Whole lines.
        head: SHA-256 of the last line.
        open_items: How many items were left open.
        record_id: Identifier of the record; the same in every copy of it.
        room: Where it was made, "" where nobody said.
        outcome: How the visit ended.
        red: Red findings that stand.
        overrides: What somebody answered for.
        early_ends: Runs of light that a stop, a cry or a break ended.
        over_target: Zones over their target.
        lots: Lots of the devices as they stand.
        lots_before: Other lots that it names: corrected since, or scanned and not read back.
    """

    name: str
    state: str
    started: str
    procedure: str
    operator: str
    patient: str
    practice: bool
    lines: int
    head: str
    open_items: int
    record_id: str = ""
    room: str = ""
    outcome: str = ""
    red: int = 0
    overrides: int = 0
    early_ends: int = 0
    over_target: int = 0
    lots: tuple[str, ...] = ()
    lots_before: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Filter:
    """Which records to list; None lets all through.

    Attributes:
        since: First day, ISO 8601, UTC.
        until: Last day, ISO 8601, UTC.
        state: RecordState.
        procedure: Identifier of the procedure.
        operator: Operator code.
        patient: Patient reference; signs between letters and digits do not count.
        room: Where it was made.
        lot: Lot of a device, also one that was corrected since; signs between letters and digits do not count.
        unread: Whether to list what cannot be read as well, whatever else is asked: it may be what is looked for.
    """

    since: str | None = None
    until: str | None = None
    state: str | None = None
    procedure: str | None = None
    operator: str | None = None
    patient: str | None = None
    room: str | None = None
    lot: str | None = None
    unread: bool = False

    def takes(self, item: Summary) -> bool:
        """Whether a record passes."""
        if self.unread and not item.started:
            return True
        day = item.started[:10]
        return (
            (self.since is None or day >= self.since)
            and (self.until is None or day <= self.until)
            and (self.state is None or item.state == self.state)
            and (self.procedure is None or item.procedure == self.procedure)
            and (self.operator is None or item.operator.upper() == self.operator.upper())
            and (self.patient is None or bare_code(item.patient) == bare_code(self.patient))
            and (self.room is None or item.room.casefold() == self.room.casefold())
            and (self.lot is None or names_lot(item, self.lot))
        )


def names_lot(item: Summary, lot: str) -> bool:
    """Whether a record names a lot, as it stands or as it stood before."""
    return bare_code(lot) in {bare_code(one) for one in (*item.lots, *item.lots_before)}


def list_records(root: Path, wanted: Filter | None = None) -> list[Summary]:
    """The records of a store, the oldest first.

    Args:
        root: Folder whose subfolders are records.
        wanted: Which of them.

    Raises:
        RecordError: The folder cannot be read.
    """
    wanted = wanted or Filter()
    found = file_marks(root)
    known = _recall(root)
    summaries: dict[str, Summary] = {}
    fresh: dict[str, tuple[str, Summary]] = {}
    for name, file in found.items():
        cached = known.get(name)
        if cached is not None and cached[0] == file:
            summaries[name] = cached[1]
        else:
            summaries[name] = summary_of(root, name)
            fresh[name] = (file, summaries[name])
    learnt = {name: (file, json.dumps(asdict(item))) for name, (file, item) in fresh.items()}
    keep(root, "seen", learnt, set(known) - set(found))
    current = (_live(root, item) for item in summaries.values())
    return sorted(filter(wanted.takes, current), key=lambda item: (item.started, item.name))


def file_marks(root: Path) -> dict[str, str]:
    """What this system says of the file of each record: another mark means that it may hold something else.

    Raises:
        RecordError: The folder cannot be read.
    """
    try:
        return dict(_files(root))
    except OSError as error:
        raise RecordError(f"cannot read {root}: {error.strerror}; give a folder of records") from error


def _files(root: Path) -> Iterator[tuple[str, str]]:
    """Folders that may be records, and what this system says of the file of each."""
    with os.scandir(root) as folders:
        for folder in folders:
            try:
                found = os.lstat(f"{folder.path}/{RECORD_FILE}")
            except (FileNotFoundError, NotADirectoryError):
                continue
            except OSError:
                # A folder that may not be entered is listed as broken as well: it may hold a record.
                with contextlib.suppress(OSError):
                    if folder.is_dir():
                        yield folder.name, _UNREADABLE_FILE
            else:
                if folder.is_symlink():
                    yield folder.name, _UNREADABLE_FILE
                    continue
                yield folder.name, _file_words(found)


def _live(root: Path, item: Summary) -> Summary:
    """Whether a process writes a record is no property of its file, so it is asked for each time."""
    if item.state not in (RecordState.OPEN, RecordState.INTERRUPTED):
        return item
    try:
        state = RecordState.OPEN if is_written(root / item.name / RECORD_FILE) else RecordState.INTERRUPTED
    except RecordError:
        return _unreadable(item.name)
    return Summary(**(asdict(item) | {"state": state.value}))


def checked(root: Path, name: str) -> Verification:
    """Verify a record of a store.

    Raises:
        RecordError: It cannot be read, or its folder is a link: what it leads to is no record of this store.
    """
    if (root / name).is_symlink():
        raise RecordError(f"{root / name} is a link, and none is followed here")
    return verify(root / name)


def summary_of(root: Path, name: str) -> Summary:
    """What a list says of a record in a folder of records; also of one that cannot be read."""
    try:
        found = checked(root, name)
    except NewerFormError:
        return _unreadable(name, RecordState.NEWER)
    except RecordError:
        return _unreadable(name)
    return summary_from(name, found)


def summary_from(name: str, found: Verification) -> Summary:
    """What a list says of a record that was verified."""
    record = found.record
    if record is None:
        return Summary(name, found.state.value, "", "", "", "", False, found.lines, found.head_hash, 0)
    account, now = account_of(record), lots_standing(record)
    return Summary(
        name=name,
        state=found.state.value,
        started=record.started.wall if record.started is not None else record.header.started,
        procedure=record.header.procedure,
        operator=record.operator,
        patient=record.patient_reference,
        practice=record.practice,
        lines=found.lines,
        head=found.head_hash,
        open_items=len(account.open_items),
        record_id=record.header.record_id,
        room=record.header.room,
        outcome=account.outcome,
        red=len(account.flagged(Severity.RED)),
        overrides=len(account.overrides),
        early_ends=len(account.early_ends),
        over_target=len(account.off_target(ZoneStanding.OVER)),
        lots=now,
        lots_before=tuple(lot for lot in lots_named(record) if lot not in now),
    )


def _unreadable(name: str, state: RecordState = RecordState.BROKEN) -> Summary:
    return Summary(name, state.value, "", "", "", "", False, 0, FIRST_PREV, 0)


def _recall(root: Path) -> dict[str, tuple[str, Summary]]:
    """What the index knows of each record; nothing where it holds what no listing writes."""
    try:
        known = {
            name: (file, read_summary(json.loads(learnt))) for name, (file, learnt) in recalled(root, "seen").items()
        }
    except (ValueError, TypeError, AttributeError, RecursionError):
        return {}
    return known if all(_is_summary_of(name, item) for name, (_, item) in known.items()) else {}


def read_summary(members: dict[str, Any]) -> Summary:
    """A summary from an index, whose lists are lists.

    Raises:
        KeyError: It is none, and so with `TypeError`.
    """
    lists = {name: tuple(members[name]) for name in ("lots", "lots_before")}
    return Summary(**(members | lists))


def _is_summary_of(name: str, item: Summary) -> bool:
    """Whether this could be what `summary_of` gave."""
    texts = (
        *(item.started, item.procedure, item.operator, item.patient, item.head, item.record_id, item.room),
        *(item.outcome, *item.lots, *item.lots_before),
    )
    counts = (item.lines, item.open_items, item.red, item.overrides, item.early_ends, item.over_target)
    return (
        item.name == name
        and item.state in list(RecordState)
        and all(type(text) is str for text in texts)
        and type(item.practice) is bool
        and all(type(count) is int for count in counts)
    )


class RecordFolder:
    """The records in the subfolders of a folder, as a `port.RecordSource`."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def listed(self, wanted: Filter) -> list[Summary]:
        """See `RecordSource.listed`."""
        return list_records(self.root, wanted)

    def checked(self, name: str) -> Verification:
        """See `RecordSource.checked`."""
        return checked(self.root, name)

    def folded(
        self, names: Iterable[str], fold: Callable[[str], str | None], known: Callable[[str], bool]
    ) -> dict[str, str]:
        """See `RecordSource.folded`."""
        return folded(self.root, names, fold, known)

    def goes_on_from(self, longer: Summary, shorter: Summary) -> bool:
        """See `RecordSource.goes_on_from`: the hash of its last line is named by the next one of the other."""
        if longer.head == shorter.head:
            return True
        try:
            return shorter.head.encode() in read_within(self.root / longer.name, RECORD_FILE, LARGEST_FILE)
        except OSError:
            return False


def folded(
    root: Path, names: Iterable[str], fold: Callable[[str], str | None], known: Callable[[str], bool]
) -> dict[str, str]:
    """What is made of some records, each from the index where its file is the one that it was made of.

    Args:
        root: Folder of the store.
        names: Of the records.
        fold: Makes it anew, as JSON; None where a record cannot be read, which is tried again the next time.
        known: Whether what the index has is of the form that `fold` gives.
    """
    files = {name: f"{__version__} {file}" for name, file in _files_of(root, names)}
    kept = recalled(root, "folded", files)
    found: dict[str, str] = {}
    fresh: dict[str, tuple[str, str]] = {}
    for name, file in files.items():
        cached = kept.get(name)
        if cached is not None and cached[0] == file and known(cached[1]):
            found[name] = cached[1]
            continue
        made = fold(name)
        if made is not None:
            found[name] = made
            fresh[name] = (file, made)
    keep(root, "folded", fresh)
    return found


def _files_of(root: Path, names: Iterable[str]) -> Iterator[tuple[str, str]]:
    for name in names:
        with contextlib.suppress(OSError):
            yield name, _file_words((root / name / RECORD_FILE).lstat())


def _file_words(found: os.stat_result) -> str:
    """What this system says of a file, which no copy brings along."""
    return f"{found.st_size} {found.st_mtime_ns} {found.st_ctime_ns} {found.st_ino}"
