"""What is written is what is read, for every event the model can state; anything else is refused."""

import string
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from record_samples import gives, heard, started

from handsfree.errors import RecordError
from handsfree.model import commands, events, hypotheses, readings
from handsfree.record.codec import canonical, decode, decode_event, encode, parse_line

TEXT = st.text(alphabet=st.characters(codec="utf-8"), max_size=20)
FLOAT = st.floats(-1e15, 1e15)
WHOLE = st.integers(-(2**53) + 1, 2**53 - 1)
DECIMAL = st.decimals(allow_nan=False, allow_infinity=False, places=2)
OPTIONAL_UNIT = st.none() | st.sampled_from(["s", "cm", "mm[Hg]"])
VALUES = st.one_of(
    st.builds(readings.Exact, DECIMAL, st.integers(0, 3), OPTIONAL_UNIT),
    st.builds(readings.Ambiguous, st.lists(DECIMAL, max_size=3).map(tuple)),
    st.builds(readings.NeedsAsking, TEXT),
    st.builds(readings.Refused, TEXT),
    st.builds(readings.Between, DECIMAL, DECIMAL, OPTIONAL_UNIT),
    st.builds(readings.Beyond, st.sampled_from("<>"), DECIMAL, OPTIONAL_UNIT),
    st.builds(readings.Absent, st.sampled_from(readings.AbsentReason)),
    st.builds(readings.Option, TEXT),
    st.builds(readings.SpelledText, st.text(string.ascii_uppercase + string.digits, max_size=20)),
    st.builds(readings.SpokenDate, st.dates(), st.booleans()),
)
COMMANDS = st.one_of(
    st.builds(commands.ControlCommand, st.sampled_from(commands.Control)),
    st.builds(
        commands.GiveValues,
        st.lists(
            st.builds(commands.SlotValue, TEXT, VALUES, st.none() | st.sampled_from(readings.Side)), max_size=3
        ).map(tuple),
    ),
    st.builds(commands.DictateText, TEXT),
)
WORDS = st.lists(TEXT, max_size=4).map(tuple)
EVIDENCE = st.builds(hypotheses.Evidence, FLOAT, FLOAT, FLOAT | st.just(float("inf")), FLOAT, st.none() | FLOAT)
HEARD = st.builds(
    hypotheses.Hypothesis, WORDS, WORDS, FLOAT, FLOAT, TEXT, st.none() | EVIDENCE, st.none() | WORDS, st.none() | TEXT
)
BASE = {"at_s": FLOAT, "wall": TEXT}
EVENTS = st.one_of(
    st.builds(
        events.SessionStarted,
        **BASE,
        local_offset_minutes=WHOLE,
        today=st.dates().map(date.isoformat),
        record_id=TEXT,
        versions=st.lists(st.tuples(TEXT, TEXT), max_size=2).map(tuple),
        practice=st.booleans(),
    ),
    st.builds(events.CommandSpoken, **BASE, command=COMMANDS, heard=HEARD, probability=FLOAT),
    st.builds(events.CommandDoubted, **BASE, command=COMMANDS, heard=HEARD, probability=FLOAT),
    st.builds(events.SpeechRejected, **BASE, reason=st.sampled_from(events.RejectionReason), heard=st.none() | HEARD),
    st.builds(events.ClockTicked, **BASE),
    st.builds(events.PromptEnded, **BASE),
    st.builds(events.SoundLost, **BASE, what=TEXT),
    st.builds(events.SoundReturned, **BASE, what=TEXT),
    st.builds(events.ToneHeard, **BASE, from_s=FLOAT, to_s=FLOAT),
    st.builds(events.SessionInterrupted, **BASE, gap_s=FLOAT),
)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(EVENTS)
def test_every_event_comes_back_equal_through_canonical_bytes(event):
    line = {"seq": 0, "prev": "", "at": event.wall, "kind": "event", "data": {"event": encode(event)}}
    back = decode_event(parse_line(canonical(line)).data["event"])
    assert back == event
    assert type(back) is type(event)


def test_decimals_keep_their_last_zero():
    event = gives("refill", readings.Exact(Decimal("1.50"), 2), 3.0)
    back = decode_event(encode(event))
    assert str(back.command.values[0].value.value) == "1.50"


def test_sound_is_not_inlined():
    event = gives("refill", readings.Exact(Decimal(1)), 3.0, clip=b"\x01\x00" * 100)
    assert "clip" not in str(encode(event))
    assert decode_event(encode(event)).heard.clip is None


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data | {"type": "SystemExit"},
        lambda data: data | {"type": "Exact"},
        lambda data: data | {"more": 1},
        lambda data: {name: value for name, value in data.items() if name != "at_s"},
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
        decode_event(change(encode(started())))


@pytest.mark.parametrize(
    ("value", "kind"),
    [
        ("NaN", Decimal),
        ("Infinity", Decimal),
        ("1,5", Decimal),
        (1.5, Decimal),
        ("25.11.2026", date),
        ("middle", readings.Side),
        ("NaN", float),
    ],
)
def test_what_is_not_exactly_a_value_is_refused(value, kind):
    with pytest.raises(RecordError):
        decode(value, kind)


@pytest.mark.parametrize("value", [object(), b"bytes", [1], float("nan"), heard])
def test_only_values_of_the_model_are_written(value):
    with pytest.raises(RecordError):
        encode(value)


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
