"""A department of invented rooms with one store, and the records that they make."""

import contextlib
import dataclasses
import uuid
from pathlib import Path
from types import SimpleNamespace

from record_samples import CLOSING, HEADER, START, exact, write_visit

from handsfree.clock import ManualClock
from handsfree.record.amendments import amend
from handsfree.record.own_lines import Amended
from handsfree.store.folder_push import push_folder

PEOPLE = {
    "room_1": "handsfree_room",
    "room_2": "handsfree_room",
    "locked": "handsfree_room",
    "reviewer": "handsfree_reviewer",
    "trainer": "handsfree_trainer",
    "nobody_known": None,
}


def make_people(connection):
    """Logins of a department; roles are those of the whole server, so they may be there."""
    for name, role in PEOPLE.items():
        if connection.execute("select from pg_roles where rolname = %s", (name,)).fetchone() is None:
            connection.execute(f"create role {name} login password 'right {name}'")
        if role is not None:
            connection.execute(f"grant {role} to {name}")


class Department:
    """The store of one test, and those who use it."""

    def __init__(self, server, database):
        self.server = server
        self.database = database

    def address(self, user="room_1"):
        return self.server.address(self.database, user)

    def ask(self, question, *values, user="postgres"):
        import psycopg

        with psycopg.connect(self.address(user), autocommit=True) as connection:
            done = connection.execute(question, values)
            return done.fetchall() if done.description is not None else done.rowcount

    def push(self, folder, user="room_1"):
        return push_folder(folder, self.address(user), ManualClock(self.now()))

    @contextlib.contextmanager
    def copied(self):
        """A copy of the store as it is now, which can be put back in its place."""
        import psycopg

        with psycopg.connect(self.server.address("postgres"), autocommit=True) as owner:
            owner.execute(f"create database {self.database}_copy template {self.database}")

            def put_back():
                owner.execute(f"drop database {self.database} with (force)")
                owner.execute(f"alter database {self.database}_copy rename to {self.database}")

            yield SimpleNamespace(put_back=put_back)

    def now(self):
        return self.ask("select now()")[0][0]

    def raw(self, record_id):
        rows = self.ask(
            "select raw from handsfree.pieces join handsfree.visits using (visit) where record_id = %s"
            " order by first_line",
            record_id,
        )
        return b"".join(bytes(raw) for (raw,) in rows)


def visit_in(folder: Path, *, close=True, closing=CLOSING, **header) -> str:
    """Write one short visit; its identifier."""
    record_id = str(uuid.uuid4())
    header = dataclasses.replace(HEADER, record_id=record_id, **header)
    write_visit(folder, close=close, header=header, closing=closing)
    return record_id


def amend_in(folder: Path, value="1.8", by="surgeon", entry=7, key=None):
    """Correct the first reading of the short visit."""
    return amend(folder, entry, Amended(value=exact(value)), by=by, reason="misread", clock=later(90), key=key)


def later(seconds):
    clock = ManualClock(START)
    clock.sleep_until(seconds)
    return clock


def counted(store, made):
    """How many records and lines the store has, after each was compared with what the room wrote."""
    for (record_id,) in store.ask("select record_id from handsfree.visits"):
        assert made[record_id].startswith(store.raw(record_id))
    return store.ask("select count(*), coalesce(sum(lines), 0)::int from handsfree.visits")[0]


def one_line(error):
    text = str(error.value)
    assert "\n" not in text
    return text
