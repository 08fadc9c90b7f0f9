"""The records of a store as a `record.port.RecordSource`: asked by indexes, decided by the same code as in a folder.

What the database finds is only what may be looked for: each summary is made by this version of the program, from the
lines, where no room or reviewer has made it yet, and the filter of the program has the last word.
"""

import contextlib
import json
import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from handsfree import __version__
from handsfree.errors import RecordError
from handsfree.model.patient_reference import bare_code
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.store import Filter, Summary, read_summary, summary_of
from handsfree.record.verify import Verification, verify
from handsfree.store.connection import connected, told
from handsfree.store.fetching import fetch, find_stored, put_down
from handsfree.store.schema_steps import check_schema

if TYPE_CHECKING:
    from handsfree.store.connection import Connection

DAY_VISIT = "day"
"""The kind of what `report.day` folds of a record."""


@contextlib.contextmanager
def stored_records(address: str) -> Iterator["StoredRecords"]:
    """The records of a store, over one connection.

    Raises:
        StoreError: It cannot be used.
    """
    with connected(address) as connection:
        check_schema(connection, address)
        yield StoredRecords(connection, address)


class StoredRecords:
    """See `stored_records`. A name is that of the folder in its room, with the room where several have the same."""

    def __init__(self, connection: "Connection", address: str) -> None:
        self._connection = connection
        self._address = address
        self._visits: dict[str, int] = {}

    def listed(self, wanted: Filter) -> list[Summary]:
        """See `RecordSource.listed`."""
        with told(self._address):
            rows = self._connection.execute(LISTED + conditions(wanted), values_of(wanted)).fetchall()
            stale = self._connection.execute(STALE, {"program": __version__}).fetchall()
            aside = self._kept_aside()
        items = [(visit, name, room, read_summary(summary)) for visit, name, room, summary in rows]
        items += [(visit, name, room, self._learn(visit, name)) for visit, name, room in stale]
        items += [(0, name, room, _unread(raw)) for name, room, raw in aside]
        found = self._named(items)
        return sorted(filter(wanted.takes, found), key=lambda item: (item.started, item.name))

    def _named(self, items: list[tuple[int, str, str, Summary]]) -> list[Summary]:
        """Give every record a name of its own, and remember which it is."""
        often: dict[str, int] = {}
        for _, name, _, _ in items:
            often[name] = often.get(name, 0) + 1
        found = []
        for visit, name, room, item in items:
            own = name if often[name] == 1 else f"{name} ({room})"
            self._visits[own] = visit
            found.append(replace(item, name=own))
        return found

    def _kept_aside(self) -> list[tuple[str, str, bytes]]:
        """Records of which nothing stands, the last of each: they could not be read, and hide no other."""
        may = self._connection.execute("select has_table_privilege('handsfree.kept_aside', 'select')").fetchone()
        if may is None or not may[0]:
            return []
        rows = self._connection.execute(
            "select distinct on (room, name) name, room, raw from handsfree.kept_aside as one where not exists"
            " (select from handsfree.visits where visits.record_id = one.record_id)"
            " and not exists (select from handsfree.visits where visits.name = one.name and visits.room = one.room)"
            " order by room, name, id desc"
        ).fetchall()
        return [(str(name), str(room), bytes(raw)) for name, room, raw in rows]

    def _learn(self, visit: int, name: str) -> Summary:
        """Make the summary of a record that has none of this version, and keep it where this role may."""
        with self._at_hand(visit) as folder:
            item = replace(summary_of(folder.parent, folder.name), name=name)
        keep_summary(self._connection, visit, item)
        return item

    @contextlib.contextmanager
    def _at_hand(self, visit: int) -> Iterator[Path]:
        """A record in a folder for a moment, readable by its owner alone."""
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place) / "record"
            with told(self._address):
                put_down(fetch(self._connection, visit), folder)
            yield folder

    @contextlib.contextmanager
    def at_hand(self, name: str) -> Iterator[Path]:
        """The folder of a record for a moment, as it was sent.

        Raises:
            RecordError: It was kept aside, and cannot be read.
            UsageError: There is no such record that this role may read, or several have the name.
        """
        visit = self._visits.get(name)
        if visit == 0:
            raise RecordError(f"{name} cannot be read in the store")
        if visit is None:
            with told(self._address):
                visit = find_stored(self._connection, name).visit
        with self._at_hand(visit) as folder:
            yield folder

    def checked(self, name: str) -> Verification:
        """See `RecordSource.checked`."""
        with self.at_hand(name) as folder:
            return verify(folder)

    def folded(
        self, names: Iterable[str], fold: Callable[[str], str | None], known: Callable[[str], bool]
    ) -> dict[str, str]:
        """See `RecordSource.folded`."""
        wanted = {self._visits[name]: name for name in names if self._visits.get(name)}
        with told(self._address):
            rows = self._connection.execute(FOLDED, (__version__, DAY_VISIT, list(wanted))).fetchall()
        kept = {wanted[visit]: text for visit, text in rows if known(text)}
        found: dict[str, str] = {}
        for visit, name in wanted.items():
            text = kept.get(name)
            if text is None:
                text = fold(name)
                if text is not None:
                    keep_folded(self._connection, visit, text)
            if text is not None:
                found[name] = _under_name(text, name)
        return found

    def goes_on_from(self, longer: Summary, shorter: Summary) -> bool:
        """See `RecordSource.goes_on_from`: a store has every record once."""
        return longer.head == shorter.head


def _unread(raw: bytes) -> Summary:
    """What a list says of lines that were kept aside."""
    with tempfile.TemporaryDirectory() as place:
        (Path(place) / "one").mkdir()
        (Path(place) / "one" / RECORD_FILE).write_bytes(raw)
        return summary_of(Path(place), "one")


def _under_name(text: str, name: str) -> str:
    """What was folded in a room, under the name that the record has in this list."""
    members: dict[str, Any] = json.loads(text)
    return text if members.get("name") == name else json.dumps(members | {"name": name})


LISTED = (
    "select visits.visit, name, room, summary from handsfree.listing join handsfree.visits"
    " on visits.visit = listing.visit and visits.head = listing.head where program = %(program)s"
)
STALE = (
    "select visit, name, room from handsfree.visits where not exists (select from handsfree.listing"
    " where listing.visit = visits.visit and listing.program = %(program)s and listing.head = visits.head)"
    " order by visit"
)
FOLDED = (
    "select visits.visit, learnt from handsfree.folded join handsfree.visits"
    " on visits.visit = folded.visit and visits.head = folded.head"
    " where program = %s and kind = %s and visits.visit = any(%s)"
)
_NEXT_DAY = "\x7f"
"""Sorts after every stamp of a day."""


def conditions(wanted: Filter) -> str:
    """What an index can find of a filter; the rest is left to `Filter.takes`."""
    found = [
        condition
        for asked, condition in (
            (wanted.since, "listing.started >= %(since)s"),
            (wanted.until, "listing.started <= %(until)s"),
            (wanted.lot, "listing.lots @> array[%(lot)s]"),
        )
        if asked is not None
    ]
    if not found:
        return ""
    every = " and ".join(found)
    return f" and ({every} or listing.started = '')" if wanted.unread else f" and {every}"


def values_of(wanted: Filter) -> dict[str, str | None]:
    """What stands for the names in `LISTED` and `conditions`."""
    return {
        "program": __version__,
        "since": wanted.since,
        "until": f"{wanted.until}{_NEXT_DAY}" if wanted.until is not None else None,
        "lot": bare_code(wanted.lot) if wanted.lot is not None else None,
    }


def keep_summary(connection: "Connection", visit: int, item: Summary) -> None:
    """Keep the line of a record in lists, where this role may; it is a cache."""
    _keep(
        connection,
        "insert into handsfree.listing (visit, program, head, summary, lots) values (%s, %s, %s, %s, %s)"
        " on conflict (program, visit) do update set head = excluded.head, summary = excluded.summary,"
        " lots = excluded.lots",
        (
            visit,
            __version__,
            bytes.fromhex(item.head),
            json.dumps(asdict(item)),
            sorted({bare_code(lot) for lot in (*item.lots, *item.lots_before)}),
        ),
    )


def keep_folded(connection: "Connection", visit: int, text: str, head: str | None = None) -> None:
    """Keep what was folded of a record, where this role may; it is a cache.

    Args:
        connection: To the store.
        visit: Number of the record there.
        text: What was folded.
        head: Of which lines; those that the store has now where None.
    """
    _keep(
        connection,
        "insert into handsfree.folded (visit, program, kind, head, learnt)"
        " select visit, %s, %s, coalesce(%s, head), %s from handsfree.visits where visit = %s"
        " on conflict (visit, program, kind) do update set head = excluded.head, learnt = excluded.learnt",
        (__version__, DAY_VISIT, bytes.fromhex(head) if head is not None else None, text, visit),
    )


def _keep(connection: "Connection", statement: str, values: tuple[object, ...]) -> None:
    import psycopg

    with contextlib.suppress(psycopg.errors.InsufficientPrivilege, psycopg.DataError):
        connection.execute(statement, values)
