"""What is wrong with an input is said in one line, with its exit code, and nothing hangs.

Limits of names: POSIX.1-2017, limits.h (NAME_MAX is 255 on the systems that are tried here). `/dev/full`: full(4).
"""

import errno
import os
import re
import stat
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import handsfree
from handsfree import errors
from handsfree.application.output_files import write_output
from handsfree.cli import main
from handsfree.errors import EXIT_CODES, HandsfreeError, ProcedureFileError, RecordError, ScriptError, UsageError
from handsfree.record.signing import installation_key

LONG = "n" * 300
DEEP = "a: " + "[" * 1000 + "]" * 1000 + "\n"
NO_NUMBERS = "x: 2001-99-99\ny: !!float z\nz: !!int 0b\n"
DIGITS = "title: " + "9" * 5000 + "\n"


def told(capsys, *arguments):
    """Exit code and the one line of a command that fails."""
    with pytest.raises(SystemExit) as left:
        main([str(one) for one in arguments])
    err = capsys.readouterr().err
    assert len(err.splitlines()) == 1, err
    assert err.startswith("handsfree: ")
    return left.value.code, err.removeprefix("handsfree: ").rstrip("\n")


@pytest.mark.parametrize(
    ("command", "code"),
    [
        (["check", "{}"], 3),
        (["run", "{}", "--typed", "--record", "r"], 3),
        (["practice", "light-output-check", "--scenario", "{}", "--typed", "--record", "r"], 9),
        (["rehearse", "{}", "--record", "r"], 9),
        (["run", "light-output-check", "--typed", "--record", "r", "--config", "{}"], 2),
    ],
)
@pytest.mark.parametrize(
    ("text", "words"),
    [(DEEP, "more than 40 deep"), (DIGITS, "odd.yaml:1: "), (NO_NUMBERS, "odd.yaml:1: ")],
)
def test_a_file_that_is_a_trap_is_told_in_lines(capsys, tmp_path, monkeypatch, command, code, text, words):
    monkeypatch.chdir(tmp_path)
    file = tmp_path / ("odd.toml" if "--config" in command else "odd.yaml")
    file.write_text(text.replace(": ", " = ", 1) if file.suffix == ".toml" else text)
    with pytest.raises(SystemExit) as left:
        main([part.format(file) for part in command])
    captured = capsys.readouterr()
    said = captured.err + captured.out
    assert (left.value.code, "Traceback" in said) == (code, False)
    assert words in said or "is no TOML" in said
    assert not (tmp_path / "r").exists()


PLACES = [
    ["verify", "{}"],
    ["summary", "{}"],
    ["report", "{}", "--output", "o"],
    ["report", "r", "--output", "{}"],
    ["export", "{}", "--to", "csv"],
    ["records", "{}"],
    ["day", "{}"],
    ["recall", "{}", "A4B2"],
    ["tables", "{}", "--output", "o"],
    ["tables", "r", "--output", "{}"],
    ["review", "{}", "--no-browser"],
    ["amend", "{}", "--entry", "1", "--value", "1", "--by", "x", "--reason", "y"],
    ["attest", "{}", "--by", "x"],
    ["attest", "r", "--by", "x", "--key-file", "{}"],
    ["debrief", "{}"],
    ["rehearse", "{}", "--record", "r"],
    ["run", "light-output-check", "--typed", "--record", "{}"],
    ["run", "light-output-check", "--wav", "{}", "--record", "r"],
    ["run", "light-output-check", "--typed", "--record", "r", "--config", "{}"],
    ["run", "light-output-check", "--typed", "--record", "r", "--recall-list", "{}"],
    ["run", "light-output-check", "--typed", "--record", "r", "--baseline", "{}"],
    ["progress", "show", "L-01", "--attempts", "{}"],
    ["chart", "light-output-check", "--out", "{}"],
]


@pytest.mark.parametrize("command", PLACES, ids=" ".join)
@pytest.mark.parametrize(("name", "words"), [("", "the name is empty"), (LONG, "File name too long")])
def test_a_name_that_is_none_is_refused_before_anything_is_done(capsys, tmp_path, monkeypatch, command, name, words):
    monkeypatch.chdir(tmp_path)
    code, line = told(capsys, *(part.replace("{}", name) for part in command))
    assert code == 2
    assert words in line
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("name", "words"), [("", "the name is empty"), (LONG, "File name too long"), ("a\0b", "null")])
def test_a_procedure_and_a_scenario_of_no_name_are_refused(name, words):
    from handsfree.definition.loader import find_procedure, load_bundle
    from handsfree.practice.scenario_loader import load_scenario

    for load in (find_procedure, load_bundle):
        with pytest.raises(ProcedureFileError, match=words):
            load(name)
    with pytest.raises(ScriptError, match="no bundled scenario of that name"):
        load_scenario(name)


def test_a_folder_that_may_not_be_entered_is_named(capsys, tmp_path, monkeypatch):
    def refusing(path, **how):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))

    monkeypatch.setattr("handsfree.options.os.lstat", refusing)  # the tests may run as root, who may enter any
    code, line = told(capsys, "verify", tmp_path / "closed" / "r")
    assert (code, line) == (2, f"RECORD: {tmp_path}/closed/r cannot be used: Permission denied")


def test_a_folder_that_may_not_be_read_is_one_line_too(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr(os, "access", lambda *_, **__: False)
    assert told(capsys, "verify", tmp_path)[0] == 8


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device /dev/full of Linux")
@pytest.mark.parametrize("command", [["--help"], ["--version"], ["check", "light-output-check"]], ids=" ".join)
def test_an_output_that_is_full_is_told_in_one_line(command):
    environment = {**os.environ, "PYTHONPATH": str(Path(handsfree.__path__[0]).parent)}
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "handsfree", *command],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
            timeout=120,
            check=False,
        )
    assert (done.returncode, done.stderr) == (2, "handsfree: the output cannot be written: No space left on device\n")


def test_an_error_of_the_system_that_nobody_foresaw_is_one_line_with_its_file(capsys, monkeypatch):
    def failing(*_, **__):
        raise OSError(errno.EIO, os.strerror(errno.EIO), "some/file")

    monkeypatch.setattr("handsfree.cli.cli.main", failing)
    monkeypatch.setattr("handsfree.cli._end_output", lambda: None)
    assert told(capsys, "records", "x") == (1, "some/file: Input/output error")


@pytest.mark.parametrize("before", [None, 0o644, 0o600])
def test_what_is_written_is_for_its_owner_alone_also_over_a_file_that_was_there(tmp_path, before):
    file = tmp_path / "o.html"
    if before is not None:
        file.write_text("something longer than what comes")
        file.chmod(before)
    write_output(file, "page")
    assert (stat.S_IMODE(file.stat().st_mode), file.read_text()) == (0o600, "page")


def test_a_file_that_is_not_private_keeps_its_mode(tmp_path):
    file = tmp_path / "chart.svg"
    file.touch()
    file.chmod(0o644)
    write_output(file, "chart", private=False)
    assert stat.S_IMODE(file.stat().st_mode) == 0o644


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device /dev/full of Linux")
def test_a_device_is_not_closed_to_others():
    before = Path("/dev/full").stat().st_mode
    with pytest.raises(UsageError, match="cannot write /dev/full: No space left on device"):
        write_output(Path("/dev/full"), "page")
    assert Path("/dev/full").stat().st_mode == before


def float_wav(path, samples, channels=1):
    """A WAV file of 32-bit floats (format 3: WAVE_FORMAT_IEEE_FLOAT of the RIFF specification)."""
    data = np.asarray(samples, dtype="<f4").tobytes()
    form = struct.pack("<IHHIIHH", 16, 3, channels, 48_000, 48_000 * 4 * channels, 4 * channels, 32)
    path.write_bytes(
        b"RIFF" + struct.pack("<I", 36 + len(data)) + b"WAVEfmt " + form + b"data" + struct.pack("<I", len(data)) + data
    )
    return path


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize(
    ("samples", "most"), [([3e38, -3e38], 1.0), ([np.nan, np.nan], 0.0), ([np.inf, -np.inf], 1.0), ([3e38, 3e38], 1.0)]
)
def test_a_sound_of_floats_without_measure_stays_within_full_scale(tmp_path, samples, most, channels):
    pytest.importorskip("soundfile", reason="sound files need the speech packages")
    from handsfree.audio.wav import read_wav

    pcm = b"".join(block.pcm for block in read_wav(float_wav(tmp_path / "odd.wav", samples * 24_000, channels)))
    heard = np.frombuffer(pcm, dtype="<i2").astype(float) / 32768
    assert len(heard) >= 16_000 / channels
    assert np.abs(heard).max() <= most + 0.1


def test_an_empty_key_says_what_to_do(tmp_path):
    (tmp_path / "key").touch(mode=0o600)
    with pytest.raises(RecordError, match="is empty, as a full disk leaves it; take it away for a new one"):
        installation_key(tmp_path / "key")


def test_a_full_disk_leaves_no_key_and_the_next_try_makes_one(tmp_path, monkeypatch):
    def full(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(RecordError, match=r"cannot use the signing key .*: No space left on device"):
            installation_key(tmp_path / "key")
    assert not (tmp_path / "key").exists()
    assert not (tmp_path / "key.part").exists()
    (tmp_path / "key.part").write_text("half of a key")  # of a program that was killed
    made = installation_key(tmp_path / "key")
    assert not (tmp_path / "key.part").exists()
    assert stat.S_IMODE((tmp_path / "key").stat().st_mode) == 0o600
    assert installation_key(tmp_path / "key").private_bytes_raw() == made.private_bytes_raw()


def test_a_key_that_is_no_file_is_not_read(tmp_path):
    os.mkfifo(tmp_path / "key", 0o600)
    with pytest.raises(RecordError, match="it is no regular file"):
        installation_key(tmp_path / "key")


def test_the_table_of_exit_codes_is_that_of_the_errors(capsys):
    readme = Path(handsfree.__path__[0]).parent.joinpath("README.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\d+) \| (.+) \|$", readme, re.MULTILINE)
    assert {int(code): meaning for code, meaning in rows} == EXIT_CODES
    known = [one for one in vars(errors).values() if isinstance(one, type) and issubclass(one, HandsfreeError)]
    assert {one.exit_code for one in known} | {0, errors.INTERRUPTED, errors.OUTPUT_CLOSED} == set(EXIT_CODES)
    main(["--help"])
    shown = " ".join(capsys.readouterr().out.split())
    for code, meaning in EXIT_CODES.items():
        assert f"{code} {meaning}" in shown
