"""Many rooms and one store: pushes with kills at random, a hundred thousand visits asked, and what they take on a disk.

    python scripts/bench_store.py push [--rooms 50] [--visits 200] [--seed 1]
    python scripts/bench_store.py asked [--visits 100000]
    python scripts/bench_store.py size

`push`: every room is a process that pushes its folder to a real PostgreSQL with a durable disk. Clients are killed by
SIGKILL at random, and the server too; twice a minute a client begins with its clock a year off. In the end every record
is read back and compared byte for byte. `asked`: fills a store through the same door and asks it for a day, for a lot
and for light over its target; prints the indexes that EXPLAIN names. `size`: bytes of whole fittings and short visits.
Prints JSON. Visits are those of `store_visits.py`: real sessions, multiplied.
"""

import argparse
import contextlib
import hashlib
import json
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parent), str(HERE.parents[1])]

import psycopg  # noqa: E402
from postgres_server import PostgresServer  # noqa: E402
from store_questions import bytes_of, fill, questions  # noqa: E402
from store_visits import FIRST_DAY, Multiplied, kinds, visit, whole_fitting  # noqa: E402

from handsfree.clock import SystemClock  # noqa: E402
from handsfree.record.line_checking import RECORD_FILE  # noqa: E402
from handsfree.store.connection import UnreachableError  # noqa: E402
from handsfree.store.folder_push import push_folder  # noqa: E402
from handsfree.store.schema_steps import make_schema  # noqa: E402

YEAR_S = 31_536_000
KILL_CLIENT_EVERY_S = 3.0
KILL_SERVER_EVERY_S = 40.0
PAUSE_S = 1.0
SKEW_EVERY_S = 30.0


class SkewedClock(SystemClock):
    """The machine's clock, set wrong."""

    def __init__(self, by_s: float) -> None:
        self._by_s = by_s

    def wall(self) -> datetime:
        """See `Clock.wall`."""
        return super().wall() + timedelta(seconds=self._by_s)


def room_process(folder: Path, address: str, by_s: float) -> None:
    """What a room's process does: push its folder, and try again where the store is lost, with short pauses."""
    clock = SkewedClock(by_s)
    for _ in range(1000):
        try:
            push_folder(folder, address, clock)
        except UnreachableError as error:
            with (folder.parent / "faults").open("a", encoding="utf-8") as told:
                told.write(f"{str(error).partition(': ')[2][:60]}\n")
            clock.sleep_until(clock.monotonic_s() + PAUSE_S)
        else:
            os._exit(0)
    os._exit(1)


def a_store(place: Path, rooms: int) -> tuple[PostgresServer, str]:
    """A durable server with a store and a login for every room."""
    server = PostgresServer(place, durable=True)
    with psycopg.connect(server.address("postgres"), autocommit=True) as owner:
        owner.execute("create database store")
    make_schema(server.address("store"))
    with psycopg.connect(server.address("store"), autocommit=True) as owner:
        for number in range(rooms):
            owner.execute(f"create role room_{number:02} login in role handsfree_room")
        owner.execute("create role reviewer login in role handsfree_reviewer")
    return server, "store"


def fill_rooms(root: Path, made: list[Multiplied], rooms: int, visits: int, draw: random.Random) -> dict[str, str]:
    """Records of every room on the disk; identifier to SHA-256 of the file."""
    expected = {}
    for room in range(rooms):
        for number in range(visits):
            record_id, content, _ = visit(made, draw, FIRST_DAY + timedelta(days=number % 365))
            folder = root / f"room_{room:02}" / f"{number:04}"
            folder.mkdir(parents=True)
            (folder / RECORD_FILE).write_bytes(content)
            expected[record_id] = hashlib.sha256(content).hexdigest()
    return expected


def compared(server: PostgresServer, expected: dict[str, str]) -> dict[str, int]:
    """What is in the store, held against what the rooms wrote, byte by byte."""
    seen: dict[str, int] = {}
    forked = short = 0
    question = (
        "select record_id, lines, encode(head, 'hex'), string_agg(raw, ''::bytea order by first_line)"
        " from handsfree.visits join handsfree.pieces using (visit) group by visit, record_id, lines, head"
    )
    with psycopg.connect(server.address("store"), autocommit=False) as owner, owner.cursor("all") as rows:
        rows.execute(question)
        for record_id, lines, head, raw in rows:
            seen[record_id] = seen.get(record_id, 0) + 1
            same = hashlib.sha256(raw).hexdigest() == expected.get(record_id)
            counted = (lines, head) == (raw.count(b"\n"), hashlib.sha256(raw.splitlines()[-1]).hexdigest())
            short += record_id in expected and not (same and counted)
            forked += record_id not in expected
    with psycopg.connect(server.address("store"), autocommit=True) as owner:
        aside = owner.execute("select count(*) from handsfree.kept_aside").fetchone()
    return {
        "visits": len(seen),
        "lost or other than written": len(set(expected) - set(seen)) + short,
        "doubled": sum(count - 1 for count in seen.values()),
        "forked or foreign": forked,
        "kept aside": int(aside[0]) if aside else 0,
    }


class Rooms:
    """Processes of rooms, killed and begun again until each has ended well."""

    def __init__(self, root: Path, server: PostgresServer, rooms: list[str], draw: random.Random) -> None:
        self.root, self.server, self.draw = root, server, draw
        self.left = set(rooms)
        self.running: dict[str, int] = {}
        self.counts = {"clients killed": 0, "servers killed": 0, "begun with a clock a year off": 0, "begun": 0}
        self._next_skew = 0.0

    def begin(self, room: str) -> None:
        """Begin a room's push in a process of its own."""
        skewed = time.perf_counter() >= self._next_skew
        by_s = float(self.draw.choice((-YEAR_S, YEAR_S))) if skewed else 0.0
        if skewed:
            self._next_skew = time.perf_counter() + SKEW_EVERY_S
            self.counts["begun with a clock a year off"] += 1
        self.counts["begun"] += 1
        child = os.fork()
        if child == 0:
            os.nice(5)
            room_process(self.root / room, self.server.address("store", room), by_s)
        self.running[room] = child

    def work(self) -> None:
        """Push until every room is done."""
        next_kill = time.perf_counter() + KILL_CLIENT_EVERY_S
        next_server = time.perf_counter() + KILL_SERVER_EVERY_S / 3
        while self.left:
            for room in sorted(self.left - set(self.running)):
                self.begin(room)
            time.sleep(0.1)
            now = time.perf_counter()
            if now >= next_kill and self.running:
                next_kill = now + self.draw.uniform(0.5, 1.5) * KILL_CLIENT_EVERY_S
                os.kill(self.running[self.draw.choice(sorted(self.running))], signal.SIGKILL)
                self.counts["clients killed"] += 1
            if now >= next_server:
                next_server = now + self.draw.uniform(0.7, 1.3) * KILL_SERVER_EVERY_S
                self.server.kill()
                self.counts["servers killed"] += 1
                self.server.start()
            self._collect()

    def _collect(self) -> None:
        for room, child in list(self.running.items()):
            ended, status = os.waitpid(child, os.WNOHANG)
            if ended:
                del self.running[room]
                if os.waitstatus_to_exitcode(status) == 0:
                    self.left.discard(room)

    @property
    def faults(self) -> dict[str, int]:
        """How the store was lost to clients, in their own lines, and how often."""
        file = self.root / "faults"
        return dict(Counter(file.read_text(encoding="utf-8").splitlines())) if file.exists() else {}


def push(rooms: int, visits: int, seed: int) -> dict[str, Any]:
    """Rooms that push at once, with kills."""
    draw = random.Random(seed)  # noqa: S311 - no secret
    with tempfile.TemporaryDirectory() as name, contextlib.ExitStack() as stack:
        place = Path(name)
        place.chmod(0o755)
        made = kinds(place / "kinds")
        server, _ = a_store(place, rooms)
        stack.callback(server.remove)
        expected = fill_rooms(place / "rooms", made, rooms, visits, draw)
        one, *others = sorted(folder.name for folder in (place / "rooms").iterdir())
        begin = time.perf_counter()
        push_folder(place / "rooms" / one, server.address("store", one), SystemClock())
        undisturbed_s = time.perf_counter() - begin
        work = Rooms(place / "rooms", server, others, draw)
        begin = time.perf_counter()
        work.work()
        disturbed_s = time.perf_counter() - begin
        found = compared(server, expected)
        return {
            "rooms": rooms,
            "visits a room": visits,
            "lines a visit": made[0].lines,
            "one room alone, visits a second": round(visits / undisturbed_s, 1),
            "all rooms at once with kills, visits a second": round((rooms - 1) * visits / disturbed_s, 1),
            "seconds with kills": round(disturbed_s, 1),
            **work.counts,
            "faults told by clients": work.faults,
            **found,
        }


def asked(visits: int, seed: int) -> dict[str, Any]:
    """A store of many visits, asked."""
    with tempfile.TemporaryDirectory() as name, contextlib.ExitStack() as stack:
        place = Path(name)
        place.chmod(0o755)
        made = kinds(place / "kinds")
        server, _ = a_store(place, 50)
        stack.callback(server.remove)
        begin = time.perf_counter()
        # Two processes fill it, each half; the machine has two cores.
        children = []
        for part in range(2):
            child = os.fork()
            if child == 0:
                try:
                    fill(server.address("store"), made, range(part, visits, 2), visits, seed + part)
                    os._exit(0)
                finally:
                    os._exit(1)
            children.append(child)
        codes = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
        filled_s = time.perf_counter() - begin
        if any(codes):
            raise SystemExit("the store could not be filled")
        return {
            "visits": visits,
            "lines": sum(one.lines for one in made[:1]) * visits,
            "filled in s": round(filled_s, 1),
            **questions(server.address("store"), server.address("store", "reviewer")),
        }


def size() -> dict[str, Any]:
    """Bytes of short visits and of whole fittings, each in a store of its own."""
    found: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        place.chmod(0o755)
        whole = Multiplied(whole_fitting(place / "whole"), "visit")
        for what, made, count in (("short visit", kinds(place / "kinds")[0], 2000), ("whole fitting", whole, 300)):
            server, _ = a_store(place, 50)
            try:
                fill(server.address("store"), [made] * 3, range(count), count, 1)
                sizes = bytes_of(server.address("store"))
            finally:
                server.remove()
            each = round(sum(sizes.values()) / count)
            found[what] = {
                "lines": made.lines,
                "bytes of its file": len(made.content),
                "bytes in the store": each,
                "of them": {table: round(total / count) for table, total in sizes.items()},
                "100 rooms, 8 a day, 250 days, ten years: GB": round(each * 100 * 8 * 250 * 10 / 1e9),
            }
    return found


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parts = parser.add_subparsers(dest="part", required=True)
    pushed = parts.add_parser("push")
    pushed.add_argument("--rooms", type=int, default=50)
    pushed.add_argument("--visits", type=int, default=200)
    pushed.add_argument("--seed", type=int, default=1)
    many = parts.add_parser("asked")
    many.add_argument("--visits", type=int, default=100_000)
    many.add_argument("--seed", type=int, default=1)
    parts.add_parser("size")
    chosen = parser.parse_args()
    if chosen.part == "push":
        found = push(chosen.rooms, chosen.visits, chosen.seed)
    elif chosen.part == "asked":
        found = asked(chosen.visits, chosen.seed)
    else:
        found = size()
    print(json.dumps(found, indent=2))


if __name__ == "__main__":
    main()
