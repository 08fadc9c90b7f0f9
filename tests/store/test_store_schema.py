"""The schema of a store: an older and a newer one are told, and nothing is lost on the way up."""

import json
import shutil
from pathlib import Path

import pytest
from store_rooms import Department, counted, one_line, visit_in

from handsfree.errors import StoreError
from handsfree.record.line_checking import RECORD_FILE
from handsfree.store import schema_steps
from handsfree.store.pushing import Outcome

psycopg = pytest.importorskip("psycopg", reason="psycopg is not installed: pip install 'handsfree[store]'")
ROOT = Path(__file__).resolve().parents[2]


def test_an_older_and_a_newer_schema_take_nothing_and_say_what_to_do(store, room, monkeypatch):
    folder, made = room
    steps = schema_steps.known_steps()
    with monkeypatch.context() as newer_program:
        newer_program.setattr(schema_steps, "known_steps", lambda: (*steps, "9999.later"))
        with pytest.raises(StoreError) as error:
            store.push(folder)
    told = one_line(error)
    assert f"is of an older schema ({steps[-1]}) than this program (9999.later): nothing was done" in told
    assert "`handsfree store init URL`" in told
    store.ask(
        "insert into handsfree_schema_steps (migration_hash, migration_id, applied_at_utc)"
        " values ('x', '9999.later', now())"
    )
    for refused in (lambda: store.push(folder), lambda: schema_steps.make_schema(store.address("postgres"))):
        with pytest.raises(StoreError) as error:
            refused()
        assert (
            f"is of a newer schema (9999.later) than this program ({steps[-1]}): nothing was done; update"
            in one_line(error)
        )
    assert counted(store, made) == (0, 0)
    store.ask("delete from handsfree_schema_steps where migration_id = '9999.later'")
    store.push(folder)
    assert counted(store, made) == (12, 12 * 21)


def test_the_schema_is_made_once_however_often_it_is_asked_for(store):
    before = store.ask("select count(*) from handsfree_schema_steps")
    assert schema_steps.make_schema(store.address("postgres")) == ()
    assert store.ask("select count(*) from handsfree_schema_steps") == before == [(len(schema_steps.known_steps()),)]


def test_an_older_store_is_brought_up_to_date_with_all_that_it_has(server, template, tmp_path, monkeypatch):
    steps = tmp_path / "sql"
    steps.mkdir()
    first = schema_steps.known_steps()[0]
    shutil.copy(ROOT / "handsfree" / "store" / "sql" / f"{first}.sql", steps)
    with psycopg.connect(server.address("postgres"), autocommit=True) as owner:
        owner.execute("create database older")
    store = Department(server, "older")
    with monkeypatch.context() as older:
        older.setattr(schema_steps, "_SQL", steps)
        assert schema_steps.make_schema(store.address("postgres")) == (first,)
    visit_in(tmp_path / "room" / "one")
    content = (tmp_path / "room" / "one" / RECORD_FILE).read_bytes()
    record_id = json.loads(content.splitlines()[0])["data"]["record_id"]
    begin = "insert into handsfree.visits (record_id, name) values (%s, 'one') returning visit"
    visit = store.ask(begin, record_id, user="room_1")[0][0]
    piece = "insert into handsfree.pieces (visit, first_line, raw, room_clock) values (%s, 0, %s, now())"
    store.ask(piece, visit, content, user="room_1")
    with pytest.raises(StoreError, match="is of an older schema"):
        store.push(tmp_path / "room")
    assert schema_steps.make_schema(store.address("postgres")) == schema_steps.known_steps()[1:]
    assert store.push(tmp_path / "room").count(Outcome.SAME) == 1
    assert store.raw(record_id) == content
    with psycopg.connect(server.address("postgres"), autocommit=True) as owner:
        owner.execute("drop database older with (force)")
