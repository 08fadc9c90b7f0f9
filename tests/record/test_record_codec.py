"""What is written is what is read, for every event and every fact that the model can state; all else is refused."""

import dataclasses
import typing
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from model_values import of
from record_samples import gives, heard, said, started

from handsfree.errors import RecordError
from handsfree.model import commands, readings
from handsfree.model.events import SessionEvent
from handsfree.model.facts import AnyFact, HoldSet, KindDeclared, ReadingRefused, StatusTold, StepEntered
from handsfree.model.hypotheses import Evidence
from handsfree.model.reasons import AsWritten, Grounds, OverLimit, ScanFault, ScanFaultCode
from handsfree.model.refusals import Refusal, RefusalCode
from handsfree.record.codec import decode_event, decode_fact, encode_event, encode_fact, encode_part
from handsfree.record.record_line import canonical, parse_line

EVENTS = (
    "session_started",
    "command_spoken",
    "command_doubted",
    "speech_rejected",
    "clock_ticked",
    "sound_lost",
    "sound_returned",
    "tone_heard",
    "session_interrupted",
)
COMMANDS = ("control_command", "give_values", "dictate_text", "scan_label")
FACTS = (
    "close_refused",
    "command_refused",
    "correction_dropped",
    "correction_opened",
    "device_lost",
    "device_returned",
    "disk_found_slow",
    "doubt_settled",
    "due_met",
    "due_set",
    "gaps_accepted",
    "help_given",
    "hold_lifted",
    "hold_set",
    "item_taught",
    "kind_declared",
    "label_scanned",
    "lamp_beeped",
    "lamp_disagreed",
    "late_heat_asked",
    "light_off_said_after_sound",
    "cry_heard",
    "stray_light_began",
    "stray_light_ended",
    "cry_settled",
    "light_off_confirmed",
    "zone_left",
    "more_light_asked",
    "hold_kept",
    "light_on_repeated",
    "light_still_on",
    "light_turned_off",
    "light_turned_on",
    "note_begun",
    "note_dictated",
    "note_taken",
    "operator_declared",
    "patient_reference_declared",
    "override_dropped",
    "pain_scored",
    "position_reconfirmed",
    "practice_attempted",
    "practice_planned",
    "prompt_cut_short",
    "read_back_disputed",
    "reading_amended",
    "reading_classed_again",
    "reading_confirmed",
    "reading_proposed",
    "reading_refused",
    "repeat_asked",
    "role_declared",
    "said_again",
    "scenario_event_happened",
    "side_declared",
    "size_chosen",
    "skip_dropped",
    "sound_overflowed",
    "stage_exposed",
    "status_told",
    "step_confirmed",
    "step_denied",
    "step_entered",
    "step_overridden",
    "step_reviewed",
    *("step_called_for", "step_withdrawn", "repeat_ended", "repeat_reopened", "second_person_confirmed"),
    *("timer_started", "timer_ran_out", "timer_dropped", "missing_told", "standing_disputed", "working_changed"),
    *("step_skipped", "step_told", "stop_word_heard", "strap_removed", "strap_replaced"),
    "utterance_doubted",
    "utterance_not_taken",
    "values_dropped",
    "visit_begun",
    "visit_closed",
    "visit_continued",
    "visit_ended_early",
    "visit_paused",
    "visit_resumed",
    "warmth_answered",
    "zone_chosen",
    "zone_totalled",
)


def named(union, tag, name):
    """The type of a union with this name in a record."""
    return next(kind for kind in typing.get_args(union) if tag_of(kind, tag) == name)


def tag_of(kind, tag):
    return next(item.default for item in dataclasses.fields(kind) if item.name == tag)


def through_bytes(data):
    """As a line carries it."""
    line = {"seq": 0, "prev": "", "at": "", "kind": "", "data": {"it": data}}
    return parse_line(canonical(line)).data["it"]


def test_every_event_command_and_fact_is_named_here():
    # A new one is to be put into the list, and so into the tests below.
    assert {tag_of(kind, "type") for kind in typing.get_args(SessionEvent)} == set(EVENTS)
    assert {tag_of(kind, "type") for kind in typing.get_args(commands.Command)} == set(COMMANDS)
    assert {tag_of(kind, "kind") for kind in typing.get_args(AnyFact)} == set(FACTS)
    assert len(set(FACTS)) == len(typing.get_args(AnyFact))


@pytest.mark.parametrize("name", EVENTS)
@settings(max_examples=15, deadline=None, derandomize=True)
@given(data=st.data())
def test_every_event_comes_back_equal_through_canonical_bytes(name, data):
    event = data.draw(of(named(SessionEvent, "type", name)))
    written = encode_event(event)
    assert written["type"] == name
    back = decode_event(through_bytes(written))
    assert back == event
    assert type(back) is type(event)


@pytest.mark.parametrize("name", COMMANDS)
@settings(max_examples=15, deadline=None, derandomize=True)
@given(data=st.data())
def test_every_command_comes_back_equal_inside_its_event(name, data):
    command = data.draw(of(named(commands.Command, "type", name)))
    event = dataclasses.replace(gives("x", readings.Option("y"), 3.0), command=command)
    written = encode_event(event)
    assert written["command"]["type"] == name
    assert decode_event(through_bytes(written)) == event


@pytest.mark.parametrize("name", FACTS)
@settings(max_examples=15, deadline=None, derandomize=True)
@given(data=st.data())
def test_every_fact_comes_back_equal_through_canonical_bytes(name, data):
    fact = data.draw(of(named(AnyFact, "kind", name)))
    kind, members = encode_fact(fact)
    assert kind == name
    optional = ("tolerance_s", "over_from_s", "possible_from_s", "approval", "computed")
    unstated = {name for name in optional if getattr(fact, name, 0.0) is None}
    assert set(members) == {item.name for item in dataclasses.fields(fact)} - {"kind"} - unstated
    back = decode_fact(kind, through_bytes(members))
    assert (back, type(back)) == (fact, type(fact))


def test_a_scanned_label_keeps_every_part():
    label = commands.ScanLabel(
        gtin="04012345678901",
        lot="A4B2",
        serial="S1",
        produced=date(2026, 1, 31),
        expiry=date(2028, 6, 30),
        faults=(ScanFault(ScanFaultCode.FIELD_TWICE, "10"),),
    )
    event = dataclasses.replace(gives("x", readings.Option("y"), 3.0), command=label)
    assert encode_event(event)["command"] == {
        "type": "scan_label",
        "gtin": "04012345678901",
        "lot": "A4B2",
        "serial": "S1",
        "produced": "2026-01-31",
        "expiry": "2028-06-30",
        "faults": [{"type": "scan_fault", "code": "field_twice", "argument": "10"}],
    }
    assert decode_event(encode_event(event)).command == label


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (readings.Exact(Decimal("1.50"), 2, "s"), {"type": "exact", "value": "1.50", "decimals": 2, "unit": "s"}),
        (
            readings.Between(Decimal(50), Decimal(60)),
            {"type": "between", "low": "50", "high": "60", "unit": None},
        ),
        (
            readings.Beyond("<", Decimal(2), "s"),
            {"type": "beyond", "comparator": "<", "limit": "2", "unit": "s"},
        ),
        (readings.Absent(readings.AbsentReason.NOT_PERFORMED), {"type": "absent", "reason": "not-performed"}),
        (readings.Option("left"), {"type": "option", "value": "left"}),
        (readings.SpelledText("A4B2"), {"type": "spelled_text", "text": "A4B2"}),
        (
            readings.SpokenDate(date(2027, 11, 30), month_only=True),
            {"type": "spoken_date", "value": "2027-11-30", "month_only": True},
        ),
    ],
)
def test_a_value_has_one_form(value, written):
    # The same in a fact, in an event and by itself.
    assert encode_part(value) == written
    assert encode_event(gives("x", value, 3.0))["command"]["values"][0]["value"] == written
    dropped = named(AnyFact, "kind", "values_dropped")(stage="s", values={"x": value})
    assert encode_fact(dropped)[1]["values"]["x"] == written


def test_a_reason_is_a_code_with_what_it_speaks_of():
    held = HoldSet(hold="red", stage="s", grounds=Grounds(OverLimit("refill", Decimal(2)), repeated=True))
    assert encode_fact(held)[1]["grounds"] == {
        "ground": {"type": "over_limit", "label": "refill", "limit": "2"},
        "repeated": True,
        "alike": "",
    }


def test_a_score_without_rival_is_infinite_by_name():
    event = gives("x", readings.Option("y"), 3.0)
    evidence = encode_event(event)["heard"]["evidence"]
    assert evidence["margin"] == "Infinity"
    assert decode_event(encode_event(event)).heard.evidence == event.heard.evidence
    for wrong in ("inf", "NaN", "1.5", True):
        written = encode_event(event)
        written["heard"]["evidence"] = evidence | {"margin": wrong}
        with pytest.raises(RecordError, match="margin"):
            decode_event(written)
    nan = dataclasses.replace(event.heard, evidence=Evidence(float("nan"), 0.0, 0.0, 1.0))
    with pytest.raises(RecordError):
        canonical(encode_event(dataclasses.replace(event, heard=nan)))


def test_sound_is_not_inlined():
    event = gives("refill", readings.Exact(Decimal(1)), 3.0, clip=b"\x01\x00" * 100)
    assert "clip" not in str(encode_event(event))
    assert decode_event(encode_event(event)).heard.clip is None
    written = encode_event(event)
    written["heard"]["clip"] = "AQA="
    with pytest.raises(RecordError):
        decode_event(written)


def test_how_likely_a_word_of_heat_was_decides_and_is_not_written():
    event = gives("refill", readings.Exact(Decimal(1)), 3.0)
    told = dataclasses.replace(event, heard=dataclasses.replace(event.heard, heat=0.25))
    assert encode_event(told) == encode_event(event)
    assert decode_event(encode_event(told)).heard.heat is None


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data | {"type": "SystemExit"},
        lambda data: data | {"type": "exact"},
        lambda data: data | {"type": "SessionStarted"},
        lambda data: data | {"more": 1},
        lambda data: {name: value for name, value in data.items() if name != "at_s"},
        lambda data: {name: value for name, value in data.items() if name != "practice"},
        lambda data: data | {"at_s": "1.0"},
        lambda data: data | {"at_s": True},
        lambda data: data | {"practice": 1},
        lambda data: data | {"local_offset_minutes": 1.5},
        lambda data: data | {"versions": [["a"]]},
        lambda data: data | {"versions": {"a": "b"}},
        lambda data: data | {"wall": None},
        lambda data: [data],
        lambda data: None,
    ],
)
def test_what_is_not_exactly_an_event_is_refused(change):
    with pytest.raises(RecordError):
        decode_event(change(encode_event(started())))


REFUSED = ReadingRefused(stage="s", field="f", reason=Refusal(RefusalCode.NOT_NOW), heard=said())
SEEN = named(AnyFact, "kind", "values_dropped")(
    stage="s", values={"n": readings.Exact(Decimal(1)), "d": readings.SpokenDate(date(2026, 11, 25))}
)


@pytest.mark.parametrize(
    ("fact", "change", "words"),
    [
        (REFUSED, {"more": 1}, "reading_refused.more: is a member too many"),
        (REFUSED, {"kind": "x"}, "is a member too many"),
        (REFUSED, {"stage": None}, "reading_refused.stage: Input should be a valid string"),
        (REFUSED, {"reason": {"type": "refusal", "code": "never"}}, "code: is none of the words"),
        (REFUSED, {"reason": {"type": "refused", "code": "not_now"}}, "reading_refused.reason"),
        (REFUSED, {"reason": "Not now."}, "reading_refused.reason"),
        (REFUSED, {"heard": {"text": "x"}}, "is missing"),
        (StatusTold(stages_done=1), {"stages_done": True}, "valid integer"),
        (StatusTold(stages_done=1), {"stages_done": "1"}, "valid integer"),
        (KindDeclared(declared="live"), {"declared": "rehearsal"}, "'live' or 'practice'"),
        (SEEN, {"values": {"n": {"type": "exact", "value": "NaN", "decimals": 0, "unit": None}}}, "value"),
        (SEEN, {"values": {"n": {"type": "exact", "value": "Infinity", "decimals": 0, "unit": None}}}, "value"),
        (SEEN, {"values": {"n": {"type": "exact", "value": "1,5", "decimals": 0, "unit": None}}}, "value"),
        (SEEN, {"values": {"n": {"type": "exact", "value": 1.5, "decimals": 0, "unit": None}}}, "as records write it"),
        (SEEN, {"values": {"n": {"type": "exact", "value": " 1", "decimals": 0, "unit": None}}}, "as records write it"),
        (SEEN, {"values": {"n": {"type": "exact", "value": "1"}}}, "as records write it"),
        (SEEN, {"values": {"d": {"type": "spoken_date", "value": "25.11.2026", "month_only": False}}}, "date"),
        (SEEN, {"values": {"d": {"type": "spoken_date", "value": 0, "month_only": False}}}, "date"),
        (SEEN, {"values": {"d": {"type": "refused", "code": "one_point", "arguments": []}}}, "values"),
    ],
)
def test_what_is_not_exactly_a_fact_is_refused_in_one_line(fact, change, words):
    kind, data = encode_fact(fact)
    with pytest.raises(RecordError, match=words) as refused:
        decode_fact(kind, data | change)
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) < 200


def test_a_fact_that_nobody_knows_is_refused():
    with pytest.raises(RecordError, match="the kind 'opinion_formed' is unknown here"):
        decode_fact("opinion_formed", {})


@pytest.mark.parametrize(
    "fact",
    [
        StatusTold(stages_done="1"),
        StatusTold(stages_done=1.5),
        KindDeclared(declared="rehearsal"),
        StepEntered(stage=1, step="a", phase="before", again=False),
        StepEntered(stage="a", step="a", phase="later", again=False),
        HoldSet(hold="red", stage="s", grounds="because"),
        HoldSet(hold="red", stage="s", grounds=Grounds(Refusal(RefusalCode.NOT_NOW))),
        ReadingRefused(stage="s", field="f", reason=OverLimit("a", Decimal(1)), heard=None),
        ReadingRefused(stage="s", field="f", reason=AsWritten(b"x"), heard=None),
        heard("x", 1.0),
        object(),
        None,
    ],
)
def test_only_facts_of_the_model_are_written(fact):
    with pytest.raises(RecordError):
        encode_fact(fact)


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"{}",
        b"[]",
        b"\xff",
        b"[" * 100_000,
        b'{"at":"","data":{},"kind":"","prev":"","seq":0.5}',
        b'{"at":"","data":{},"kind":"","prev":"","seq":true}',
        b'{"at":"","data":[],"kind":"","prev":"","seq":0}',
        b'{"at":"","data":{"a":NaN},"kind":"","prev":"","seq":0}',
        b'{"at":"","data":{"a":1.0},"kind":"","prev":"","seq":0}',
        b'{"at":"","data":{"a":1,"a":1},"kind":"","prev":"","seq":0}',
        b'{"at":"","data":{"a":"\\ud800"},"kind":"","prev":"","seq":0}',
        b'{"seq":0,"at":"","data":{},"kind":"","prev":""}',
        b'{"at":"","data":{},"kind":"","prev":"","seq":0} ',
        b'{"at":"","data":{},"kind":"","prev":"","seq":' + b"9" * 5000 + b"}",
    ],
)
def test_only_canonical_lines_are_read(raw):
    with pytest.raises(RecordError):
        parse_line(raw)


def test_a_third_opinion_stands_on_a_line_only_where_one_was_asked_for():
    event = gives("length", readings.Exact(Decimal(7)), 1.0)
    evidence = Evidence(-0.5, 1.0, 2.0, 0.8)
    without = dataclasses.replace(event, heard=dataclasses.replace(event.heard, evidence=evidence))
    line = encode_event(without)["heard"]["evidence"]
    assert not [name for name in line if name.startswith("third_")]
    asked = dataclasses.replace(evidence, third_margin=float("inf"), third_gap=0.25, third_end_gap=0.0)
    with_third = dataclasses.replace(event, heard=dataclasses.replace(event.heard, evidence=asked))
    written = encode_event(with_third)
    assert written["heard"]["evidence"] == line | {"third_margin": "Infinity", "third_gap": 0.25, "third_end_gap": 0.0}
    assert (decode_event(written), decode_event(encode_event(without))) == (with_third, without)
