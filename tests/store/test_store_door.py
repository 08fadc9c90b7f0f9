"""What the database itself lets in, whoever asks: append-only, line by line, each role its own part.

What is refused is asked of PostgreSQL directly, past this program. Error codes: PostgreSQL documentation, appendix A
(42501 insufficient_privilege); those that begin with HF are this schema's own.
"""

import dataclasses
import hashlib
import json

import pytest
from record_samples import CLOSING
from store_rooms import amend_in, visit_in

from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.record_line import canonical
from handsfree.record.verify import verify
from handsfree.store.pushing import Outcome

psycopg = pytest.importorskip("psycopg", reason="psycopg is not installed: pip install 'handsfree[store]'")
PIECE = "insert into handsfree.pieces (visit, first_line, raw, room_clock) values (%s, %s, %s, now())"
TABLES = ("visits", "pieces", "facts", "end_notes", "clips", "kept_aside")


def every(table, question):
    """A question about a table of the schema."""
    return question.format(table=f"handsfree.{table}")


def refused(store, code, question, *values, user="room_1"):
    with pytest.raises(psycopg.Error) as told:
        store.ask(question, *values, user=user)
    assert told.value.sqlstate == code, told.value
    return str(told.value)


@pytest.fixture
def pushed(store, tmp_path):
    """One record in the store; its number there and its lines."""
    visit_in(tmp_path / "room" / "one")
    store.push(tmp_path / "room")
    visit = store.ask("select visit from handsfree.visits")[0][0]
    return visit, (tmp_path / "room" / "one" / RECORD_FILE).read_bytes().splitlines(keepends=True)


def entered(store, record_id, user="room_1"):
    return store.ask(
        "insert into handsfree.visits (record_id, name) values (%s, 'x') returning visit", record_id, user=user
    )[0][0]


@pytest.mark.parametrize("user", ["room_1", "reviewer", "trainer", "nobody_known"])
@pytest.mark.parametrize("table", TABLES)
def test_no_role_may_change_or_take_away_anything(store, pushed, table, user):
    for question in ("delete from {table}", "truncate {table} cascade"):
        refused(store, "42501", every(table, question), user=user)
    column = store.ask(
        "select column_name from information_schema.columns where table_schema = 'handsfree' and table_name = %s"
        " and is_generated = 'NEVER' and is_identity = 'NO' limit 1",
        table,
    )[0][0]
    refused(store, "42501", every(table, "update {table} set column = column".replace("column", column)), user=user)


def test_the_owner_may_not_either(store, pushed, tmp_path):
    broken = tmp_path / "room" / "two"
    visit_in(broken)
    (broken / RECORD_FILE).write_bytes(b"{}\n")
    store.push(tmp_path / "room")
    for table in TABLES:
        refused(store, "HF005", every(table, "truncate {table} cascade"), user="postgres")
    for table in ("visits", "pieces", "facts", "end_notes", "kept_aside"):
        refused(store, "HF005", every(table, "delete from {table}"), user="postgres")
    refused(store, "HF005", "update handsfree.pieces set first_line = first_line", user="postgres")
    refused(store, "HF005", "update handsfree.visits set lines = lines + 1", user="postgres")
    refused(store, "HF005", "update handsfree.facts set seq = seq", user="postgres")
    fact = "insert into handsfree.facts (visit, seq, kind, at, data) values (%s, 99, 'due_met', '', '{}')"
    refused(store, "HF005", fact, pushed[0], user="postgres")


def altered(line, **changes):
    return canonical(json.loads(line) | changes) + b"\n"


@pytest.mark.parametrize(
    ("what", "code"),
    [
        ("hole", "HF001"),
        ("overlap", "23505"),
        ("line left out", "HF003"),
        ("line altered", "HF003"),
        ("numbered anew", "HF003"),
        ("line repeated", "HF003"),
        ("no line end", "HF002"),
        ("no JSON", "22P02"),
        ("no UTF-8", "22021"),
        ("another record's header", "HF003"),
        ("no header", "HF003"),
        ("no data", "HF003"),
        ("wrong count in the seal", "HF003"),
    ],
)
def test_lines_that_do_not_go_on_are_refused_whole(store, pushed, what, code):
    _, lines = pushed
    visit = entered(store, "another record")
    header = json.loads(lines[0])
    own = canonical(header | {"data": header["data"] | {"record_id": "another record"}}) + b"\n"
    store.ask(PIECE, visit, 0, own, user="room_1")

    def chained(following, first=1):
        out, prev = [], hashlib.sha256(own[:-1]).hexdigest()
        for seq, line in enumerate(following, first):
            out.append(altered(line, prev=prev, seq=seq))
            prev = hashlib.sha256(out[-1][:-1]).hexdigest()
        return out

    good = chained(lines[1:5])
    first, raw = {
        "hole": (2, good[1]),
        "overlap": (0, own),
        "line left out": (1, good[0] + good[2]),
        "line altered": (1, good[0].replace(b'"at":"2026', b'"at":"2025') + good[1]),
        "numbered anew": (1, altered(good[0], seq=2)),
        "line repeated": (1, good[0] + good[0]),
        "no line end": (1, good[0] + good[1][:-1]),
        "no JSON": (1, good[0][:40] + b"\n"),
        "no UTF-8": (1, good[0][:-3] + b"\xff\xfe\n"),
        "another record's header": (1, chained([lines[0]])[0]),
        "no header": (1, b""),
        "no data": (1, altered(good[0], data=[])),
        "wrong count in the seal": (1, altered(chained([lines[-1]])[0], data={"lines": 9, "head": header["prev"]})),
    }[what]
    if what == "no header":
        visit, first, raw = entered(store, "third"), 0, altered(lines[1], seq=0, prev="0" * 64)
    before = store.ask("select lines, head, bytes from handsfree.visits order by visit")
    refused(store, code, PIECE, visit, first, raw)
    assert store.ask("select lines, head, bytes from handsfree.visits order by visit") == before
    assert store.ask("select count(*) from handsfree.facts where visit = %s", visit) == [
        (0 if what == "no header" else 1,)
    ]
    if what != "no header":
        store.ask(PIECE, visit, 1, b"".join(good), user="room_1")
        assert store.ask("select lines from handsfree.visits where visit = %s", visit) == [(5,)]


def test_nothing_of_a_visit_is_taken_after_its_end(store, pushed):
    visit, lines = pushed
    more = altered(lines[3], seq=len(lines), prev=hashlib.sha256(lines[-1][:-1]).hexdigest())
    assert "after the end of the visit" in refused(store, "HF003", PIECE, visit, len(lines), more)


def test_a_room_appends_its_own_alone_and_reads_its_own_alone(store, pushed, tmp_path):
    visit, lines = pushed
    amend_in(tmp_path / "room" / "one")
    more = (tmp_path / "room" / "one" / RECORD_FILE).read_bytes()[len(b"".join(lines)) :]
    refused(store, "42501", PIECE, visit, len(lines), more, user="room_2")
    refused(store, "42501", PIECE, visit, len(lines), more, user="trainer")
    refused(store, "42501", PIECE, visit, len(lines), more, user="nobody_known")
    refused(store, "42501", "insert into handsfree.visits (record_id, name, room) values ('a', 'a', 'room_1')")
    for table in ("visits", "pieces", "facts"):
        assert store.ask(every(table, "select count(*) > 0 from {table}"), user="room_1") == [(True,)]
        assert store.ask(every(table, "select count(*) from {table}"), user="room_2") == [(0,)]
        refused(store, "42501", every(table, "select from {table}"), user="nobody_known")
    refused(store, "42501", "select * from handsfree.standing('x')", user="trainer")


def test_a_reviewer_reads_all_and_appends_only_what_follows_the_end(store, pushed, tmp_path):
    visit, lines = pushed
    half = tmp_path / "room" / "half"
    visit_in(half, close=False)
    store.push(tmp_path / "room")
    open_visit = store.ask("select visit from handsfree.visits where not sealed")[0][0]
    half_lines = (half / RECORD_FILE).read_bytes().count(b"\n")
    head = hashlib.sha256((half / RECORD_FILE).read_bytes().splitlines()[-1]).hexdigest()
    more = altered(lines[-1], seq=half_lines, prev=head, data={"lines": half_lines + 1, "head": head})
    told = refused(store, "HF004", PIECE, open_visit, half_lines, more, user="reviewer")
    assert "belongs to room_1, and only what follows the end of a visit may come from elsewhere" in told
    amend_in(tmp_path / "room" / "one")
    more = (tmp_path / "room" / "one" / RECORD_FILE).read_bytes()[len(b"".join(lines)) :]
    store.ask(PIECE, visit, len(lines), more, user="reviewer")
    assert store.ask("select pushed_by from handsfree.pieces where visit = %s order by first_line", visit) == [
        ("room_1",),
        ("reviewer",),
    ]
    refused(store, "42501", "insert into handsfree.visits (record_id, name) values ('a', 'a')", user="reviewer")


def practice_said(closing_practice):
    return dataclasses.replace(CLOSING, fact=dataclasses.replace(CLOSING.fact, practice=closing_practice))


def test_a_trainer_sees_practice_alone(store, tmp_path):
    from handsfree.store.pulling import pull_record

    live = visit_in(tmp_path / "room" / "live")
    begun = visit_in(tmp_path / "room" / "begun", practice=True)
    declared = visit_in(tmp_path / "room" / "declared", closing=practice_said(True))
    assert store.push(tmp_path / "room").count(Outcome.SENT) == 3
    seen = {record_id for (record_id,) in store.ask("select record_id from handsfree.visits", user="trainer")}
    assert seen == {begun, declared}
    assert all(verify(tmp_path / "room" / name).record.practice for name in ("begun", "declared"))
    for table in ("pieces", "facts"):
        found = store.ask(
            every(table, "select distinct record_id from {table} join handsfree.visits using (visit)"), user="trainer"
        )
        assert {record_id for (record_id,) in found} == seen
    numbers = store.ask("select distinct visit from handsfree.facts", user="trainer")
    assert len(numbers) == 2
    pull_record(store.address("trainer"), begun, tmp_path / "pulled")
    with pytest.raises(Exception, match="no record"):
        pull_record(store.address("trainer"), live, tmp_path / "other")
