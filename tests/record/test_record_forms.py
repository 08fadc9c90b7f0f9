"""Records of every form stay readable: golden ones are verified, read, amended, attested and resumed."""

import dataclasses
import json

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from record_golden import FORM_1, FORM_2, copy_of, made_over, raw_lines
from record_samples import HEADER, START, again

from handsfree import __version__
from handsfree.clock import ManualClock
from handsfree.errors import RecordError
from handsfree.model.effects import Append
from handsfree.model.events import SessionInterrupted
from handsfree.model.facts import NoteTaken, VisitClosed
from handsfree.model.readings import AbsentReason, Side, value_text
from handsfree.model.reasons import AsWritten
from handsfree.record.amendments import amend, attest, change_of, delete_clips
from handsfree.record.codec import encode_fact
from handsfree.record.contents import Amended
from handsfree.record.end_mark import END_FILE
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.own_lines import OWN_KINDS
from handsfree.record.restore import restore
from handsfree.record.signing import public_hex
from handsfree.record.verify import RecordState, verify

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
CUT = ("cut-before-its-seal", "cut-inside-a-batch")
CLOSED = tuple(name for name in FORM_1 if name not in CUT)
STATES = {
    "amended-and-attested": RecordState.ATTESTED,
    "ended-early-with-sound": RecordState.ATTESTED,
    **dict.fromkeys(CUT, RecordState.INTERRUPTED),
}
WITHOUT_A_PLACE = {"action", "quantity", "fields"}
"""Members of form 1 that said again what the file or other members say."""
IN_WORDS = {"reason", "class_reason", "set_for", "open_items", "gaps", "faults", "old_value", "values"}
"""Members that are codes and typed values now; see the tests of the mapping."""
RENAMED = {"latched": "held"}
"""Words of form 1 that are called otherwise now."""
OF_A_VALUE = {"type", "value", "decimals", "comparator"}


@pytest.mark.parametrize("name", FORM_1)
def test_a_record_of_form_1_is_whole(tmp_path, name):
    found = verify(copy_of(name, tmp_path))
    assert found.state is STATES.get(name, RecordState.COMPLETE), found.faults
    assert found.lines == len(raw_lines(tmp_path / name))
    record = found.record
    assert (record.header.form, record.present_from) == (1, None)
    assert (record.header.program, record.header.build) in (("0.1.0", ""), ("", ""))


@pytest.mark.parametrize("name", FORM_1)
def test_what_form_1_states_is_read_as_facts(tmp_path, name):
    folder = copy_of(name, tmp_path)
    record = verify(folder).record
    lines = [line for line in raw_lines(folder) if line["kind"] not in OWN_KINDS]
    first = {item.seq: item for item in reversed(record.facts)}
    assert sorted(first) == [line["seq"] for line in lines]
    for line in lines:
        item, old = first[line["seq"]], line["data"]
        assert item.at == line["at"]
        _, members = encode_fact(item.fact)
        kept = leaves(members)
        for name_of, value in old.items():
            if name_of not in WITHOUT_A_PLACE | IN_WORDS | OF_A_VALUE:
                assert leaves(RENAMED.get(value, value) if isinstance(value, str) else value) <= kept, (line, name_of)
        if "old_value" in old:
            assert value_text(item.fact.old_value) == old["old_value"]
        if "class_reason" in old:
            assert (item.fact.grounds is None) == (old["class_reason"] == "")
        if old.get("type") in ("exact", "between", "beyond", "absent", "option", "spelledtext", "spokendate"):
            assert (value_text(item.fact.value), item.fact.value.type.replace("_", "")) == (old["value"], old["type"])
            assert getattr(item.fact.value, "decimals", None) == old["decimals"]
        if isinstance(old.get("values"), dict):
            assert {field: value_text(value) for field, value in item.fact.values.items()} == old["values"]


def leaves(value):
    """What stands in a JSON value, apart from where."""
    if isinstance(value, dict):
        return {leaf for item in value.values() for leaf in leaves(item)} | set(value)
    if isinstance(value, list):
        return {leaf for item in value for leaf in leaves(item)}
    return {str(value)} - {"None"}


@pytest.mark.parametrize("name", FORM_2)
def test_a_record_of_form_2_is_whole_and_goes_on(tmp_path, name):
    folder = copy_of(name, tmp_path, form=2)
    found = verify(folder)
    record = found.record
    assert found.state is STATES.get(name, RecordState.COMPLETE), found.faults
    assert (record.header.form, record.present_from) == (2, 0)
    assert record.header.program != ""
    if name not in CUT:
        reading = record.readings[-1]
        other = Side.RIGHT if reading.stands.side is Side.LEFT else Side.LEFT
        amend(folder, reading.recorded.seq, Amended(side=other), by="surgeon", reason="misheard")
        attest(folder, KEY, by="surgeon", open_items_because="seen later" if record.open_items else "")
        assert verify(folder).state is RecordState.ATTESTED
        assert "form_raised" not in {line["kind"] for line in raw_lines(folder)}


def test_what_form_1_kept_by_the_names_of_steps_is_a_fact_of_its_own(tmp_path):
    record = verify(copy_of("ulnar-fitting", tmp_path)).record
    assert (record.operator, record.side, record.size, record.practice) == ("K4", "right", "medium", True)
    kinds = [item.kind for item in record.facts]
    place = kinds.index("operator_declared")
    assert kinds[place - 1] == "reading_confirmed"
    assert record.facts[place - 1].seq == record.facts[place].seq
    assert value_text(record.facts[place - 1].fact.value) == "K4"


def test_corrections_of_form_1_are_typed(tmp_path):
    record = verify(copy_of("amended-and-attested", tmp_path)).record
    refill = next(one for one in record.readings if one.stands.field == "refill" and one.amendments)
    first, second, third = refill.amendments
    assert value_text(refill.recorded.fact.value) == value_text(first.was.value)
    assert (value_text(first.now.value), first.now.value.decimals, first.now.side) == ("2.4", 1, "right")
    assert (value_text(second.was.value), value_text(second.now.value)) == ("2.4", "<2")
    assert (value_text(third.was.value), value_text(third.now.value)) == ("<2", "2-3")
    assert (value_text(refill.stands.value), refill.stands.side) == ("2-3", "right")
    pulse = next(one for one in record.readings if one.stands.field == "pulse" and one.amendments)
    assert pulse.stands.value.reason is AbsentReason.NOT_PERFORMED
    (note,) = record.notes
    assert (note.recorded.fact.text, note.text, note.verified) == (
        "padding checked at the wrist",
        "padding checked at the thumb",
        False,
    )
    assert [one.by for one in record.attestations] == ["surgeon", "technician"]
    assert [one.open_items for one in record.attestations] == [(), ()]


def test_what_form_1_left_open_is_typed(tmp_path):
    record = verify(copy_of("ended-early-with-sound", tmp_path)).record
    assert record.open_items == record.attestation.open_items
    assert {item.type for item in record.open_items} == {"open_step"}
    assert record.attestation.because == "seen in the emergency room"
    assert len(record.clips) == 3


# One of each kind of visit: every other record is only a longer one.
@pytest.mark.parametrize("name", ["dressing-change", "light-output-check", "splint-removal", "wrong-side-hasty"])
def test_an_older_record_is_amended_and_attested_in_the_new_form(tmp_path, name):
    folder = copy_of(name, tmp_path)
    before = (folder / RECORD_FILE).read_bytes()
    lines = len(before.splitlines())
    record = verify(folder).record
    reading = record.readings[-1]
    entry, other = reading.recorded.seq, "right" if reading.stands.side is Side.LEFT else "left"
    amend(folder, entry, change_of(folder, entry, "side", other), by="surgeon", reason="misheard", key=KEY)
    after = (folder / RECORD_FILE).read_bytes()
    assert after.startswith(before)
    added = raw_lines(folder)[lines:]
    assert [line["kind"] for line in added] == ["form_raised", "amended", "sealed"]
    assert {line["data"]["public_key"] for line in added} == {public_hex(KEY)}
    assert {name: added[0]["data"][name] for name in ("form", "program")} == {"form": 2, "program": __version__}
    attest(folder, KEY, by="surgeon", open_items_because="seen later" if record.open_items else "")
    found = verify(folder)
    assert found.state is RecordState.ATTESTED, found.faults
    assert [line["kind"] for line in raw_lines(folder)[lines:]].count("form_raised") == 1
    again_read = next(one for one in found.record.readings if one.recorded.seq == entry)
    assert again_read.stands.side == other
    assert found.record.facts == record.facts
    assert found.record.present_from == lines
    assert found.record.open_items == record.open_items == found.record.attestation.open_items


def test_an_older_record_is_attested_without_being_amended(tmp_path):
    folder = copy_of("light-output-check", tmp_path)
    attest(folder, KEY, by="surgeon")
    assert verify(folder).state is RecordState.ATTESTED
    assert [line["kind"] for line in raw_lines(folder)[-2:]] == ["form_raised", "attested"]


def test_an_older_record_that_was_attested_is_verified_against_its_key(tmp_path):
    folder = copy_of("amended-and-attested", tmp_path)
    found = verify(folder, trusted_key=public_hex(KEY))
    assert (found.state, found.faults) == (
        RecordState.ATTESTED,
        (),
    )  # of that form the note of the end had no signature
    entry = found.record.readings[-1].recorded.seq
    amend(folder, entry, change_of(folder, entry, "value", "not-performed"), by="surgeon", reason="forged")
    told = " / ".join(map(str, verify(folder, trusted_key=public_hex(KEY)).faults))
    assert "was added after the attestation and is not signed" in told
    assert "is not signed by the key to be trusted" in told


def test_sound_of_an_older_record_is_deleted(tmp_path):
    folder = copy_of("ended-early-with-sound", tmp_path)
    assert delete_clips(folder, reason="asked by the patient") == 3
    found = verify(folder)
    assert found.state is RecordState.COMPLETE, found.faults
    assert len(found.record.deleted_clips) == 3


def answering(folder, *more):
    """A session that answers as the record states, and to the last event also what is missing."""
    record = verify(folder).record
    last = record.event_lines[-1]
    table = {
        event: [Append(item.fact) for item in record.facts if item.event_seq == line]
        for event, line in zip(record.events, record.event_lines, strict=True)
    }
    assert record.facts[-1].event_seq == last
    table[record.events[-1]] += more
    return lambda event: table[event]


def test_an_older_record_that_was_cut_inside_a_batch_goes_on(tmp_path):
    folder = copy_of("cut-inside-a-batch", tmp_path)
    before = (folder / RECORD_FILE).read_bytes()
    cut = verify(folder)
    whole = cut.record.event_lines[-1]
    session = answering(folder, again("a"), again("b"))
    clock = ManualClock(START)
    clock.sleep_until(5000)
    journal, found = restore(folder, session, clock=clock)
    with journal:
        journal.append(SessionInterrupted(at_s=found.last_at_s, wall="2026-11-25T11:30:00.000Z", gap_s=1.0), [])
    # The event whose facts were not all there is written anew in the new form, with all that follows from it.
    kinds = [line["kind"] for line in raw_lines(folder)[whole:]]
    facts = [item.kind for item in cut.record.facts if item.event_seq == whole]
    assert kinds == ["form_raised", "event", *facts, "said_again", "said_again", "interrupted", "event"]
    record = verify(folder).record
    assert record.events[:-1] == cut.record.events
    assert [item.fact for item in record.facts] == [item.fact for item in cut.record.facts] + [
        again("a").fact,
        again("b").fact,
    ]
    (noted,) = record.interruptions
    assert noted.program == __version__
    kept = b"".join(before.splitlines(keepends=True)[:whole])
    assert (folder / RECORD_FILE).read_bytes().startswith(kept)
    assert kept + (folder / "torn-1.bin").read_bytes() == before


def test_a_refused_replay_of_an_older_record_changes_nothing(tmp_path):
    folder = copy_of("cut-inside-a-batch", tmp_path)
    before = (folder / RECORD_FILE).read_bytes()
    with pytest.raises(RecordError, match="where replay gives said_again"):
        restore(folder, lambda _: [again("somewhere")])
    assert (folder / RECORD_FILE).read_bytes() == before
    assert not list(folder.glob("torn-*"))


def test_an_older_record_that_only_lacks_its_seal_is_sealed(tmp_path):
    folder = copy_of("cut-before-its-seal", tmp_path)
    session = answering(folder)
    with restore(folder, session)[0] as journal:
        assert journal.sealed
    found = verify(folder)
    assert found.state is RecordState.COMPLETE, found.faults
    assert [line["kind"] for line in raw_lines(folder)[-2:]] == ["form_raised", "sealed"]


def test_an_older_record_that_is_whole_up_to_its_end_goes_on(tmp_path):
    folder = copy_of("cut-before-its-seal", tmp_path)
    content = (folder / RECORD_FILE).read_bytes()
    events = [index for index, line in enumerate(raw_lines(folder)) if line["kind"] == "event"]
    (folder / RECORD_FILE).write_bytes(b"".join(content.splitlines(keepends=True)[: events[-1]]))
    session = answering(folder)
    journal, _ = restore(folder, session)
    journal.close()
    assert [line["kind"] for line in raw_lines(folder)[events[-1] :]] == ["form_raised", "interrupted"]
    assert verify(folder).state is RecordState.INTERRUPTED
    # And once more, now that part of it is of the new form.
    journal, _ = restore(folder, session)
    journal.close()
    assert [line["kind"] for line in raw_lines(folder)[events[-1] :]] == ["form_raised", "interrupted", "interrupted"]


def test_an_older_record_whose_last_facts_say_less_than_today_goes_on(tmp_path):
    # Form 1 did not write the limits of a zone beside its sum; a session of today states them.
    folder = copy_of("hot-zone-good", tmp_path)
    kinds = [line["kind"] for line in raw_lines(folder)]
    end = kinds.index("event", kinds.index("zone_totalled"))
    content = (folder / RECORD_FILE).read_bytes()
    (folder / RECORD_FILE).write_bytes(b"".join(content.splitlines(keepends=True)[:end]))
    (folder / END_FILE).unlink()
    given = answering(folder)

    def session(event):
        return [
            Append(dataclasses.replace(effect.fact, tolerance_s=0.3, over_from_s=7.5))
            if effect.fact.kind == "zone_totalled"
            else effect
            for effect in given(event)
        ]

    restore(folder, session)[0].close()
    assert [line["kind"] for line in raw_lines(folder)[end:]] == ["form_raised", "interrupted"]


def test_a_kind_of_one_form_is_none_of_another(tmp_path):
    folder = copy_of("light-output-check", tmp_path)
    seq = next(line["seq"] for line in raw_lines(folder) if line["kind"] == "session_started")

    def change(lines):
        lines[seq] = dataclasses.replace(lines[seq], kind="visit_begun")

    made_over(folder, change)
    assert [str(fault) for fault in verify(folder).faults] == [
        f"line {seq + 1}: the kind 'visit_begun' is unknown in form 1"
    ]


def test_a_record_names_the_program_that_wrote_it(tmp_path):
    with Journal.create(tmp_path / "r", dataclasses.replace(HEADER, build="abc")) as journal:
        journal.append(None, [again("x")])
    header = raw_lines(tmp_path / "r")[0]["data"]
    assert (header["form"], header["program"], header["build"]) == (2, __version__, "abc")
    record = verify(tmp_path / "r").record
    assert (record.header.program, record.header.build) == (__version__, "abc")


def test_prose_of_form_1_stays_as_it_was_written(tmp_path):
    record = verify(copy_of("wrong-side-forgetful", tmp_path)).record
    texts = {
        item.fact.grounds.ground.text
        for item in record.facts
        if getattr(item.fact, "grounds", None) is not None and isinstance(item.fact.grounds.ground, AsWritten)
    }
    old = json.dumps(raw_lines(tmp_path / "wrong-side-forgetful"))
    assert texts
    assert all(text in old for text in texts)
    assert isinstance(record.last(VisitClosed), VisitClosed)
    assert record.last(NoteTaken) is None
