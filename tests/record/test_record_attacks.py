"""Records altered by somebody who makes every hash right again: what the key, the replay and a noted head show.

Ed25519 signs as in RFC 8032; a chain of hashes without a key shows only changes by somebody who does not write it anew.
"""

import dataclasses
import json
import shutil

import pytest
from click.testing import CliRunner
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from forgery import changed, forged, lines_of, own_line
from record_samples import exact, write_visit

from handsfree.commands.record import verify as verify_command
from handsfree.record.amendments import amend, attest, delete_clips
from handsfree.record.contents import Amended
from handsfree.record.end_mark import END_FILE
from handsfree.record.journal import Journal, MovedOnError
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.own_lines import ATTESTED, HEADER, SEALED
from handsfree.record.signing import public_hex
from handsfree.record.verify import RecordState, verify

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER_KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
TRUSTED = public_hex(KEY)
WRONG = Amended(value=exact("9.9"))


def entry_of(folder):
    return next(one.recorded.seq for one in verify(folder).record.readings if one.recorded.fact.value == exact("1.5"))


@pytest.fixture
def attested(tmp_path):
    """A record that was attested; nothing came after."""
    folder = write_visit(tmp_path / "attested")
    attest(folder, KEY, by="surgeon")
    assert verify(folder, trusted_key=TRUSTED).state is RecordState.ATTESTED
    return folder


@pytest.fixture
def amended(attested):
    """A record that was attested and then amended with the key."""
    amend(attested, entry_of(attested), Amended(value=exact("1.8")), by="surgeon", reason="misheard", key=KEY)
    found = verify(attested, trusted_key=TRUSTED)
    assert (found.state, found.faults) == (RecordState.COMPLETE, ())
    return attested


def faults(folder, **asked):
    found = verify(folder, **asked)
    assert found.fine is not bool(found.faults)
    return " / ".join(map(str, found.faults))


def test_a_removed_attestation_is_found_by_the_key(attested):
    forged(attested, lambda lines: lines.pop())
    assert lines_of(attested)[-1].kind == SEALED
    assert verify(attested).state is RecordState.COMPLETE  # without the key nothing shows
    assert "nobody with the key to be trusted has attested" in faults(attested, trusted_key=TRUSTED)


def test_a_removed_attestation_and_note_of_the_end_are_found_by_the_key(attested):
    forged(attested, lambda lines: lines.pop())
    (attested / END_FILE).unlink()
    assert "nobody with the key to be trusted has attested" in faults(attested, trusted_key=TRUSTED)


def test_a_record_that_was_never_attested_is_a_fault_with_a_key(tmp_path):
    folder = write_visit(tmp_path / "r")
    assert verify(folder).fine
    assert "nobody with the key to be trusted has attested" in faults(folder, trusted_key=TRUSTED)


def test_an_amendment_without_the_key_is_found_by_the_key(attested):
    amend(attested, entry_of(attested), WRONG, by="surgeon", reason="forged")
    assert verify(attested).fine
    assert "line 23: was added after the attestation and is not signed" in faults(attested, trusted_key=TRUSTED)


def test_an_amendment_with_another_key_is_found_by_the_key(attested):
    amend(attested, entry_of(attested), WRONG, by="surgeon", reason="forged", key=OTHER_KEY)
    assert verify(attested).fine
    assert "line 23: is signed by another installation's key" in faults(attested, trusted_key=TRUSTED)


def test_a_forged_amendment_is_not_made_good_by_a_signed_one_after_it(attested):
    entry = entry_of(attested)
    amend(attested, entry, WRONG, by="surgeon", reason="forged")
    amend(attested, entry, Amended(value=exact("1.8")), by="surgeon", reason="misheard", key=KEY)
    assert "line 23: was added after the attestation and is not signed" in faults(attested, trusted_key=TRUSTED)


def test_a_new_attestation_vouches_for_all_before_it(attested):
    amend(attested, entry_of(attested), WRONG, by="surgeon", reason="no key at hand")
    attest(attested, KEY, by="surgeon")
    assert verify(attested, trusted_key=TRUSTED).state is RecordState.ATTESTED


@pytest.mark.parametrize("member", ["signature", "public_key"])
def test_a_signature_taken_from_an_amendment_is_found(amended, member):
    def strip(lines):
        lines[-2] = changed(lines[-2], **{member: ""})

    forged(amended, strip)
    assert "line 23: the signature is wrong" in faults(amended)


def test_an_amendment_whose_signature_is_cut_out_whole_is_found_by_the_key(amended):
    def strip(lines):
        lines[-2] = changed(lines[-2], signature="", public_key="", reason="forged")

    forged(amended, strip)
    assert "line 23: was added after the attestation and is not signed" in faults(amended, trusted_key=TRUSTED)


def test_a_changed_amendment_is_found_without_a_key(amended):
    def change(lines):
        lines[-2] = changed(lines[-2], reason="forged")

    forged(amended, change)
    assert "line 23: the signature is wrong" in faults(amended)


def test_a_deletion_of_sound_is_signed_too(attested):
    pytest.importorskip("soundfile", reason="keeping sound needs the speech packages")
    line = own_line("clip_deleted", lines_of(attested)[-1].at, clips_sha256=["0" * 64], reason="forged")
    forged(attested, lambda lines: lines.extend([changed(line, signature="", public_key=""), seal(lines)]))
    assert "line 23: was added after the attestation and is not signed" in faults(attested, trusted_key=TRUSTED)


def seal(lines):
    return own_line(SEALED, lines[-1].at, lines=0, head="", public_key="", signature="")


def test_a_seal_put_to_the_end_is_found_by_the_key(attested):
    forged(attested, lambda lines: lines.append(seal(lines)))
    assert verify(attested).fine
    assert "line 23: was added after the attestation and is not signed" in faults(attested, trusted_key=TRUSTED)


def test_lines_cut_from_the_end_with_a_new_note_of_it_are_found_by_the_key(amended):
    forged(amended, lambda lines: lines.__delitem__(slice(-2, None)))
    assert lines_of(amended)[-1].kind == ATTESTED
    assert verify(amended).state is RecordState.ATTESTED
    assert f"{END_FILE} is not signed by the key to be trusted" in faults(amended, trusted_key=TRUSTED)


def test_lines_cut_from_the_end_are_found_by_the_head_that_was_noted(tmp_path):
    folder = write_visit(tmp_path / "r")
    amend(folder, entry_of(folder), Amended(value=exact("1.8")), by="surgeon", reason="misheard")
    noted = verify(folder).head_hash
    assert verify(folder, noted_head=noted).fine
    assert verify(folder, noted_head=noted.upper()).fine
    forged(folder, lambda lines: lines.__delitem__(slice(-2, None)))
    assert verify(folder).fine
    assert "no line has the head hash that was noted" in faults(folder, noted_head=noted)


def test_a_head_that_was_noted_earlier_stays_in_the_chain(amended):
    attested_head = lines_of(amended)[-3].hash
    assert verify(amended, trusted_key=TRUSTED, noted_head=attested_head).fine


def test_a_whole_copy_put_back_is_found_by_the_head_alone(attested, tmp_path):
    kept = shutil.copytree(attested, tmp_path / "kept")
    amend(attested, entry_of(attested), Amended(value=exact("1.8")), by="surgeon", reason="misheard", key=KEY)
    noted = verify(attested).head_hash
    assert verify(kept, trusted_key=TRUSTED).fine  # the guide says so: the key does not show this
    assert "no line has the head hash that was noted" in faults(kept, trusted_key=TRUSTED, noted_head=noted)


def test_a_removed_note_of_the_end_is_found_by_the_key(amended):
    (amended / END_FILE).unlink()
    assert f"{END_FILE} is missing" in faults(amended, trusted_key=TRUSTED)


def test_an_older_note_of_the_end_is_found_by_the_key(attested):
    end = (attested / END_FILE).read_bytes()
    amend(attested, entry_of(attested), Amended(value=exact("1.8")), by="surgeon", reason="misheard", key=KEY)
    (attested / END_FILE).write_bytes(end)
    assert f"{END_FILE} does not name the last line" in faults(attested, trusted_key=TRUSTED)


def test_a_signature_in_other_letters_is_none(attested, amended):
    """What is signed has one form, byte for byte; bytes in capitals would be the same signature."""
    end = attested / END_FILE
    told = json.loads(end.read_text())
    end.write_text(json.dumps(told | {"signature": told["signature"].upper()}))
    assert f"{END_FILE} is not signed by the key to be trusted" in faults(attested, trusted_key=TRUSTED)

    def louder(lines):
        lines[-2] = changed(lines[-2], signature=lines[-2].data["signature"].upper())

    forged(amended, louder)
    assert "line 23: the signature is wrong" in faults(amended)


def test_an_attestation_copied_from_another_record_is_found(attested, tmp_path):
    other = write_visit(tmp_path / "other")
    amend(other, entry_of(other), WRONG, by="surgeon", reason="forged")
    forged(other, lambda lines: lines.append(lines_of(attested)[-1]))
    assert "the signature is wrong" in faults(other)
    assert "nobody with the key to be trusted has attested" in faults(other, trusted_key=TRUSTED)


def test_an_attestation_with_another_key_is_found_by_the_key(tmp_path):
    folder = write_visit(tmp_path / "r")
    attest(folder, OTHER_KEY, by="surgeon")
    assert verify(folder).state is RecordState.ATTESTED
    assert "another installation's key" in faults(folder, trusted_key=TRUSTED)


def test_an_attestation_with_another_key_after_the_right_one_is_found_by_the_key(amended):
    attest(amended, OTHER_KEY, by="surgeon")
    assert "line 25: is signed by another installation's key" in faults(amended, trusted_key=TRUSTED)
    attest_again = amended
    amend(attest_again, entry_of_note(attest_again), Amended(verified=True), by="surgeon", reason="read", key=KEY)
    attest(attest_again, KEY, by="surgeon")
    assert verify(attest_again, trusted_key=TRUSTED).state is RecordState.ATTESTED


def entry_of_note(folder):
    return verify(folder).record.notes[0].recorded.seq


def header_and(tmp_path, *more):
    folder = write_visit(tmp_path / "r")

    def made_up(lines):
        lines[1:] = [dataclasses.replace(line, at=lines[0].at) for line in more]

    return forged(folder, made_up)


def test_two_made_up_lines_are_no_record(tmp_path):
    folder = header_and(tmp_path, own_line(SEALED, "", lines=0, head="", public_key="", signature=""))
    assert [line.kind for line in lines_of(folder)] == [HEADER, SEALED]
    assert "line 2: closes a record in which no visit ended" in faults(folder)


def test_an_attestation_alone_closes_nothing(tmp_path):
    folder = write_visit(tmp_path / "r")
    attest(folder, KEY, by="surgeon")
    last = lines_of(folder)[-1]
    folder = header_and(tmp_path / "other", last)
    assert "line 2: attests a record that was not closed" in faults(folder)


def test_a_record_that_was_closed_before_its_visit_ended_is_found(tmp_path):
    folder = write_visit(tmp_path / "r")
    forged(folder, lambda lines: lines.__delitem__(slice(-3, -1)))
    assert "closes a record in which no visit ended" in faults(folder)


def test_an_amendment_cut_before_its_seal_stays_signed(amended):
    whole = (amended / RECORD_FILE).read_bytes()
    (amended / RECORD_FILE).write_bytes(whole[: whole.rindex(b"\n", 0, -1) + 1])
    (amended / END_FILE).unlink()
    assert verify(amended).state is RecordState.INTERRUPTED
    with Journal.reopen_closed(amended, key=KEY):
        pass
    found = verify(amended, trusted_key=TRUSTED)
    assert (found.state, found.faults) == (RecordState.COMPLETE, ())
    assert (amended / RECORD_FILE).read_bytes() == whole


class _CutError(Exception):
    """The program was ended here."""


@pytest.mark.parametrize("ended_at", ["before the lines", "before the note of the end"])
def test_a_crash_around_the_note_of_the_end_leaves_a_record_that_the_key_verifies(attested, monkeypatch, ended_at):
    def ended(*_):
        raise _CutError

    with monkeypatch.context() as patch:
        if ended_at == "before the lines":
            patch.setattr("handsfree.record.chained_file.ChainedFile.append", ended)
        else:
            patch.setattr("handsfree.record.journal.settle_end", ended)
        with pytest.raises(_CutError):
            amend(attested, entry_of(attested), Amended(value=exact("1.8")), by="surgeon", reason="x", key=KEY)
    found = verify(attested, trusted_key=TRUSTED)
    assert found.fine, found.faults
    assert len(found.record.amendments) == (ended_at != "before the lines")
    with pytest.raises(MovedOnError):  # whoever opens it next and adds nothing takes nothing from it
        Journal.reopen_closed(attested, after="0" * 64)
    assert not (attested / f"{END_FILE}.new").exists()
    assert verify(attested, trusted_key=TRUSTED).fine
    amend(attested, entry_of(attested), Amended(value=exact("1.9")), by="surgeon", reason="y", key=KEY)
    assert verify(attested, trusted_key=TRUSTED).fine


def test_deleting_sound_by_attesting_is_signed(tmp_path):
    folder = write_visit(tmp_path / "r")
    attest(folder, KEY, by="surgeon")
    assert delete_clips(folder, reason="asked by the patient", key=KEY) == 0
    assert verify(folder, trusted_key=TRUSTED).fine


def test_the_command_fails_on_what_the_key_or_the_head_shows(attested, tmp_path):
    run = CliRunner().invoke
    fine = run(verify_command, [str(attested), "--key", TRUSTED, "--head", lines_of(attested)[-1].hash])
    assert fine.exit_code == 0, fine.output
    for options, words in (
        (["--key", public_hex(OTHER_KEY)], "another installation's key"),
        (["--head", "0" * 64], "no line has the head hash"),
    ):
        told = run(verify_command, [str(attested), *options])
        assert told.exception.exit_code == 8
        assert words in told.output
    for options in (["--key", "abc"], ["--head", "z" * 64], ["--key", ""]):
        told = run(verify_command, [str(attested), *options])
        assert told.exit_code == 2, told.output
        assert "64 hexadecimal digits" in told.output
