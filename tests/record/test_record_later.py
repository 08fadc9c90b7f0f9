"""Closed records: amended, attested, their sound deleted; and what nobody may find in them."""

import dataclasses
import hashlib
import json
import random
import shutil
import stat
import subprocess
from decimal import Decimal

import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from record_samples import CLOSING, HEADER, START, affirms, again, exact, said, visit, wall, write_visit
from record_visits import Visit

from handsfree.application.amended_values import amendment_rules
from handsfree.clock import ManualClock
from handsfree.commands.record import amend as amend_command
from handsfree.commands.record import attest as attest_command
from handsfree.errors import RecordError, UsageError
from handsfree.model.commands import Control, ControlCommand
from handsfree.model.effects import Append
from handsfree.model.events import CommandDoubted, RejectionReason, SpeechRejected
from handsfree.model.facts import UtteranceDoubted
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.open_items import OpenStep
from handsfree.model.readings import Absent, AbsentReason, Between, Beyond, Exact, Side, SpokenDate
from handsfree.record.amendments import amend, attest, change_of, delete_clips
from handsfree.record.clips import Retention
from handsfree.record.contents import Amended
from handsfree.record.journal import Journal
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.record_line import parse_line, with_sum
from handsfree.record.signing import installation_key, public_hex
from handsfree.record.verify import RecordState, verify

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
BETTER = Amended(value=exact("1.8"))
ENDED_EARLY = Append(dataclasses.replace(CLOSING.fact, outcome="stopped", open_items=(OpenStep("nv_after"),), zones=()))


def refill_entry(folder):
    return next(item.recorded.seq for item in verify(folder).record.readings if item.stands.value == exact("1.5"))


def test_amending_adds_and_changes_nothing(tmp_path):
    folder = write_visit(tmp_path / "r")
    before = (folder / RECORD_FILE).read_bytes()
    entry = refill_entry(folder)
    amend(folder, entry, BETTER, by="surgeon", reason="misheard")
    after = (folder / RECORD_FILE).read_bytes()
    assert after.startswith(before)
    found = verify(folder)
    assert found.state is RecordState.COMPLETE
    reading = next(item for item in found.record.readings if item.recorded.seq == entry)
    assert (reading.recorded.fact.value, reading.stands.value) == (exact("1.5"), exact("1.8"))
    assert reading.amendments[0].was == Amended(value=exact("1.5"))
    amend(folder, entry, Amended(value=exact("1.9"), side=Side.RIGHT), by="surgeon", reason="wrong side too")
    reading = next(item for item in verify(folder).record.readings if item.recorded.seq == entry)
    assert (reading.stands.value, reading.stands.side) == (exact("1.9"), Side.RIGHT)
    assert reading.amendments[1].was == Amended(value=exact("1.8"), side=Side.LEFT)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1.80", Exact(Decimal("1.80"), 2)),
        ("2", Exact(Decimal(2))),
        ("<2", Beyond("<", Decimal(2))),
        ("2-3.5", Between(Decimal(2), Decimal("3.5"))),
        ("-5--3", Between(Decimal(-5), Decimal(-3))),
        ("not-performed", Absent(AbsentReason.NOT_PERFORMED)),
    ],
)
def test_a_number_is_amended_as_it_is_typed(tmp_path, text, value):
    folder = write_visit(tmp_path / "r")
    entry = refill_entry(folder)
    amend(folder, entry, change_of(folder, entry, "value", text), by="surgeon", reason="misheard")
    reading = next(item for item in verify(folder).record.readings if item.recorded.seq == entry)
    assert (reading.stands.value, str(reading.stands.value)) == (value, str(value))


@pytest.mark.parametrize(
    ("member", "text", "by", "reason", "words"),
    [
        ("value", "1.5", "surgeon", "same", "nothing would change"),
        ("value", "about two", "surgeon", "no number", "is a number in s"),
        ("value", "NaN", "surgeon", "no number", "is a number in s"),
        ("value", "3-2", "surgeon", "no range", "is a number in s"),
        ("value", "<2-3", "surgeon", "no range", "is a number in s"),
        ("side", "middle", "surgeon", "no side", "left or right"),
        ("text", "other", "surgeon", "no note", "'text' cannot be amended; these can: side, value"),
        ("verified", "true", "surgeon", "no note", "'verified' cannot be amended"),
        ("value", "1.8", " ", "misheard", "a role and a reason"),
        ("value", "1.8", "surgeon", "", "a role and a reason"),
        ("value", "1.8", "sur\x1b[2Jgeon", "misheard", r"the role holds a character .* sur\\x1b\[2Jgeon"),
        ("value", "1.8", "surgeon", "mis\udcffheard", r"the reason holds a character .* mis\\udcffheard"),
    ],
)
def test_an_amendment_that_does_not_fit_is_refused(tmp_path, member, text, by, reason, words):
    folder = write_visit(tmp_path / "r")
    before = (folder / RECORD_FILE).read_bytes()
    entry = refill_entry(folder)
    with pytest.raises(UsageError, match=words):
        amend(folder, entry, change_of(folder, entry, member, text), by=by, reason=reason)
    assert (folder / RECORD_FILE).read_bytes() == before


def test_a_reason_of_several_lines_is_kept_on_one(tmp_path):
    folder = write_visit(tmp_path / "r")
    entry = refill_entry(folder)
    amend(folder, entry, change_of(folder, entry, "value", "1.8"), by=" surgeon\n", reason="misheard,\n  it was louder")
    amendment = verify(folder).record.amendments[0]
    assert (amendment.by, amendment.reason) == ("surgeon", "misheard, it was louder")


def test_only_readings_and_notes_of_closed_records_are_amended(tmp_path):
    folder = write_visit(tmp_path / "r")
    with pytest.raises(UsageError, match="is not a reading or note"):
        amend(folder, 0, BETTER, by="surgeon", reason="x")
    unclosed = write_visit(tmp_path / "open", close=False)
    with pytest.raises(RecordError, match="not a closed record"):
        amend(unclosed, refill_entry(unclosed), BETTER, by="surgeon", reason="x")


def test_an_amendment_cut_off_is_set_aside_and_the_record_stays_usable(tmp_path):
    folder = write_visit(tmp_path / "r")
    sealed = (folder / RECORD_FILE).read_bytes()
    end = (folder / "record.end").read_bytes()
    entry = refill_entry(folder)
    amend(folder, entry, BETTER, by="surgeon", reason="misheard")
    whole = (folder / RECORD_FILE).read_bytes()
    (folder / "record.end").write_bytes(end)  # the note of the end is written after the lines
    line_end = whole.index(b"\n", len(sealed)) + 1
    for size in (len(sealed) + 10, line_end, line_end + 10):
        (folder / RECORD_FILE).write_bytes(whole[:size])
        assert verify(folder).state is RecordState.INTERRUPTED
        with Journal.reopen_closed(folder):
            pass
        found = verify(folder)
        assert found.state is RecordState.COMPLETE, found.faults
        assert len(found.record.amendments) == (size >= line_end)
        (folder / "record.end").write_bytes(end)


def test_attesting_signs_count_and_head(tmp_path):
    folder = write_visit(tmp_path / "r")
    lines = verify(folder).lines
    head = attest(folder, KEY, by="surgeon")
    found = verify(folder, trusted_key=public_hex(KEY))
    assert (found.state, found.head_hash, found.lines) == (RecordState.ATTESTED, head, lines + 1)
    assert found.record.attestation.lines == lines + 1
    assert found.record.attestation.public_key == public_hex(KEY)
    # Checked by OpenSSL-backed verification over bytes rebuilt with standard json: no code of ours in between.
    raw = json.loads((folder / RECORD_FILE).read_bytes().splitlines()[-1])
    signature = bytes.fromhex(raw["data"].pop("signature"))
    del raw["data"]["sum"]
    message = json.dumps(raw, sort_keys=True, separators=(",", ":")).encode()
    KEY.public_key().verify(signature, message)
    with pytest.raises(RecordError, match="attested already"):
        attest(folder, KEY, by="surgeon")


def test_amending_an_attested_record_asks_for_a_new_attestation(tmp_path):
    folder = write_visit(tmp_path / "r")
    attest(folder, KEY, by="surgeon")
    amend(folder, refill_entry(folder), BETTER, by="surgeon", reason="misheard")
    assert verify(folder).state is RecordState.COMPLETE
    attest(folder, KEY, by="surgeon")
    assert verify(folder).state is RecordState.ATTESTED


def test_open_items_are_attested_only_with_a_reason_for_them(tmp_path):
    folder = write_visit(tmp_path / "r", closing=ENDED_EARLY)
    for because in ("", "  "):
        with pytest.raises(RecordError, match="only with a reason for them: step nv_after"):
            attest(folder, KEY, by="surgeon", open_items_because=because)
    attest(folder, KEY, by="surgeon", open_items_because="seen in the emergency room")
    found = verify(folder)
    assert found.state is RecordState.ATTESTED
    assert found.record.attestation.open_items == (OpenStep("nv_after"),)
    assert found.record.attestation.because == "seen in the emergency room"


def test_a_signed_reason_cannot_be_changed(tmp_path):
    folder = write_visit(tmp_path / "r", closing=ENDED_EARLY)
    attest(folder, KEY, by="surgeon", open_items_because="seen in the emergency room")
    lines = [parse_line(raw) for raw in (folder / RECORD_FILE).read_bytes().splitlines()]
    forged = with_sum(dataclasses.replace(lines[-1], data=dict(lines[-1].data) | {"because": "nothing to see"}))
    (folder / RECORD_FILE).write_bytes(b"".join(line.raw + b"\n" for line in (*lines[:-1], forged)))
    assert "signature is wrong" in str(verify(folder).faults[0])


def test_a_reason_for_open_items_needs_open_items(tmp_path):
    with pytest.raises(UsageError, match="no open items"):
        attest(write_visit(tmp_path / "r"), KEY, by="surgeon", open_items_because="none")


def test_an_unfinished_record_is_not_attested(tmp_path):
    with pytest.raises(RecordError, match="without being closed"):
        attest(write_visit(tmp_path / "r", close=False), KEY, by="surgeon")


def test_the_key_is_made_once_and_private(tmp_path):
    path = tmp_path / "data" / "signing.key"
    first = public_hex(installation_key(path))
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    assert public_hex(installation_key(path)) == first
    path.chmod(0o640)
    with pytest.raises(RecordError, match="mode 0600"):
        installation_key(path)
    path.chmod(0o600)
    path.write_text("not a key")
    with pytest.raises(RecordError, match="not a signing key"):
        installation_key(path)


def test_the_commands_amend_and_attest(tmp_path):
    folder = write_visit(tmp_path / "r")
    entry = refill_entry(folder)
    done = CliRunner().invoke(
        amend_command,
        [
            *(str(folder), "--entry", str(entry), "--value", "1.8", "--by", "surgeon", "--reason", "misheard"),
            *("--key-file", str(tmp_path / "key")),
        ],
    )
    assert done.exit_code == 0, done.output
    added = [parse_line(raw) for raw in (folder / RECORD_FILE).read_bytes().splitlines()][-2:]
    assert {line.data["public_key"] for line in added} == {public_hex(installation_key(tmp_path / "key"))}
    done = CliRunner().invoke(attest_command, [str(folder), "--by", "surgeon", "--key-file", str(tmp_path / "key")])
    assert done.exit_code == 0, done.output
    found = verify(folder, trusted_key=public_hex(installation_key(tmp_path / "key")))
    assert found.state is RecordState.ATTESTED
    assert found.head_hash in done.output


def with_sound(folder, **header):
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    sounds = []
    with Journal.create(folder, dataclasses.replace(HEADER, **header), clock=ManualClock(START)) as journal:
        journal.keep_clips = True
        for number, (event, facts) in enumerate(visit()):
            if hasattr(event, "heard"):
                sounds.append(random.Random(number).randbytes(6400))
                event = dataclasses.replace(event, heard=dataclasses.replace(event.heard, clip=sounds[-1]))
            journal.append(event, facts)
        journal.append(affirms(50.0), [CLOSING])
    return folder, sounds


def test_sound_is_kept_lossless_and_private(tmp_path):
    folder, sounds = with_sound(tmp_path / "r")
    import soundfile

    record = verify(folder).record
    assert len(record.clips) == len(sounds)
    for (_, sha256), pcm in zip(record.clips, sounds, strict=True):
        path = folder / "clips" / f"{sha256}.flac"
        samples, rate = soundfile.read(path, dtype="int16")  # libsndfile decodes what libsndfile encoded
        assert (samples.tobytes(), rate) == (pcm, 16_000)
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE((folder / "clips").stat().st_mode) == 0o700


def test_without_being_told_no_sound_is_kept(tmp_path):
    with Journal.create(tmp_path / "r", HEADER) as journal:
        journal.append(affirms(1.0, clip=b"\x01\x00" * 320), [CLOSING])
    assert not (tmp_path / "r" / "clips").exists()
    assert verify(tmp_path / "r").record.clips == ()


def test_deleting_sound_is_recorded_and_the_record_stays_whole(tmp_path):
    folder, sounds = with_sound(tmp_path / "r")
    assert delete_clips(folder, reason="asked by the patient") == len(sounds)
    assert not list((folder / "clips").iterdir())
    found = verify(folder)
    assert found.state is RecordState.COMPLETE
    assert found.record.deleted_clips == {sha256 for _, sha256 in found.record.clips}
    assert delete_clips(folder, reason="again") == 0


def test_sound_kept_until_attested_goes_with_the_attestation(tmp_path):
    folder, _ = with_sound(tmp_path / "r")
    attest(folder, KEY, by="surgeon", retention=Retention.UNTIL_ATTESTED)
    assert not list((folder / "clips").iterdir())
    assert verify(folder).state is RecordState.ATTESTED


def test_what_the_record_was_begun_with_decides_about_its_sound(tmp_path):
    folder, sounds = with_sound(tmp_path / "r", retention=Retention.UNTIL_ATTESTED)
    left = b"left by a crash, named by no line"
    (folder / "clips" / f"{hashlib.sha256(left).hexdigest()}.flac").write_bytes(left)
    attest(folder, KEY, by="surgeon")
    assert not list((folder / "clips").iterdir())
    found = verify(folder)
    assert found.state is RecordState.ATTESTED
    assert len(found.record.deleted_clips) == len(sounds) + 1
    kept, sounds = with_sound(tmp_path / "kept", retention=Retention.KEEP)
    attest(kept, KEY, by="surgeon")
    assert len(list((kept / "clips").iterdir())) == len(sounds)
    asked, _ = with_sound(tmp_path / "asked", retention=Retention.UNTIL_ATTESTED)
    attest(asked, KEY, by="surgeon", retention=Retention.KEEP)
    assert list((asked / "clips").iterdir())


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    folder = tmp_path_factory.mktemp("checked") / "r"
    assert Visit("neurovascular-check", folder).start().finish().state is RecordState.COMPLETE
    return folder


def test_a_new_date_must_be_one(tmp_path):
    folder = tmp_path / "r"
    assert Visit("thermometer-calibration", folder).start().finish().state is RecordState.COMPLETE
    entry = next(
        item.recorded.seq for item in verify(folder).record.readings if isinstance(item.stands.value, SpokenDate)
    )
    with pytest.raises(UsageError, match="is no date"):
        change_of(folder, entry, "value", "2026-02-30")


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [
        # Limits of the bundled procedure, which are its own.
        ("refill", "2 s", "is a number in s and '2 s' is none"),
        ("refill", "400", "0.2 to 10 s"),
        ("refill", "1.75", "up to 1 decimals"),
        ("refill", "1-400", "0.2 to 10 s"),
        ("pulse", "strong", "is not on the list of pulse"),
        ("interval", "20-40", "needs one number"),
        ("interval", "<20", "needs one number"),
        ("interval", "not-performed", "needs one number"),
    ],
)
def test_a_new_value_must_be_one_that_could_have_been_recorded(checked, place, value, words):
    before = (checked / RECORD_FILE).read_bytes()
    entry = next(item.recorded.seq for item in verify(checked).record.readings if item.stands.field == place)
    with pytest.raises(UsageError, match=words):  # noqa: PT012 - the text may be none, or the value may not fit
        changes = change_of(checked, entry, "value", value)
        amend(
            checked, entry, changes, by="surgeon", reason="misheard", value_fault=amendment_rules(checked).value_fault
        )
    assert (checked / RECORD_FILE).read_bytes() == before


def test_a_finished_record_names_nobody(tmp_path):
    # GNU strings (binutils) shows what stands in the files. Talk in the room is rejected as no command; the recogniser
    # may have written it down and cut out its sound all the same.
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    if shutil.which("strings") is None:
        pytest.skip("strings (binutils) is not installed")
    talk = Hypothesis(("stop",), (), 1.0, 2.0, "test", None, None, "maria musterfrau has pain", b"\x01\x02" * 800)
    folder = tmp_path / "r"
    with Journal.create(folder, HEADER) as journal:
        journal.keep_clips = True
        for number, reason in enumerate(RejectionReason):
            event = SpeechRejected(at_s=float(number), wall=wall(number), reason=reason, heard=talk)
            journal.append(event, [again("session_kind")])
        doubted = dataclasses.replace(talk, words=("affirmative",), clip=None)
        command = ControlCommand(Control.AFFIRM)
        journal.append(
            CommandDoubted(at_s=40.0, wall=wall(40), command=command, heard=doubted, probability=0.5),
            [Append(UtteranceDoubted(heard=said("affirmative")))],
        )
        journal.append(affirms(50.0), [CLOSING])
    attest(folder, KEY, by="surgeon")
    shown = ""
    for path in [item for item in folder.rglob("*") if item.is_file()]:
        shown += subprocess.run(["strings", path], capture_output=True, text=True, check=True, timeout=30).stdout
    assert "DEMO-0001" in shown
    assert shown.count("speech_rejected") == len(RejectionReason)
    assert "musterfrau" not in shown.lower()
    assert not (folder / "clips").exists()
