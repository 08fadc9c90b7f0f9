"""An output that its reader closed ends every command quietly, with the code that the README names.

141 is 128 and the number of SIGPIPE (13 on Linux and macOS), what a shell reports of a program that the signal ends:
common practice, no source.
"""

import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from handsfree import errors
from handsfree.cli import SECTIONS, main
from handsfree.commands import records as records_module
from handsfree.errors import EXIT_CODES, OUTPUT_CLOSED, HandsfreeError
from handsfree.record.verify import RecordState, verify

README = Path(__file__).resolve().parents[1] / "README.md"
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pipes are closed otherwise there")


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    """A store with one record: a visit that was ended at once."""
    folder = tmp_path_factory.mktemp("store")
    subprocess.run(
        [sys.executable, "-m", "handsfree", "run", "light-output-check", "--typed", "--record", str(folder / "visit")],
        input="stop\noverride\nhand therapist\ntechnical decision\naffirmative\n",
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return folder


def unread():
    """The end of a pipe into which one writes, and that nobody reads."""
    reading, writing = os.pipe()
    os.close(reading)
    return writing


def ended(capsys, monkeypatch, *arguments):
    """Exit code of a command whose standard output is closed, and what it said on standard error."""
    with os.fdopen(unread(), "w", encoding="utf-8") as out:
        monkeypatch.setattr(sys, "stdout", out)
        with pytest.raises(SystemExit) as left:
            main(list(map(str, arguments)))
        monkeypatch.undo()
    return left.value.code, capsys.readouterr().err


@pytest.mark.parametrize("name", ["", *(name for section in SECTIONS.values() for name in section)])
def test_the_help_of_every_command_ends_quietly(capsys, monkeypatch, name):
    assert ended(capsys, monkeypatch, *filter(None, [name]), "--help") == (OUTPUT_CLOSED, "")


@pytest.mark.parametrize(
    "arguments",
    [
        "--version",
        "records STORE",
        "records STORE --json",
        "summary STORE/visit",
        "verify STORE/visit",
        "verify STORE/visit --json",
        "export STORE/visit --to note",
        "export STORE/visit --to csv",
        "export STORE/visit --to fhir",
        "day STORE --date 2026-11-25",
        "check light-output-check",
        "card light-output-check",
        "chart light-output-check",
        "schema record",
        "models list",
        "exposure plan --device example-ulnar-sleeve --light example-blue-light --circumference '17.5 cm'",
    ],
)
def test_what_a_command_prints_ends_quietly(capsys, monkeypatch, store, arguments):
    assert ended(capsys, monkeypatch, *shlex.split(arguments.replace("STORE", str(store)))) == (OUTPUT_CLOSED, "")


@pytest.mark.parametrize("buffered", [True, False])
@pytest.mark.parametrize("both", [True, False])
def test_a_process_ends_quietly(store, both, buffered):
    out = unread()
    done = subprocess.run(
        [sys.executable, "-m", "handsfree", "export", str(store / "visit"), "--to", "fhir"],
        stdout=out,
        stderr=out if both else subprocess.PIPE,
        env={**os.environ, "PYTHONUNBUFFERED": "" if buffered else "1"},
        timeout=60,
        check=False,
    )
    os.close(out)
    assert (done.returncode, done.stderr or b"") == (OUTPUT_CLOSED, b"")


def test_an_error_that_nobody_reads_ends_quietly(tmp_path):
    out = unread()
    command = [sys.executable, "-m", "handsfree", "summary", str(tmp_path)]
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=out, timeout=60, check=False)
    os.close(out)
    assert (done.returncode, done.stdout) == (OUTPUT_CLOSED, b"")


def test_a_visit_whose_screen_is_closed_keeps_its_record(tmp_path):
    out = unread()
    folder = tmp_path / "visit"
    done = subprocess.run(
        [sys.executable, "-m", "handsfree", "run", "light-output-check", "--typed", "--record", str(folder)],
        input=b"live session\n",
        stdout=out,
        stderr=subprocess.PIPE,
        timeout=60,
        check=False,
    )
    os.close(out)
    assert (done.returncode, done.stderr) == (OUTPUT_CLOSED, b"")
    assert verify(folder).state is RecordState.INTERRUPTED


def test_another_pipe_that_breaks_is_a_bug_and_is_not_hidden(monkeypatch, tmp_path):
    def breaks(*_):
        raise BrokenPipeError

    monkeypatch.setattr(records_module, "records_at", breaks)
    with pytest.raises(RuntimeError, match="not that of the output"):
        main(["records", str(tmp_path)])


def test_every_error_has_an_exit_code_of_its_own():
    kinds = [one for one in vars(errors).values() if isinstance(one, type) and issubclass(one, HandsfreeError)]
    assert sorted(kind.exit_code for kind in kinds) == list(range(1, 11))
    assert {kind.exit_code for kind in kinds} <= set(EXIT_CODES)
