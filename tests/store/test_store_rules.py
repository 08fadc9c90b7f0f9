"""Where copies of a record differ: what came first stands, and the other is kept aside whole, with the reason."""

import json
import shutil

import pytest
from forgery import changed, forged, values_changed
from record_visits import Visit
from store_rooms import amend_in, visit_in

from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.signing import installation_key
from handsfree.record.verify import verify
from handsfree.store.pulling import pull_record
from handsfree.store.push_notes import NOTES_FILE
from handsfree.store.pushing import Outcome


def kept_aside(store):
    return store.ask("select name, room, reason, raw from handsfree.kept_aside order by id")


def test_two_rooms_that_push_the_same_record_have_it_once(store, tmp_path):
    record_id = visit_in(tmp_path / "first" / "one")
    shutil.copytree(tmp_path / "first" / "one", tmp_path / "second" / "one")
    assert store.push(tmp_path / "first", user="room_1").records[0].outcome == Outcome.SENT
    other = store.push(tmp_path / "second", user="room_2").records[0]
    assert (other.outcome, other.told) == (Outcome.SAME, "is there already, from room_1")
    assert store.ask("select room, lines from handsfree.visits where record_id = %s", record_id) == [("room_1", 21)]
    assert kept_aside(store) == []


def test_a_copy_that_goes_on_in_another_room_is_kept_aside(store, tmp_path):
    visit_in(tmp_path / "first" / "one")
    shutil.copytree(tmp_path / "first" / "one", tmp_path / "second" / "one")
    store.push(tmp_path / "first", user="room_1")
    amend_in(tmp_path / "second" / "one")
    other = store.push(tmp_path / "second", user="room_2").records[0]
    assert other.outcome == Outcome.REFUSED
    assert "belongs to room_1 and has 2 more lines here; it goes on there, or by a reviewer" in other.told
    ((name, room, reason, raw),) = kept_aside(store)
    assert (name, room, raw) == ("one", "room_2", (tmp_path / "second" / "one" / RECORD_FILE).read_bytes())
    assert reason.startswith("belongs to room_1")


@pytest.mark.parametrize("told", [3, 11])
def test_a_visit_goes_on_after_it_was_pushed_half_way(store, tmp_path, told):
    folder = tmp_path / "room" / "one"
    visit = Visit("light-output-check", folder).start()
    for line in visit.lines[: told // 3 + 1]:
        visit.settle()
        visit.say(line["say"])
    visit.journal.close()
    assert verify(folder).state == "interrupted"
    half = store.push(tmp_path / "room").records[0]
    assert half.outcome == Outcome.SENT
    assert store.ask("select lines, sealed from handsfree.visits") == [(half.lines, False)]
    going_on = Visit("light-output-check", folder).resume()
    assert store.push(tmp_path / "room").records[0].outcome == Outcome.UNDER_WAY
    assert going_on.finish().state == "complete"
    whole = store.push(tmp_path / "room").records[0]
    assert (whole.outcome, whole.lines) == (Outcome.SENT, verify(folder).lines)
    assert store.raw("visit") == (folder / RECORD_FILE).read_bytes()
    assert store.ask("select lines, sealed from handsfree.visits") == [(whole.lines, True)]


def test_a_batch_that_was_cut_off_is_not_sent_until_it_is_whole(store, tmp_path):
    folder = tmp_path / "room" / "one"
    Visit("light-output-check", folder).start().finish()
    whole = (folder / RECORD_FILE).read_bytes().splitlines(keepends=True)
    lead = [number for number, line in enumerate(whole) if json.loads(line)["data"].get("facts", 0) > 1][3]
    (folder / RECORD_FILE).write_bytes(b"".join(whole[: lead + 2]))
    (folder / "record.end").unlink()
    assert store.push(tmp_path / "room").records[0].lines == lead
    Visit("light-output-check", folder).resume().finish()
    assert store.push(tmp_path / "room").records[0].outcome == Outcome.SENT
    assert store.raw("visit") == (folder / RECORD_FILE).read_bytes()
    assert kept_aside(store) == []


def test_of_two_amendments_the_first_in_the_store_stands(store, tmp_path):
    room = tmp_path / "room" / "one"
    record_id = visit_in(room)
    store.push(tmp_path / "room")
    pull_record(store.address("reviewer"), record_id, tmp_path / "office" / "one")
    amend_in(tmp_path / "office" / "one", "1.8", by="surgeon", key=installation_key(tmp_path / "office key"))
    amend_in(room, "1.6", by="therapist", key=installation_key(tmp_path / "room key"))
    assert store.push(tmp_path / "office", user="reviewer").records[0].outcome == Outcome.SENT
    late = store.push(tmp_path / "room").records[0]
    assert late.outcome == Outcome.REFUSED
    assert (
        "goes on otherwise than in the store, which has 23 lines of it from room_1: what came first stands" in late.told
    )
    # Nothing is lost on either side: the lines of the late one are kept aside, and stay in the room.
    assert store.raw(record_id) == (tmp_path / "office" / "one" / RECORD_FILE).read_bytes()
    assert [(name, raw) for name, _, _, raw in kept_aside(store)] == [("one", (room / RECORD_FILE).read_bytes())]
    (tmp_path / "room" / NOTES_FILE).unlink()
    store.push(tmp_path / "room")
    assert len(kept_aside(store)) == 1
    # The way on that is told: pull it, correct it there, push that.
    pull_record(store.address(), record_id, tmp_path / "room" / "again")
    amend_in(tmp_path / "room" / "again", "1.6", by="therapist")
    assert [one.outcome for one in store.push(tmp_path / "room" / "again").records] == [Outcome.SENT]
    readings = verify(tmp_path / "room" / "again").record.readings
    assert [str(one.now.value.value) for reading in readings for one in reading.amendments] == ["1.8", "1.6"]


def test_a_rewritten_record_is_refused_and_kept_aside(store, tmp_path):
    record_id = visit_in(tmp_path / "room" / "one")
    store.push(tmp_path / "room")
    before = store.raw(record_id)
    file = tmp_path / "room" / "one" / RECORD_FILE
    forged(tmp_path / "room" / "one", _another_value)
    assert verify(tmp_path / "room" / "one").state == "complete"
    done = store.push(tmp_path / "room").records[0]
    assert (done.outcome, "goes on otherwise than in the store" in done.told) == (Outcome.REFUSED, True)
    assert store.raw(record_id) == before
    assert [raw for *_, raw in kept_aside(store)] == [file.read_bytes()]


def _another_value(lines):
    lines[7] = values_changed(lines[7], '"1.5"', '"1.6"')


def test_a_broken_record_is_kept_aside_with_its_fault(store, tmp_path):
    visit_in(tmp_path / "room" / "one")
    visit_in(tmp_path / "room" / "two")
    file = tmp_path / "room" / "one" / RECORD_FILE
    file.write_bytes(file.read_bytes().replace(b'"1.5"', b'"1.6"', 1))
    done = {one.name: one for one in store.push(tmp_path / "room").records}
    assert (done["one"].outcome, done["two"].outcome) == (Outcome.REFUSED, Outcome.SENT)
    assert "was altered" in done["one"].told
    ((name, room, reason, raw),) = kept_aside(store)
    assert (name, room, raw) == ("one", "room_1", file.read_bytes())
    assert "was altered" in reason
    assert store.push(tmp_path / "room").unchanged == 2


def test_what_cannot_be_read_is_told_each_time_and_goes_once_it_can_be(store, tmp_path):
    visit_in(tmp_path / "elsewhere")
    (tmp_path / "room").mkdir()
    (tmp_path / "room" / "link").symlink_to(tmp_path / "elsewhere")
    newer = tmp_path / "room" / "newer"
    visit_in(newer)
    whole = (newer / RECORD_FILE).read_bytes()
    forged(newer, lambda lines: lines.__setitem__(0, changed(lines[0], form=99)))
    for _ in range(2):
        told = {one.name: (one.outcome, one.told) for one in store.push(tmp_path / "room").records}
        assert told["link"][0] == told["newer"][0] == Outcome.UNREAD
        assert "is a link, and none is followed here" in told["link"][1]
        assert told["newer"][1].endswith("update this program")
    assert store.ask("select count(*) from handsfree.visits") == [(0,)]
    assert kept_aside(store) == []
    (newer / RECORD_FILE).write_bytes(whole)
    (newer / "record.end").unlink()
    visit_in(tmp_path / "room" / "other")
    assert store.push(tmp_path / "room").count(Outcome.SENT) == 2
