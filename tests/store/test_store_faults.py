"""What can go wrong between a room and a store: one clear line each, nothing lost and nothing doubled."""

import contextlib
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path

import pytest
from cut_network import CutNetwork
from store_rooms import Department, counted, one_line, visit_in

from handsfree.clock import ManualClock
from handsfree.errors import StoreError
from handsfree.record.line_checking import RECORD_FILE
from handsfree.store.connection import UnreachableError
from handsfree.store.folder_push import FIRST_PAUSE_S, keep_pushing, push_folder
from handsfree.store.push_notes import PushNotes
from handsfree.store.pushing import Outcome

psycopg = pytest.importorskip("psycopg", reason="psycopg is not installed: pip install 'handsfree[store]'")
ROOT = Path(__file__).resolve().parents[2]


def program(*arguments, **more):
    """Begin the program in a process of its own."""
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        [sys.executable, "-m", "handsfree", "store", *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
        **more,
    )


def test_a_client_that_is_killed_at_random_loses_and_doubles_nothing(store, room):
    folder, made = room
    draw = random.Random(7)
    kills = 0
    for _ in range(6):
        process = program("push", folder, "--to", store.address())
        time.sleep(draw.uniform(0.3, 1.2))
        kills += process.poll() is None
        process.send_signal(signal.SIGKILL)
        process.communicate()
        counted(store, made)
        shutil.rmtree(folder / "pushes.sqlite", ignore_errors=True)
    assert kills > 0
    store.push(folder)
    assert counted(store, made) == (12, 12 * 21)
    assert store.ask("select count(*) from handsfree.kept_aside") == [(0,)]


class _KilledHereError(BaseException):
    pass


@pytest.mark.parametrize("statement", ["visits", "pieces", "end_notes"])
@pytest.mark.parametrize("when", ["before", "after"])
def test_a_client_that_ends_at_any_statement_goes_on_there(store, room, monkeypatch, statement, when):
    folder, made = room
    execute, left = psycopg.Connection.execute, [3]

    def ended(self, query, *more, **options):
        hit = f"insert into handsfree.{statement}" in query
        left[0] -= hit
        if hit and left[0] == 0 and when == "before":
            self.pgconn.finish()
            raise _KilledHereError
        done = execute(self, query, *more, **options)
        if hit and left[0] == 0:
            self.pgconn.finish()
            raise _KilledHereError
        return done

    with monkeypatch.context() as patched:
        patched.setattr(psycopg.Connection, "execute", ended)
        with pytest.raises(_KilledHereError):
            store.push(folder)
    assert counted(store, made)[0] == (3 if statement == "end_notes" else 2)
    store.push(folder)
    assert counted(store, made) == (12, 12 * 21)


def test_a_server_that_is_killed_is_told_in_one_line_and_loses_nothing(store, room):
    folder, made = room
    sent = []

    def kill_after_four(pushed):
        sent.append(pushed)
        if len(sent) == 4:
            store.server.kill()

    try:
        with pytest.raises(UnreachableError) as error:
            push_folder(folder, store.address(), ManualClock(store.now()), telling=kill_after_four)
        assert "was lost on the way" in one_line(error)
        with pytest.raises(UnreachableError) as error:
            store_push_while_down(store, folder)
        assert "cannot reach the store" in one_line(error)
    finally:
        store.server.start()
    # More may have been committed before all of the server was gone, and nobody was told of them.
    visits, lines = counted(store, made)
    assert visits in range(4, 13)
    assert lines == visits * 21
    store.push(folder)
    assert counted(store, made) == (12, 12 * 21)


def store_push_while_down(store, folder):
    from handsfree.clock import SystemClock

    return push_folder(folder, store.address(), SystemClock())


@pytest.mark.parametrize("after", [0, 300, 6000, 15000, 40000])
def test_a_network_that_is_cut_in_the_middle_of_a_push(store, room, after):
    folder, made = room
    network = CutNetwork(store.server.socket)
    address = network.address(store.database, "room_1")
    try:
        network.cut_next(after)
        with pytest.raises(UnreachableError) as error:
            push_folder(folder, address, ManualClock(store.now()))
        assert ("cannot reach the store" if after == 0 else "was lost on the way") in one_line(error)
        before = counted(store, made)
        network.mend()
        push_folder(folder, address, ManualClock(store.now()))
        assert counted(store, made) == (12, 12 * 21)
        assert before[0] < 12
        if after >= 40000:
            assert before[0] > 0
    finally:
        network.close()


def test_a_wrong_password_is_told_and_never_shown(store, room, tmp_path, monkeypatch):
    folder, made = room
    passwords = tmp_path / "passwords"
    monkeypatch.setenv("PGPASSFILE", str(passwords))

    def keep(password):
        passwords.write_text(f"*:*:*:locked:{password}\n")
        passwords.chmod(0o600)

    keep("not it")
    with pytest.raises(StoreError) as error:
        store.push(folder, user="locked")
    assert 'password authentication failed for user "locked"' in one_line(error)
    assert "not it" not in str(error.value)
    keep("right locked")
    assert store.push(folder, user="locked").count(Outcome.SENT) == 12
    assert counted(store, made) == (12, 12 * 21)


def test_somebody_without_a_role_is_told_so(store, room):
    with pytest.raises(
        StoreError, match=r"does not permit it: .*; its owner grants a role such as handsfree_room"
    ) as error:
        store.push(room[0], user="nobody_known")
    one_line(error)


def test_a_database_without_a_store_is_told(server, room):
    with pytest.raises(StoreError, match=r"there is no store at .*; its owner makes one by `handsfree store init URL`"):
        push_folder(room[0], server.address("postgres", "room_1"), ManualClock(_noon()))


def _noon():
    from datetime import UTC, datetime

    return datetime(2026, 11, 29, 12, tzinfo=UTC)


@pytest.mark.parametrize(("off", "which"), [(timedelta(days=365), "ahead of"), (timedelta(days=-365), "behind")])
def test_a_clock_that_is_a_year_off_is_told_and_kept(store, room, off, which):
    from handsfree.commands.many_rooms import _clock_line
    from handsfree.store.store_state import store_state

    folder, made = room
    done = push_folder(folder, store.address(), ManualClock(store.now() + off))
    assert done.clock_ahead_s == pytest.approx(off.total_seconds(), abs=60)
    assert which in _clock_line("this machine", done.clock_ahead_s)
    assert counted(store, made) == (12, 12 * 21)
    state = store_state(store.address("reviewer")).rooms[0]
    assert state.clock_ahead_s == pytest.approx(off.total_seconds(), abs=60)
    # The order in which things came is that of the store's own clock.
    assert store.ask("select bool_and(received > now() - interval '1 hour') from handsfree.pieces") == [(True,)]


def test_a_full_disk_takes_nothing_and_is_told(store, room, monkeypatch):
    """A stand-in: PostgreSQL's own error of a full disk (SQLSTATE 53100, disk_full) where a line is put down."""
    folder, made = room
    store.ask(
        "create function full_disk() returns trigger language plpgsql as $$ begin"
        " raise exception 'could not extend file: No space left on device' using errcode = '53100'; end $$"
    )
    store.ask("create trigger a_full_disk before insert on handsfree.facts for each row execute function full_disk()")
    with pytest.raises(UnreachableError) as error:
        store.push(folder)
    told = one_line(error)
    assert "the disk of the store (" in told
    assert told.endswith("is full: nothing was taken; push again once it is not")
    assert counted(store, made) == (0, 0)
    store.ask("drop trigger a_full_disk on handsfree.facts")
    store.push(folder)
    assert counted(store, made) == (12, 12 * 21)


@pytest.fixture
def small_disk(server, template):
    """A store whose disk can be filled: a file system in memory; its department, and how to fill and to empty it."""
    place = server.folder / "small"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=24m", "tmpfs", place], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip(f"a small disk cannot be made here: {mounted.stderr.decode().strip()}")
    shutil.chown(place, server.data.owner())
    place.chmod(0o700)
    department = Department(server, "on_small_disk")
    try:
        with psycopg.connect(server.address("postgres"), autocommit=True) as owner:
            owner.execute(f"create tablespace small location '{place}'")
            owner.execute(f"create database on_small_disk template {template} tablespace small")
        yield department, place / "ballast"
    finally:
        (place / "ballast").unlink(missing_ok=True)
        with psycopg.connect(server.address("postgres"), autocommit=True) as owner:
            owner.execute("drop database if exists on_small_disk with (force)")
            owner.execute("drop tablespace if exists small")
        subprocess.run(["umount", place], check=False)


def fill(ballast):
    with contextlib.suppress(OSError), ballast.open("wb", buffering=0) as file:
        while True:
            file.write(b"\0" * 4096)


def pushed_until_full(store, folder, made):
    """Push one visit after another, as many as the disk takes."""
    for number in range(200):
        store.push(folder)
        record_id = visit_in(folder / f"more {number}")
        made[record_id] = (folder / f"more {number}" / RECORD_FILE).read_bytes()


def test_a_disk_that_is_really_full_takes_nothing_and_is_told(small_disk, room):
    store, ballast = small_disk
    folder, made = room
    counted(store, made)
    fill(ballast)
    with pytest.raises(UnreachableError) as error:
        pushed_until_full(store, folder, made)
    assert "is full: nothing was taken; push again once it is not" in one_line(error)
    before = counted(store, made)
    assert before[1] == 21 * before[0] < 21 * len(made)
    ballast.unlink()
    store.push(folder)
    assert counted(store, made) == (len(made), 21 * len(made))


def test_a_room_tries_again_with_growing_pauses_until_the_store_is_back(store, room):
    folder, made = room
    real = store.now()
    pauses = []

    class Waiting(ManualClock):
        def sleep_until(self, deadline_s):
            pauses.append(round(deadline_s - self.monotonic_s(), 1))
            waits = PushNotes(folder, store.address()).trying()
            assert waits is not None
            assert "cannot reach the store" in waits.fault
            assert waits.tries == len(pauses)
            assert waits.next_at
            super().sleep_until(deadline_s)
            if len(pauses) == 4:
                store.server.start()

    store.server.kill()
    try:
        keep_pushing(folder, store.address(), Waiting(real))
    finally:
        if len(pauses) < 4:
            store.server.start()
    assert pauses == [FIRST_PAUSE_S, 2 * FIRST_PAUSE_S, 4 * FIRST_PAUSE_S, 8 * FIRST_PAUSE_S]
    assert PushNotes(folder, store.address()).trying() is None
    assert counted(store, made) == (12, 12 * 21)


def test_nobody_waits_longer_than_a_day_and_that_is_told(server, room):
    folder, _ = room
    address = f"postgresql://room_1@/nowhere?host={folder}"
    keep_pushing(folder, address, ManualClock(_noon()))
    waits = PushNotes(folder, address).trying()
    assert (waits.next_at, waits.tries > 90) == ("", True)


def test_a_store_that_was_put_back_from_an_earlier_copy_gets_what_it_lacks(store, room):
    folder, made = room
    first, later = folder / "00", folder.parent / "later"
    folder.rename(later)
    folder.mkdir()
    shutil.copytree(later / "00", first)
    store.push(folder)
    with store.copied() as earlier:
        for visit in sorted(later.iterdir())[1:]:
            shutil.copytree(visit, folder / visit.name)
        store.push(folder)
        assert counted(store, made) == (12, 12 * 21)
        earlier.put_back()
    assert counted(store, made) == (1, 21)
    assert store.push(folder).count(Outcome.SENT) == 11
    assert counted(store, made) == (12, 12 * 21)
