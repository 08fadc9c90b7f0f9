"""Whatever is done to a finished record is found and named; nothing crashes."""

import dataclasses
import random
import shutil

import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from record_samples import CLOSING, HEADER, START, affirms, exact, visit, write_visit

from handsfree.clock import ManualClock
from handsfree.commands.record import verify as verify_command
from handsfree.errors import RecordError
from handsfree.record.amendments import amend, attest
from handsfree.record.contents import Amended
from handsfree.record.end_mark import END_FILE
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.own_lines import OWN_KINDS
from handsfree.record.record_line import FIRST_PREV, parse_line, with_sum
from handsfree.record.signing import public_hex
from handsfree.record.verify import RecordState, verify

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER_KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))


def rechained(lines):
    """A forger's work: sums, numbers and chain made right again."""
    prev, out = FIRST_PREV, []
    for seq, line in enumerate(lines):
        fixed = dataclasses.replace(line, seq=seq, prev=prev)
        if fixed.kind in OWN_KINDS:
            fixed = with_sum(fixed)
        out.append(fixed)
        prev = fixed.hash
    return out


def flip_bit(content, rng):
    data = bytearray(content)
    index = rng.randrange(len(data))
    data[index] ^= 1 << rng.randrange(8)
    return bytes(data), content[:index].count(b"\n") + 1


def replace_byte(content, rng):
    index = rng.randrange(len(content))
    byte = rng.choice([value for value in range(256) if value != content[index]])
    return content[:index] + bytes([byte]) + content[index + 1 :], content[:index].count(b"\n") + 1


def insert_bytes(content, rng):
    index = rng.randrange(len(content))
    return content[:index] + rng.randbytes(rng.randint(1, 9)) + content[index:], content[:index].count(b"\n") + 1


def swap_lines(content, rng):
    lines = content.splitlines(keepends=True)
    one, two = sorted(rng.sample(range(len(lines)), 2))
    lines[one], lines[two] = lines[two], lines[one]
    return b"".join(lines), one + 1


def drop_lines(content, rng):
    lines = content.splitlines(keepends=True)
    first = rng.randrange(len(lines) - 1)
    del lines[first : min(first + rng.randint(1, 4), len(lines) - 1)]
    return b"".join(lines), first + 1


def repeat_line(content, rng):
    lines = content.splitlines(keepends=True)
    index = rng.randrange(len(lines))
    lines.insert(rng.randint(index, len(lines) - 1) + 1, lines[index])
    return b"".join(lines), None


def cut_tail(content, rng):
    size = rng.randrange(len(content))
    return content[:size], None


def cut_lines(content, rng):
    lines = content.splitlines(keepends=True)
    return b"".join(lines[: rng.randrange(len(lines))]), None


def forge_value(content, rng):
    """Change a value and make the whole chain right again; only the signature is not."""
    lines = [parse_line(raw) for raw in content.splitlines()]
    reference = f"DEMO-{rng.randrange(2, 10_000):04}"
    lines[0] = dataclasses.replace(lines[0], data=lines[0].data | {"patient_reference": reference})
    return b"".join(line.raw + b"\n" for line in rechained(lines)), None


IN_FILE = [
    flip_bit,
    replace_byte,
    insert_bytes,
    swap_lines,
    drop_lines,
    repeat_line,
    cut_tail,
    cut_lines,
    forge_value,
]


@pytest.fixture(scope="module")
def attested(tmp_path_factory):
    """A record with an amendment and an attestation."""
    folder = write_visit(tmp_path_factory.mktemp("corruption") / "r")
    clock = ManualClock(START)
    clock.sleep_until(3600)
    reading = verify(folder).record.readings[1].recorded.seq
    amend(folder, reading, Amended(value=exact("1.0")), by="surgeon", reason="misheard", clock=clock)
    attest(folder, KEY, by="surgeon", clock=clock)
    assert verify(folder, trusted_key=public_hex(KEY)).state is RecordState.ATTESTED
    return folder


@pytest.mark.parametrize("corrupt", IN_FILE, ids=lambda function: function.__name__)
def test_random_corruptions_are_found_and_named(attested, tmp_path, corrupt):
    rng = random.Random(f"2026-11-25 {corrupt.__name__}")
    content = (attested / RECORD_FILE).read_bytes()
    shutil.copy(attested / END_FILE, tmp_path / END_FILE)
    for _ in range(75):
        changed, line = corrupt(content, rng)
        (tmp_path / RECORD_FILE).write_bytes(changed)
        found = verify(tmp_path)
        if changed == content:
            assert found.fine
            continue
        assert not found.fine, corrupt.__name__
        assert found.faults
        if line is not None and line > 1:
            # Two neighbours are named where the links alone cannot tell which of them was altered.
            assert {fault.line for fault in found.faults} & {line, line + 1}, (line, found.faults)


def test_every_byte_of_a_record_counts(attested, tmp_path):
    content = (attested / RECORD_FILE).read_bytes()
    for index in range(0, len(content), 53):
        changed = bytearray(content)
        changed[index] ^= 1
        (tmp_path / RECORD_FILE).write_bytes(bytes(changed))
        found = verify(tmp_path)
        assert not found.fine
        assert content[:index].count(b"\n") + 1 in {fault.line for fault in found.faults}


def test_the_last_line_of_an_open_record_counts_too(tmp_path):
    content = (write_visit(tmp_path / "r", close=False) / RECORD_FILE).read_bytes()
    for index in range(content.rindex(b"\n", 0, -1) + 1, len(content) - 1):
        changed = bytearray(content)
        changed[index] ^= 1
        (tmp_path / RECORD_FILE).write_bytes(bytes(changed))
        assert verify(tmp_path / RECORD_FILE).state is RecordState.BROKEN


def test_a_record_signed_again_by_another_key_is_found_by_the_trusted_key(attested, tmp_path):
    folder = tmp_path / "forged"
    write_visit(folder, header=dataclasses.replace(HEADER, patient_reference="DEMO-0002"))
    attest(folder, OTHER_KEY, by="surgeon")
    assert verify(folder).state is RecordState.ATTESTED  # a whole rewrite shows only against the key
    found = verify(folder, trusted_key=public_hex(KEY))
    assert found.state is RecordState.BROKEN
    assert "another installation" in str(found.faults[0])


def test_a_swapped_public_key_is_found(attested, tmp_path):
    lines = [parse_line(raw) for raw in (attested / RECORD_FILE).read_bytes().splitlines()]
    lines[-1] = dataclasses.replace(lines[-1], data=lines[-1].data | {"public_key": public_hex(OTHER_KEY)})
    (tmp_path / RECORD_FILE).write_bytes(b"".join(line.raw + b"\n" for line in rechained(lines)))
    assert [str(fault) for fault in verify(tmp_path).faults] == [f"line {len(lines)}: the signature is wrong"]


def with_clips(folder):
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    with Journal.create(folder, HEADER, clock=ManualClock(START)) as journal:
        journal.keep_clips = True
        for number, (event, facts) in enumerate(visit()):
            if hasattr(event, "heard"):
                sound = random.Random(number).randbytes(3200)
                event = dataclasses.replace(event, heard=dataclasses.replace(event.heard, clip=sound))
            journal.append(event, facts)
        journal.append(affirms(50.0), [CLOSING])
    return folder


def test_altered_replaced_and_missing_sound_is_found_and_named(tmp_path):
    folder = with_clips(tmp_path / "r")
    record = verify(folder).record
    assert len(record.clips) == 6
    rng = random.Random(20261125)
    for turn in range(60):
        seq, sha256 = record.clips[turn % 6]
        path = folder / "clips" / f"{sha256}.flac"
        content = path.read_bytes()
        if turn % 3 == 0:
            path.write_bytes(flip_bit(content, rng)[0])
        elif turn % 3 == 1:
            path.write_bytes((folder / "clips" / f"{record.clips[(turn + 1) % 6][1]}.flac").read_bytes())
        else:
            path.unlink()
        found = verify(folder)
        assert found.state is RecordState.BROKEN
        assert [fault.line for fault in found.faults] == [seq + 1]
        path.write_bytes(content)
    assert verify(folder).fine


@pytest.mark.parametrize("content", [b"", b"\n", b"{", b"\x00" * 999, b"[]\n" * 50, b'{"a":' * 9999, b"\xff\xfe\n{}\n"])
def test_any_other_file_is_no_record_and_no_crash(tmp_path, content):
    (tmp_path / RECORD_FILE).write_bytes(content)
    found = verify(tmp_path)
    assert found.state is RecordState.BROKEN
    assert found.faults


@pytest.mark.parametrize("content", [b"", b"[]", b"{}", b'{"lines":"x","head":0}', b"[" * 99999, b"\xff"])
def test_a_bad_note_of_the_end_is_named(attested, tmp_path, content):
    shutil.copy(attested / RECORD_FILE, tmp_path)
    (tmp_path / END_FILE).write_bytes(content)
    assert not verify(tmp_path).fine


def test_changed_line_ends_are_told_in_one_line(attested, tmp_path):
    content = (attested / RECORD_FILE).read_bytes().replace(b"\n", b"\r\n")
    (tmp_path / RECORD_FILE).write_bytes(content)
    found = verify(tmp_path)
    assert found.state is RecordState.BROKEN
    (fault,) = found.faults
    assert "CR LF" in str(fault)


def test_the_command_names_the_line_and_fails(attested, tmp_path):
    content = (attested / RECORD_FILE).read_bytes()
    fine = CliRunner().invoke(verify_command, [str(attested)])
    assert fine.exit_code == 0
    assert fine.output.startswith("attested: ")
    (tmp_path / RECORD_FILE).write_bytes(content.replace(b'"1.5"', b'"1.4"', 1))
    bad = CliRunner().invoke(verify_command, [str(tmp_path)])
    assert isinstance(bad.exception, RecordError)
    assert bad.exception.exit_code == 8
    assert "line " in bad.output
    as_json = CliRunner().invoke(verify_command, [str(tmp_path), "--json"])
    assert '"state": "broken"' in as_json.output
