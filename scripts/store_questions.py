"""A store with very many visits, and how long its questions take; a part of `bench_store.py`."""

import json
import random
import time
from collections.abc import Callable, Iterable
from dataclasses import asdict
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import psycopg
from store_visits import FIRST_DAY, LOTS, Multiplied, visit

from handsfree import __version__
from handsfree.application.record_places import records_at
from handsfree.model.patient_reference import bare_code
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.store import Filter, summary_from
from handsfree.record.verify import verify
from handsfree.report.day import day_from, folded_visit
from handsfree.store import stored_records
from handsfree.store.stored_records import DAY_VISIT

_BATCH = 500
_DAYS = 365
_SENT_AT = datetime(2026, 11, 29, 12, tzinfo=UTC)
OVER_TARGET = (
    "select distinct visits.record_id from handsfree.facts join handsfree.visits using (visit)"
    " where facts.kind = 'zone_totalled' and lit_s >= over_from_s and day between %s and %s"
)
"""Visits of which light may be over its target: the quality officer's question, by typed columns alone."""


def learnt_of(content: bytes) -> tuple[dict[str, Any], dict[str, Any]]:
    """What a room gives with a visit: its line in a list, and what a day tells of it."""
    with TemporaryDirectory() as place:
        folder = Path(place) / "NAME"
        folder.mkdir()
        (folder / RECORD_FILE).write_bytes(content)
        found = verify(folder)
        return asdict(summary_from("NAME", found)), json.loads(folded_visit("NAME", found) or "{}")


def fill(address: str, made: list[Multiplied], numbers: Iterable[int], visits: int, seed: int) -> None:
    """Send visits through the door of a store, many at once; what rooms learn of each goes with it.

    That is made by the program once of each kind of visit; identifier, day, lot, operator and head are put in.
    """
    draw = random.Random(seed)  # noqa: S311 - no secret
    learnt = [learnt_of(one.content) for one in made]
    batch: list[tuple[str, str, bytes, date, int]] = []
    with psycopg.connect(address) as connection:
        for number in numbers:
            day = FIRST_DAY + timedelta(days=number * _DAYS // visits)
            record_id, content, kind = visit(made, draw, day)
            batch.append((f"room_{number % 50:02}", record_id, content, day, kind))
            if len(batch) == _BATCH:
                _send(connection, batch, learnt)
                batch.clear()
        _send(connection, batch, learnt)


def _send(
    connection: psycopg.Connection[Any], batch: list[tuple[str, str, bytes, date, int]], learnt: list[Any]
) -> None:
    names = [f"{day}-{record_id[:8]}" for _, record_id, _, day, _ in batch]
    with connection.cursor() as cursor:
        with cursor.copy("copy handsfree.visits (record_id, name, room) from stdin") as copied:
            for (room, record_id, *_), name in zip(batch, names, strict=True):
                copied.write_row((record_id, name, room))
        ids = [record_id for _, record_id, *_ in batch]
        cursor.execute("select record_id, visit from handsfree.visits where record_id = any(%s)", (ids,))
        numbers = dict(cursor.fetchall())
        with cursor.copy(
            "copy handsfree.pieces (visit, first_line, raw, pushed_by, room_clock) from stdin with (format binary)"
        ) as copied:
            copied.set_types(["int8", "int4", "bytea", "text", "timestamptz"])
            for room, record_id, content, *_ in batch:
                copied.write_row((numbers[record_id], 0, content, room, _SENT_AT))
        cursor.execute("select visit, head from handsfree.visits where visit = any(%s)", (sorted(numbers.values()),))
        heads = dict(cursor.fetchall())
        rows = []
        for (_, record_id, content, day, kind), name in zip(batch, names, strict=True):
            seen, told = learnt[kind]
            lot = _lot(content)
            number = numbers[record_id]
            seen = seen | {"name": name, "record_id": record_id, "head": heads[number].hex(), "lots": [lot]}
            seen = seen | {"started": f"{day}{seen['started'][10:]}"}
            told = told | {"name": name, "day": str(day), "lot": lot}
            rows.append((number, heads[number], json.dumps(seen), [bare_code(lot)], json.dumps(told)))
        with cursor.copy("copy handsfree.listing (visit, program, head, summary, lots) from stdin") as copied:
            for number, head, seen_text, lots, _ in rows:
                copied.write_row((number, __version__, head, seen_text, lots))
        with cursor.copy("copy handsfree.folded (visit, program, kind, head, learnt) from stdin") as copied:
            for number, head, _, _, text in rows:
                copied.write_row((number, __version__, DAY_VISIT, head, text))
    connection.commit()


def _lot(content: bytes) -> str:
    """The lot that a made visit names."""
    at = content.index(b'"field":"lot"')
    start = content.index(b'"text":"', content.index(b'"value":{', at)) + 8
    return content[start : content.index(b'"', start)].decode()


def timed(work: Callable[[], Any]) -> tuple[Any, list[float]]:
    """What a question gives, and how long it takes the first time and four times more, in seconds."""
    seconds = []
    found = None
    for _ in range(5):
        begin = time.perf_counter()
        found = work()
        seconds.append(round(time.perf_counter() - begin, 3))
    return found, seconds


def questions(owner: str, reviewer: str) -> dict[str, Any]:
    """Ask as a reviewer, through the program, each question on a connection of its own."""
    with psycopg.connect(owner, autocommit=True) as connection:
        connection.execute("vacuum analyze")
        sizes = bytes_of(owner)
    day, month = FIRST_DAY + timedelta(days=200), (FIRST_DAY + timedelta(days=180), FIRST_DAY + timedelta(days=209))

    def asked_day() -> int:
        with records_at(reviewer) as source:
            return len(day_from(source, day).visits)

    def asked_lot() -> int:
        with records_at(reviewer) as source:
            return len(source.listed(Filter(lot=LOTS[7], unread=True)))

    def asked_month() -> int:
        with records_at(reviewer) as source:
            wanted = Filter(since=str(month[0]), until=str(month[1]))
            return sum(item.over_target > 0 for item in source.listed(wanted))

    def asked_columns() -> int:
        with psycopg.connect(reviewer, autocommit=True) as connection:
            return len(connection.execute(OVER_TARGET, month).fetchall())

    def asked_day_anew() -> int:
        with psycopg.connect(owner, autocommit=True) as connection:
            connection.execute(
                "delete from handsfree.folded using handsfree.visits where folded.visit = visits.visit and day = %s",
                (day,),
            )
        return asked_day()

    found = {}
    for name, work in (
        ("day", asked_day),
        ("recall of a lot", asked_lot),
        ("light over its target in 30 days, by the program", asked_month),
        ("light over its target in 30 days, by typed columns", asked_columns),
        ("day, folded anew", asked_day_anew),
    ):
        counted, seconds = timed(work)
        found[name] = {"visits": counted, "s": seconds}
    return found | {"indexes": plans(reviewer, day, month), "bytes": sizes}


def plans(reviewer: str, day: date, month: tuple[date, date]) -> dict[str, list[str]]:
    """The indexes that EXPLAIN names for each question."""
    near = Filter(since=str(day - timedelta(days=1)), until=str(day + timedelta(days=1)), unread=True)
    lot = Filter(lot=LOTS[7], unread=True)
    asked: dict[str, tuple[str, Any]] = {
        "day": (stored_records.LISTED + stored_records.conditions(near), stored_records.values_of(near)),
        "recall of a lot": (stored_records.LISTED + stored_records.conditions(lot), stored_records.values_of(lot)),
        "records without a line of this version": (stored_records.STALE, {"program": __version__}),
        "light over its target in 30 days, by typed columns": (OVER_TARGET, month),
    }
    found = {}
    with psycopg.connect(reviewer, autocommit=True) as connection:
        for name, (question, values) in asked.items():
            row = connection.execute("explain (format json) " + question, values).fetchone()
            found[name] = sorted(set(_indexes(row[0] if row is not None else [])))
    return found


def _indexes(plan: Any) -> Iterable[str]:  # noqa: ANN401 - a plan of PostgreSQL
    if isinstance(plan, list):
        for one in plan:
            yield from _indexes(one)
    elif isinstance(plan, dict):
        if "Index Name" in plan:
            yield str(plan["Index Name"])
        elif plan.get("Node Type") == "Seq Scan":
            yield f"(whole table {plan['Relation Name']})"
        for one in plan.values():
            yield from _indexes(one)


def bytes_of(owner: str) -> dict[str, int]:
    """Bytes on the disk of every table, with its indexes and what lies beside it."""
    with psycopg.connect(owner, autocommit=True) as connection:
        rows = connection.execute(
            "select relname, pg_total_relation_size(oid) from pg_class where relnamespace = 'handsfree'::regnamespace"
            " and relkind = 'r' order by 2 desc"
        ).fetchall()
    return {str(name): int(size) for name, size in rows}
