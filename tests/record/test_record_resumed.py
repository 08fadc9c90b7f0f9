"""`handsfree run --resume` in processes of its own: killed at random times, refused where it cannot go on."""

import os
import random
import resource
import shutil
import subprocess
import sys
import time
from collections import namedtuple
from pathlib import Path

import pytest
from click.testing import CliRunner
from record_visits import Mirror, Visit, ending, readings, scenario

from handsfree.application.replaying import session_of
from handsfree.commands.run import run as run_command
from handsfree.definition.loader import load_bundle
from handsfree.errors import HandsfreeError
from handsfree.model.facts import HoldSet
from handsfree.model.readings import Option
from handsfree.record.comparison import differences
from handsfree.record.line_checking import RECORD_FILE
from handsfree.record.verify import RecordState, verify

Done = namedtuple("Done", ["returncode", "stdout", "stderr"])
KILLS = 60 if "HANDSFREE_THOROUGH" in os.environ else 3
ANSWERED = ("reading_confirmed", "reading_amended", "step_confirmed", "item_taught")


def run(folder, *options, typed=(), procedure="neurovascular-check"):
    """The command in this process, each finding affirmed; what `handsfree` says of a known error, and its exit code."""
    lines = "".join(f"{line}\n" for line in typed)
    each = [] if "--resume" in options else ["--affirm-each"]
    done = CliRunner().invoke(
        run_command,
        [procedure, "--typed", *each, "--record", str(folder), *options],
        input=lines,
        catch_exceptions=True,
    )
    error = done.exception
    if isinstance(error, HandsfreeError):
        return Done(error.exit_code, done.stdout, done.stderr + str(error))
    assert error is None or isinstance(error, SystemExit), error
    return Done(done.exit_code, done.stdout, done.stderr)


def said_to_be_recorded(output):
    return output.count("sound * recorded")


def test_killed_at_random_times_a_visit_ends_with_the_readings_of_an_uninterrupted_one(tmp_path):
    name, folder = "neurovascular-check", tmp_path / "r"
    expected = ending(Visit(name, tmp_path / "whole").start().finish().record)
    rng = random.Random(20261125)
    kills, acknowledged = 0, 0
    while kills < KILLS:
        resume = ["--resume"] if (folder / RECORD_FILE).exists() and verify(folder).record is not None else []
        command = [sys.executable, "-m", "handsfree", "run", name, "--typed", "--practice"]
        process = subprocess.Popen(
            [*command, "--record", str(folder), *resume],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        process.stdin.write("".join(f"{line}\n" for line in Mirror(name, folder).rest()))
        process.stdin.flush()
        output = ""
        for _ in range(rng.randint(2, 60 // KILLS + 8)):
            output += process.stdout.readline()
        time.sleep(rng.random() * 0.01)  # anywhere between and inside writes
        process.kill()
        rest, errors = process.communicate(timeout=60)
        assert errors == ""
        found = verify(folder)
        acknowledged += said_to_be_recorded(output + rest)
        if found.state is RecordState.COMPLETE:
            break
        kills += 1
        assert found.state is RecordState.INTERRUPTED
        if found.record is not None:
            assert len({fact.event_seq for fact in found.record.facts if fact.kind in ANSWERED}) >= acknowledged
            assert readings(found.record).items() <= expected[0].items()
    if verify(folder).state is not RecordState.COMPLETE:
        done = run(folder, "--resume", typed=Mirror(name, folder).rest())
        assert done.returncode == 0, done.stderr
    found = verify(folder)
    assert found.state is RecordState.COMPLETE, found.faults
    assert ending(found.record) == expected
    assert found.record.practice
    assert kills >= min(KILLS, 3)
    replayed = session_of(scenario(name)[1], found.record.header)
    assert differences(found.record, replayed.handle) == []


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    folder = tmp_path_factory.mktemp("begun") / "r"
    recalls = folder.parent / "recalls.csv"
    recalls.write_text("lot,reason\nA-15 B,leaks\n", encoding="utf-8")
    done = run(folder, "--patient", "DEMO-0001", "--recall-list", str(recalls), typed=["live session"])
    assert done.returncode == 0, done.stderr
    return folder


def copy(begun, tmp_path):
    return Path(shutil.copytree(begun, tmp_path / "copy"))


@pytest.mark.parametrize(
    ("options", "procedure", "code", "words"),
    [
        ((), "light-output-check", 8, "is a record of neurovascular-check, not of light-output-check"),
        (("--practice",), "neurovascular-check", 2, "leave out --practice"),
        (("--patient", "DEMO-0002"), "neurovascular-check", 2, "leave out --patient"),
        (("--expert",), "neurovascular-check", 2, "leave out --expert or --novice"),
        (("--recall-list", "other.csv"), "neurovascular-check", 2, "leave out --recall-list"),
    ],
)
def test_what_a_record_was_begun_with_stays(begun, tmp_path, options, procedure, code, words):
    folder = copy(begun, tmp_path)
    other = tmp_path / "other.csv"
    other.write_text("lot,reason\nB2,broken\n", encoding="utf-8")
    before = (folder / RECORD_FILE).read_bytes()
    given = [str(other) if option == "other.csv" else option for option in options]
    done = run(folder, "--resume", *given, procedure=procedure)
    assert done.returncode == code
    assert "\n" not in done.stderr
    assert words in done.stderr
    assert done.stdout == ""
    assert (folder / RECORD_FILE).read_bytes() == before


def test_the_recall_list_is_kept_in_the_record_and_goes_on(begun, tmp_path):
    folder = copy(begun, tmp_path)
    assert run(folder, "--resume").returncode == 0
    record = verify(folder).record
    assert record.header.recall_list.lots == {"A15B": "leaks"}
    assert record.header.patient_reference == "DEMO-0001"
    assert len(record.interruptions) == 1


@pytest.mark.parametrize("by_config", [False, True])
def test_a_recalled_lot_stops_the_visit_aloud(tmp_path, by_config):
    # A lot on a local recall list is a hard stop: common practice, no source. The lot is that of the script.
    recalls, config = tmp_path / "recalls.csv", tmp_path / "config.toml"
    recalls.write_text("lot,reason\na-4 b 2,seam opens\n", encoding="utf-8")
    config.write_text(f'[records]\nrecall_list = "{recalls}"\n', encoding="utf-8")
    options = ["--config", str(config)] if by_config else ["--recall-list", str(recalls)]
    lines = Mirror("splint-removal", tmp_path / "r").rest()
    done = run(
        tmp_path / "r", *options, typed=lines[: lines.index("alfa four bravo two") + 2], procedure="splint-removal"
    )
    assert done.returncode == 0, done.stderr
    assert "Do not go on. Lot is on the recall list: seam opens" in " ".join(done.stdout.split())
    record = verify(tmp_path / "r").record
    assert record.last(HoldSet).hold == "stop"
    assert differences(record, session_of(load_bundle("splint-removal"), record.header).handle) == []


def test_changed_files_of_the_procedure_are_told(begun, tmp_path):
    folder = copy(begun, tmp_path)
    import handsfree.definition

    bundled = Path(handsfree.definition.__file__).parent.parent / "procedures"
    files = Path(shutil.copytree(bundled, tmp_path / "procedures"))
    file = files / "neurovascular-check.yaml"
    file.write_text(file.read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
    done = run(folder, "--resume", procedure=str(file))
    assert done.returncode == 8
    assert "have changed since" in done.stderr


def test_a_record_cut_right_after_its_first_line_is_begun_anew(begun, tmp_path):
    folder = copy(begun, tmp_path)
    content = (folder / RECORD_FILE).read_bytes()
    (folder / RECORD_FILE).write_bytes(content[: content.index(b"\n") + 1])
    done = run(folder, "--resume", typed=["live session"])
    assert done.returncode == 0, done.stderr
    record = verify(folder).record
    assert record.started is not None
    assert [item.stands.value for item in record.readings] == [Option("live")]


def test_a_closed_record_is_not_resumed_and_one_that_only_lacks_its_seal_is_sealed(tmp_path):
    folder = tmp_path / "r"
    done = run(folder, "--practice", typed=Mirror("neurovascular-check", folder).rest())
    assert done.returncode == 0, done.stderr
    whole = (folder / RECORD_FILE).read_bytes()
    again = run(folder, "--resume")
    assert again.returncode == 8
    assert again.stderr.endswith("is complete; a closed record cannot be resumed, only amended")
    (folder / "record.end").unlink()
    (folder / RECORD_FILE).write_bytes(whole[: whole.rindex(b"\n", 0, -1) + 1])
    sealed = run(folder, "--resume", typed=["anything"])
    assert sealed.returncode == 0, sealed.stderr
    assert "not closed" not in sealed.stderr
    assert (folder / RECORD_FILE).read_bytes() == whole


def test_a_full_disk_is_said_aloud_and_ends_the_visit(tmp_path):
    # RLIMIT_FSIZE makes the kernel refuse to let a file grow, as a full disk does.
    def small():
        resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))

    folder = tmp_path / "r"
    command = [sys.executable, "-m", "handsfree", "run", "neurovascular-check", "--typed", "--record", str(folder)]
    lines = "".join(f"{line}\n" for line in Mirror("neurovascular-check", folder).rest())
    done = subprocess.run(
        command, input=lines, capture_output=True, text=True, timeout=120, check=False, preexec_fn=small
    )
    assert done.returncode == 8
    assert "nothing more is recorded" in done.stderr
    assert done.stderr.count("\n") == 1
    shown = " ".join(done.stdout.split())
    assert shown.endswith("Stop. The record cannot be written. Nothing more is recorded. Light off.")
    found = verify(folder)
    assert found.state is RecordState.INTERRUPTED
    answered = {fact.event_seq for fact in found.record.facts if fact.kind in ANSWERED}
    assert len(answered) == said_to_be_recorded(done.stdout)
