"""Files with faults that nobody thought of: whatever is changed in them, they are read or refused, never a bug.

What is put in is in `mutators`. Procedures, scenarios and tables of points take long to read and are tried 150 times
each, whole records 100 times, everything else 500 times; `HANDSFREE_THOROUGH=1` tries ten times as many.
"""

import gzip
import json
import struct
from datetime import date
from functools import cache
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mutators import EDITS, edited, read_or_refused, tried

import handsfree
from handsfree.application.recall_list import read_recalls
from handsfree.application.words_for_export import export_words
from handsfree.config import read_config
from handsfree.definition.loader import load_bundle, load_device, load_light
from handsfree.export.choose import ExportForm, export
from handsfree.practice.points_form import OWN_TABLE, load_points
from handsfree.practice.scenario_loader import load_scenario
from handsfree.record.forms.form_reader import FormReader
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.own_lines import ATTESTED, EVENT, OWN_KINDS, SEALED
from handsfree.record.record_line import FIRST_PREV, RecordLine, canonical, fact_sum, parse_line, with_sum
from handsfree.record.store import list_records
from handsfree.record.verify import verify
from handsfree.report.day import day_of
from handsfree.report.summary import summary_lines
from handsfree.simulation.script import load_script
from handsfree.understanding.identifiers import looks_scanned, read_gs1

PACKAGE = Path(str(files(handsfree)))
PROFILES = PACKAGE / "procedures" / "profiles"
LONG_FILES = (
    (load_bundle, PACKAGE / "procedures" / "light-output-check.yaml"),
    (load_scenario, PACKAGE / "practice" / "scenarios"),
    (load_points, OWN_TABLE),
)
SHORT_FILES = (
    (load_light, PROFILES),
    (load_device, PROFILES),
    (load_script, PACKAGE.parent / "scripts" / "scenarios" / "light-output-check.yaml"),
)
BY_PATH = (load_script, load_points)


@cache
def base(read, place):
    """The shortest file in a folder that is read without a fault, or the file."""
    found = [place] if place.is_file() else sorted(place.glob("*.yaml"), key=lambda path: path.stat().st_size)
    for path in found:
        with_name = path if read in BY_PATH else str(path)
        if read_or_refused(read, with_name) is not None:
            return path.read_text(encoding="utf-8")
    raise AssertionError(place)


def changed_and_read(folder, read, place, edits):
    file = folder / "changed.yaml"
    file.write_bytes(edited(base(read, place), edits).encode("utf-8", "replace"))
    read_or_refused(read, file if read in BY_PATH else str(file))


@pytest.mark.parametrize(("read", "place"), LONG_FILES, ids=lambda one: getattr(one, "__name__", None))
@tried(150)
@given(edits=EDITS)
def test_a_changed_procedure_scenario_or_table_is_read_or_refused(tmp_path, read, place, edits):
    changed_and_read(tmp_path, read, place, edits)


@pytest.mark.parametrize(("read", "place"), SHORT_FILES, ids=lambda one: getattr(one, "__name__", None))
@tried(500)
@given(edits=EDITS)
def test_a_changed_profile_or_script_is_read_or_refused(tmp_path, read, place, edits):
    changed_and_read(tmp_path, read, place, edits)


CONFIGURATION = (
    '[voice]\nrate = 150\nverbosity = "expert"\n[listening]\nattention = "hello there"\n[records]\nfolder = "x"\n'
)


@tried(500)
@given(edits=EDITS)
def test_a_changed_configuration_is_read_or_refused(tmp_path, edits):
    (tmp_path / "c.toml").write_bytes(edited(CONFIGURATION.replace(" = ", ": "), edits).replace(": ", " = ").encode())
    read_or_refused(read_config, tmp_path / "c.toml")


@tried(500)
@given(edits=EDITS, tail=st.binary(max_size=8))
def test_a_changed_recall_list_is_read_or_refused(tmp_path, edits, tail):
    content = edited('lot,reason\nA1,"broken, seam"\nB-2,\n', edits).encode() + tail
    (tmp_path / "r.csv").write_bytes(content)
    read_or_refused(read_recalls, tmp_path / "r.csv")


LABEL = "]d2010950600013435217310630" + "10A1\x1d21S2\x1d11250101"
GS1 = st.one_of(
    st.text(alphabet="0123456789()[]dQCe\x1dAZaz²٣ -", max_size=60),
    st.builds(
        lambda at, piece: LABEL[: int(at * len(LABEL))] + piece + LABEL[int(at * len(LABEL)) :],
        st.floats(0, 1),
        st.text(max_size=6),
    ),
    st.text(max_size=20).map(lambda text: "]d2" + text),
)


@tried(500)
@given(text=GS1)
def test_a_changed_label_is_read_with_its_faults(text):
    """A number of an article has its check digit (GS1 General Specifications 7.9), a lot at most 20 (3.4.1)."""
    if not looks_scanned(text):
        return
    label = read_gs1(text, date(2026, 1, 1))
    if label.gtin is not None and not label.faults:
        digits = [int(digit) for digit in label.gtin]
        assert sum(digit * (1 if place % 2 else 3) for place, digit in enumerate(digits)) % 10 == 0
    assert len(label.lot or "") <= 20


HEADER = st.tuples(
    st.sampled_from((0, 1, 2, 3, 6, 7, 17, 85, 0xFFFE, 0xFFFF)),
    st.sampled_from((0, 1, 2, 9, 0xFFFF)),
    st.sampled_from((0, 1, 7999, 8000, 16_000, 48_000, 2**31, 2**32 - 1)),
    st.sampled_from((0, 1, 8, 12, 16, 24, 32, 64, 0xFFFF)),
)
LENGTH = st.sampled_from((None, 0, 1, 0x7FFFFFFF, 0xFFFFFFFF))


@tried(500)
@given(
    header=HEADER,
    length=LENGTH,
    sound=st.binary(max_size=4096),
    bytes_at=st.lists(st.tuples(st.integers(0, 43), st.integers(0, 255)), max_size=3),
)
def test_a_changed_sound_file_is_read_or_refused(tmp_path, header, length, sound, bytes_at):
    pytest.importorskip("soundfile", reason="sound files need the speech packages")
    from handsfree.audio.wav import read_wav

    form, channels, rate, bits = header
    block = channels * bits // 8 % 65_536
    head = bytearray(b"RIFF" + struct.pack("<I", (36 + len(sound)) % 2**32) + b"WAVEfmt ")
    head += struct.pack("<IHHIIHH", 16, form, channels, rate, rate * block % 2**32, block, bits)
    head += b"data" + struct.pack("<I", len(sound) if length is None else length)
    for at, value in bytes_at:
        head[at] = value
    (tmp_path / "w.wav").write_bytes(bytes(head) + sound)
    read_or_refused(lambda: sum(len(one.pcm) for one in read_wav(tmp_path / "w.wav")))


@cache
def short_record():
    """The shortest golden record."""
    place = Path(__file__).parent / "golden"
    return min((gzip.decompress(path.read_bytes()) for path in place.glob("*/*/record.jsonl.gz")), key=len)


BYTES = st.one_of(
    st.binary(max_size=12),
    st.sampled_from(
        (
            *(
                b'"',
                b"\\",
                b"\\u0000",
                b"\\ud800",
                b"\xff",
                b"\x00",
                b"\r",
                b"{",
                b"}",
                b"[" * 2000,
                b',"a":1',
                b'"seq":1,',
            ),
            *(b"-", b".", b"e9", b"1e999", b"NaN", b"Infinity", b"null", b"9" * 5000, b" ", b"0"),
        )
    ),
)


@tried(500)
@given(which=st.floats(0, 1), edits=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 9), BYTES), max_size=3))
def test_a_changed_line_of_a_record_is_refused_or_is_the_bytes_that_it_was_read_from(which, edits):
    """A line has one form (RFC 8785), so what is read from it and written again are the same bytes."""
    lines = short_record().splitlines()
    raw = lines[int(which * (len(lines) - 1))]
    for at, cut, piece in edits:
        place = int(at * len(raw))
        raw = raw[:place] + piece + raw[place + cut :]
    line = read_or_refused(parse_line, raw)
    if line is not None:
        assert canonical(line.json) == raw
        read_or_refused(FormReader().facts, line)


VALUES = (
    0,
    -1,
    2**53,
    1e308,
    1.5,
    "",
    "x",
    "é" * 100,
    [],
    {},
    None,
    True,
    [[]],
    {"type": "exact"},
    "NaN",
    "sNaN",
    "Infinity",
)
TIMES = ("2026-11-25T10:00:00.000Z", "0001-01-01T00:00:00.000Z", "9999-12-31T23:59:59.999Z", "9" * 30)
CHANGE = st.tuples(
    st.floats(0, 1),
    st.lists(st.floats(0, 1), min_size=1, max_size=8),
    st.sampled_from((*VALUES, *TIMES)),
    st.booleans(),
)


def changed_line(line, path, value, whole):
    """Put a value somewhere into a line; `whole` stops early, at a list or a mapping."""
    place = line["data"]
    for step, at in enumerate(path):
        keys = sorted(place) if isinstance(place, dict) else range(len(place))
        if not keys:
            return
        key = list(keys)[int(at * (len(keys) - 1))]
        below = place[key]
        if not isinstance(below, dict | list) or step == len(path) - 1 or (whole and step > 1):
            place[key] = value
            return
        place = below


def chained(lines):
    """Lines with every hash and sum made right again, as whoever can write the folder can; None if they cannot be."""
    out, prev = [], FIRST_PREV
    for number, line in enumerate(lines):
        data = line["data"]
        if line["kind"] == EVENT and type(data.get("facts")) is int and 0 <= data["facts"] < 1000:
            after = lines[number + 1 : number + 1 + data["facts"]]
            data["facts_sha256"] = [fact_sum(one["kind"], one["data"]) for one in after]
        if line["kind"] in (SEALED, ATTESTED):
            data |= {"lines": number + 1, "head": prev}
        made = RecordLine(number, prev, line["at"], line["kind"], data)
        made = with_sum(made) if line["kind"] in OWN_KINDS else made
        out.append(made.raw + b"\n")
        prev = made.hash
    return b"".join(out)


def used(folder):
    """What commands do with a record."""
    found = verify(folder)
    if found.record is not None:
        list(summary_lines(found.record, found.state.value))
        for form in ExportForm:
            read_or_refused(lambda form=form: export(folder, form, export_words, allow_practice=True))
    return found


@tried(100)
@given(changes=st.lists(CHANGE, min_size=1, max_size=2))
def test_a_record_with_changed_lines_and_right_hashes_is_read_or_refused(tmp_path, changes):
    lines = [json.loads(line) for line in short_record().splitlines()]
    for at, path, value, whole in changes:
        changed_line(lines[int(at * (len(lines) - 1))], path, value, whole)
    folder = tmp_path / "store" / "r"
    folder.mkdir(parents=True, exist_ok=True)
    content = read_or_refused(chained, lines)
    if content is None:
        return
    (folder / RECORD_FILE).write_bytes(content)
    read_or_refused(used, folder)
    assert len(list_records(folder.parent)) == 1
    day_of(folder.parent, date(2026, 11, 25))
