"""Many at once: the same records from several processes and rooms are there once, and every room comes to an end."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from store_rooms import amend_in, counted

from handsfree.record.line_checking import RECORD_FILE
from handsfree.store import schema_steps
from handsfree.store.pushing import Outcome

ROOT = Path(__file__).resolve().parents[2]


def pushing(folder, address):
    return subprocess.Popen(
        [sys.executable, "-m", "handsfree", "store", "push", folder, "--to", address],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


def test_four_processes_of_two_rooms_push_the_same_records_at_once(store, room, tmp_path):
    folder, made = room
    copy = shutil.copytree(folder, tmp_path / "copy")
    working = [pushing(folder, store.address("room_1")) for _ in range(2)]
    working += [pushing(copy, store.address("room_2")) for _ in range(2)]
    ended = [(process.communicate(timeout=60)[1], process.returncode) for process in working]
    assert [code for _, code in ended] == [0, 0, 0, 0], ended
    assert counted(store, made) == (12, 12 * 21)
    assert store.ask("select count(*) from handsfree.pieces") == [(12,)]
    assert store.ask("select count(*) from handsfree.kept_aside") == [(0,)]


def test_of_two_amendments_at_the_same_moment_one_stands_and_one_is_kept_aside(store, room, tmp_path):
    folder, _ = room
    store.push(folder)
    office = shutil.copytree(folder, tmp_path / "office")
    (office / "pushes.sqlite").unlink()
    for place, value in ((folder, "1.8"), (office, "1.6")):
        for one in sorted(path for path in place.iterdir() if path.is_dir()):
            amend_in(one, value)
    working = [pushing(folder, store.address("room_1")), pushing(office, store.address("reviewer"))]
    for process in working:
        process.communicate(timeout=60)
    assert store.ask("select count(*), sum(lines)::int from handsfree.visits") == [(12, 12 * 23)]
    assert store.ask("select count(*) from handsfree.kept_aside") == [(12,)]
    stands = {store.raw(record_id) for (record_id,) in store.ask("select record_id from handsfree.visits")}
    aside = {bytes(raw) for (raw,) in store.ask("select raw from handsfree.kept_aside")}
    written = {file.read_bytes() for place in (folder, office) for file in place.glob(f"*/{RECORD_FILE}")}
    assert stands | aside == written
    assert not stands & aside


def test_a_store_is_named_by_a_service_file(store, room, tmp_path, monkeypatch):
    folder, made = room
    services = tmp_path / "services"
    passwords = tmp_path / "passwords"
    passwords.write_text("*:*:*:locked:right locked\n")
    passwords.chmod(0o600)
    services.write_text(
        f"[ward]\nhost={store.server.folder}\ndbname={store.database}\nuser=locked\npassfile={passwords}\n"
        f"[owner]\nhost={store.server.folder}\ndbname={store.database}\nuser=postgres\n"
    )
    monkeypatch.setenv("PGSERVICEFILE", str(services))
    assert schema_steps.make_schema("postgresql:///?service=owner") == ()
    from handsfree.clock import SystemClock
    from handsfree.store.folder_push import push_folder

    done = push_folder(folder, "postgresql:///?service=ward", SystemClock())
    assert done.count(Outcome.SENT) == 12
    assert store.ask("select distinct room from handsfree.visits") == [("locked",)]
    assert counted(store, made) == (12, 12 * 21)


@pytest.mark.parametrize("lost", ["host=/nowhere", "port=1"])
def test_what_a_service_lacks_is_told_with_its_name(room, tmp_path, monkeypatch, lost):
    from handsfree.clock import SystemClock
    from handsfree.store.connection import UnreachableError
    from handsfree.store.folder_push import push_folder

    pytest.importorskip("psycopg", reason="psycopg is not installed: pip install 'handsfree[store]'")
    services = tmp_path / "services"
    services.write_text(f"[ward]\n{lost}\ndbname=x\nuser=room\n")
    monkeypatch.setenv("PGSERVICEFILE", str(services))
    with pytest.raises(UnreachableError, match=r"cannot reach the store \(service ward\): "):
        push_folder(room[0], "postgresql:///?service=ward", SystemClock())
