"""Records on their way to a store and back: the same bytes, once, whatever happens meanwhile.

Expected values are what the files of the records hold; hashes are SHA-256 (FIPS 180-4), counted by PostgreSQL itself.
"""

import dataclasses
import hashlib
import json
import uuid
from decimal import Decimal

import jsonschema
import pytest
from record_golden import FORM_1, FORM_2, copy_of
from record_samples import BEGUN, CLOSING, HEADER, affirms, again, started
from store_rooms import amend_in, later, visit_in

from handsfree.errors import RecordError, UsageError
from handsfree.record.amendments import attest, delete_clips
from handsfree.record.clips import Retention, clip_file
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE, read_lines
from handsfree.record.schema import record_schema
from handsfree.record.signing import installation_key
from handsfree.record.verify import RecordState, verify
from handsfree.store import pushing
from handsfree.store.pulling import pull_record
from handsfree.store.push_notes import NOTES_FILE
from handsfree.store.pushing import Outcome, settled_lines


def test_what_was_pushed_comes_back_byte_for_byte(store, tmp_path):
    record_id = visit_in(tmp_path / "room" / "one")
    done = store.push(tmp_path / "room")
    assert [(one.outcome, one.sent) for one in done.records] == [(Outcome.SENT, 21)]
    pull_record(store.address("reviewer"), record_id, tmp_path / "pulled")
    sent = (tmp_path / "room" / "one" / RECORD_FILE).read_bytes()
    assert (tmp_path / "pulled" / RECORD_FILE).read_bytes() == sent
    assert (tmp_path / "pulled" / "record.end").read_bytes() == (tmp_path / "room" / "one" / "record.end").read_bytes()
    head = hashlib.sha256(sent.splitlines()[-1]).hexdigest()
    assert store.ask("select lines, encode(head, 'hex'), sealed, day::text from handsfree.visits") == [
        (21, head, True, "2026-11-25")
    ]
    assert verify(tmp_path / "pulled").head_hash == head


def test_a_second_push_sends_nothing_and_a_lost_note_doubles_nothing(store, tmp_path):
    visit_in(tmp_path / "room" / "one")
    visit_in(tmp_path / "room" / "two")
    assert store.push(tmp_path / "room").count(Outcome.SENT) == 2
    again = store.push(tmp_path / "room")
    assert (again.records, again.unchanged) == ((), 2)
    (tmp_path / "room" / NOTES_FILE).unlink()
    assert [one.outcome for one in store.push(tmp_path / "room").records] == [Outcome.SAME] * 2
    assert store.ask("select count(*), sum(lines) from handsfree.visits") == [(2, 42)]
    assert store.ask("select count(*) from handsfree.pieces") == [(2,)]


def test_records_go_the_oldest_first_and_one_alone_where_it_is_named(store, tmp_path):
    visit_in(tmp_path / "room" / "b", started="2026-11-25T09:00:00.000Z")
    visit_in(tmp_path / "room" / "a")
    assert [one.name for one in store.push(tmp_path / "room" / "a").records] == ["a"]
    assert [one.name for one in store.push(tmp_path / "room").records] == ["b"]
    visit_in(tmp_path / "room" / "c")
    visit_in(tmp_path / "room" / "d")
    assert [one.name for one in store.push(tmp_path / "room").records] == ["c", "d"]


def test_facts_are_the_lines_under_the_published_schema(store, tmp_path):
    record_id = visit_in(tmp_path / "room" / "one")
    amend_in(tmp_path / "room" / "one")
    store.push(tmp_path / "room")
    lines = [json.loads(line) for line in store.raw(record_id).splitlines()]
    rows = store.ask("select seq, kind, at, data from handsfree.facts order by seq")
    assert [list(row) for row in rows] == [
        [line["seq"], line["kind"], line["at"], line["data"]] for line in lines if line["kind"] != "event"
    ]
    validator = jsonschema.Draft202012Validator(record_schema())
    for seq, kind, at, data in rows:
        validator.validate({"seq": seq, "prev": lines[seq]["prev"], "at": at, "kind": kind, "data": data})


def test_values_light_and_flags_are_typed_columns(store, tmp_path):
    visit_in(tmp_path / "room" / "one")
    store.push(tmp_path / "room")
    readings = store.ask(
        "select field, side, timing, value_number, unit, severity from handsfree.facts"
        " where kind = 'reading_confirmed' and value_type = 'exact' order by seq"
    )
    assert readings == [
        ("refill", "left", "baseline", Decimal("1.5"), "s", "none"),
        ("refill", "left", "after", Decimal("2.5"), "s", "amber"),
    ]
    assert store.ask("select value_text from handsfree.facts where value_type = 'option'") == [("live",)]
    light = (
        "select zone, lit_s, possible_s, target_s, credited_s, dose_j_cm2, flags from handsfree.facts where kind = %s"
    )
    assert store.ask(light, "zone_totalled") == [
        ("fracture_side", Decimal("9.5"), Decimal("9.5"), Decimal(6), None, Decimal("0.475"), None)
    ]
    assert store.ask(light, "light_turned_off")[0][4:] == (Decimal("9.5"), Decimal("0.475"), ["over_target"])


@pytest.mark.parametrize(("form", "name"), [*((1, name) for name in FORM_1), *((2, name) for name in FORM_2)])
def test_records_of_earlier_versions_go_and_come_back(store, tmp_path, form, name):
    folder = copy_of(name, tmp_path / "room", form)
    whole = (folder / RECORD_FILE).read_bytes()
    reading = read_lines(whole)
    settled = b"".join(line.raw + b"\n" for line in reading.good[: settled_lines(reading)])
    found = verify(folder)
    record = found.record
    done = store.push(tmp_path / "room").records[0]
    assert (done.outcome, done.told) == (Outcome.SENT, "")
    pull_record(store.address("reviewer"), record.header.record_id, tmp_path / "pulled")
    assert (tmp_path / "pulled" / RECORD_FILE).read_bytes() == settled
    if settled == whole:
        assert verify(tmp_path / "pulled").state in (found.state, RecordState.BROKEN)
    told = store.ask("select practice, sealed, procedure, form from handsfree.visits")[0]
    assert told == (record.practice, record.sealed, record.header.procedure, reading.form)


def sounds(store):
    return {sha256 for (sha256,) in store.ask("select encode(sha256, 'hex') from handsfree.clips")}


def test_sound_goes_where_the_site_keeps_it_and_only_as_long(store, tmp_path):
    kept, for_now, never = (tmp_path / "room" / name for name in ("kept", "until attested", "never"))
    clips = {kept: with_sound(kept, Retention.KEEP), for_now: with_sound(for_now, Retention.UNTIL_ATTESTED)}
    visit_in(never)
    store.push(tmp_path / "room")
    assert sounds(store) == set(clips.values())
    record_id = verify(kept).record.header.record_id
    pull_record(store.address("reviewer"), record_id, tmp_path / "pulled")
    assert clip_file(tmp_path / "pulled", clips[kept]).read_bytes() == clip_file(kept, clips[kept]).read_bytes()
    assert verify(tmp_path / "pulled").state == "complete"
    # Sound that is deleted goes with the line that says so: from the store, and from a copy that is brought up to date.
    attest(for_now, installation_key(tmp_path / "key"), by="surgeon")
    delete_clips(kept, reason="asked for by the patient")
    assert store.push(tmp_path / "room").count(Outcome.SENT) == 2
    assert sounds(store) == set()
    for folder in (tmp_path / "pulled again", tmp_path / "pulled"):
        pull_record(store.address("reviewer"), record_id, folder)
        assert verify(folder).state == "complete"
        assert not clip_file(folder, clips[kept]).exists()


def with_sound(folder, retention):
    """A visit with one kept clip of its own; its hash."""
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    header = dataclasses.replace(HEADER, record_id=str(uuid.uuid4()), retention=retention)
    pcm = len(str(retention)).to_bytes(2, "little") * 1600
    with Journal.create(folder, header, clock=later(0)) as journal:
        journal.keep_clips = True
        journal.append(started(record_id=header.record_id), [BEGUN])
        journal.append(affirms(3.0, clip=pcm), [again("first")])
        journal.append(affirms(50.0), [CLOSING])
    return verify(folder).record.clips[0][1]


def test_a_copy_is_brought_up_to_date(store, tmp_path):
    record_id = visit_in(tmp_path / "room" / "one")
    store.push(tmp_path / "room")
    pull_record(store.address("reviewer"), record_id, tmp_path / "office")
    amend_in(tmp_path / "office")
    assert store.push(tmp_path / "office", user="reviewer").records[0].sent == 2
    done = store.push(tmp_path / "room" / "one")
    (tmp_path / "room" / NOTES_FILE).unlink()
    done = store.push(tmp_path / "room").records[0]
    assert (done.outcome, done.told) == (Outcome.BEHIND, "the store has 2 more lines of it; pull it to have them here")
    pull_record(store.address("room_1"), record_id, tmp_path / "room" / "one")
    office = (tmp_path / "office" / RECORD_FILE).read_bytes()
    assert (tmp_path / "room" / "one" / RECORD_FILE).read_bytes() == office
    assert verify(tmp_path / "room" / "one").state == "complete"
    assert store.push(tmp_path / "room").records[0].outcome == Outcome.SAME


def test_nothing_is_pulled_over_another_record(store, tmp_path):
    record_id = visit_in(tmp_path / "room" / "one")
    other = visit_in(tmp_path / "other")
    store.push(tmp_path / "room")
    before = (tmp_path / "other" / RECORD_FILE).read_bytes()
    with pytest.raises(RecordError, match="holds another record"):
        pull_record(store.address(), record_id, tmp_path / "other")
    assert (tmp_path / "other" / RECORD_FILE).read_bytes() == before
    with pytest.raises(UsageError, match=f"no record {other}"):
        pull_record(store.address(), other, tmp_path / "pulled")
    assert not (tmp_path / "pulled").exists()


def test_a_long_record_goes_in_pieces_that_stand_each_by_itself(store, tmp_path, monkeypatch):
    monkeypatch.setattr(pushing, "PIECE_BYTES", 2000)
    record_id = visit_in(tmp_path / "room" / "one")
    assert store.push(tmp_path / "room").records[0].sent == 21
    firsts = [first for (first,) in store.ask("select first_line from handsfree.pieces order by first_line")]
    assert len(firsts) > 3
    assert all(json.loads(store.raw(record_id).splitlines()[first])["kind"] == "event" for first in firsts[1:])
    assert store.raw(record_id) == (tmp_path / "room" / "one" / RECORD_FILE).read_bytes()
