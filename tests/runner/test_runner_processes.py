"""Real processes with a disk that is shut: `handsfree run --typed`, driven through its pipes.

The child's `os.fsync` waits for the test, once a word has been typed that shuts the disk. Sentences: common practice,
no source.
"""

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from live_files import write_short

from handsfree.record.verify import RecordState, verify

ROOT = Path(__file__).resolve().parents[2]
CHILD = """
import os, sys
shut, way = sys.argv.pop(1), sys.argv.pop(1)
sync = os.fsync
def fsync(handle):
    if os.path.exists(shut):
        with open(way) as opened:   # a pipe: nobody comes through before the test writes into it
            if opened.read() == "full":
                raise OSError(28, os.strerror(28))
    sync(handle)
os.fsync = fsync
from handsfree.cli import main
main()
"""
TO_THE_LIGHT = ("practice session", "five", "affirmative", "affirmative", "light on")
SLOW = "The disk is slow. Answers come late."
WAIT_S = 120


class Child:
    """A visit in a process of its own."""

    def __init__(self, folder):
        self.folder = folder
        self.record = folder / "record"
        self.shut, self.way = folder / "shut", folder / "way"
        os.mkfifo(self.way)
        self.process = self._run("--record", self.record)
        self.seen = self.said = ""
        # A child that says nothing any more must not hold up the tests.
        self.watchdog = threading.Timer(WAIT_S, self.process.kill)
        self.watchdog.start()

    def _run(self, *options):
        command = (sys.executable, "-u", "-c", CHILD, self.shut, self.way, "run", self.folder / "short.yaml")
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "200"}
        return subprocess.Popen(
            [*map(str, (*command, "--typed", "--practice", *options))],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
            cwd=self.folder,
        )

    def type(self, line):
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def wait_for(self, words):
        """Read on until something was said; the end of the output is a failure."""
        while words not in self.seen:
            line = self.process.stdout.readline()
            assert line, f"never said: {words}\n{self.seen}\n{self.process.stderr.read()}"
            self.seen += line
            self.said += line
        self.seen = self.seen.partition(words)[2]

    def wait_for_slow_disk(self):
        """On a busy machine the disk may have been found slow before it was shut; it is told once."""
        if SLOW not in self.said:
            self.wait_for(SLOW)

    def to_the_light(self):
        self.wait_for("Live or practice session?")
        for line, answer in zip(
            TO_THE_LIGHT, ("Distance", "Correct?", "eyewear on", "say light on", "accepted"), strict=True
        ):
            self.type(line)
            self.wait_for(answer)

    def open(self, how=""):
        self.shut.unlink()
        with self.way.open("w") as opened:
            opened.write(how)

    def end(self):
        """Nobody types any more."""
        rest, errors = self.process.communicate(timeout=WAIT_S)
        return self.process.returncode, rest, errors

    def kill(self):
        self.watchdog.cancel()
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(WAIT_S)
        for stream in (self.process.stdin, self.process.stdout, self.process.stderr):
            stream.close()


@pytest.fixture
def child(tmp_path):
    write_short(tmp_path)
    child = Child(tmp_path)
    yield child
    child.kill()


def test_stop_words_are_answered_while_the_disk_is_shut(child):
    child.to_the_light()
    child.shut.touch()
    for line, answer in (("stop", "Stopped. Light off"), ("hot", "Light off. Lift it away."), ("pain", "Lift it away")):
        child.type(line)
        child.wait_for(answer)
    # It is not told while nobody said that the light is off: over its voice that could not be heard.
    child.type("light off")
    child.wait_for_slow_disk()
    child.open()
    code, _, errors = child.end()
    assert code == 0, errors
    found = verify(child.record)
    assert found.state is RecordState.INTERRUPTED
    words = [one.fact.word for one in found.record.facts if one.fact.kind == "stop_word_heard"]
    assert words == ["stop", "hot", "pain"]
    assert [one.fact.kind for one in found.record.facts].count("disk_found_slow") == 1


def test_a_disk_that_gives_out_is_told_and_ends_with_its_code(child):
    child.to_the_light()
    child.shut.touch()
    child.type("hot")
    child.wait_for("Light off. Lift it away.")
    child.open("full")
    child.wait_for("The record cannot be written")
    code, _, errors = child.end()
    assert code == 8
    assert "No space left" in errors
    assert verify(child.record).state is RecordState.INTERRUPTED


def test_a_process_that_is_killed_loses_nothing_that_was_called_recorded(child):
    child.to_the_light()
    child.type("light off")
    child.wait_for("recorded")
    child.shut.touch()
    child.type("stop")
    child.wait_for("Stopped.")
    child.type("status")
    child.type("resume")
    child.wait_for_slow_disk()
    child.kill()
    child.shut.unlink()
    found = verify(child.record)
    assert found.state is RecordState.INTERRUPTED
    kinds = [one.fact.kind for one in found.record.facts]
    assert "light_turned_off" in kinds
    assert "visit_resumed" not in kinds, "it waited behind the disk, and nobody was told that it was taken"
    child.process = child._run("--record", child.record, "--resume")
    child.type("end the visit")
    child.type("ward nurse")
    child.type("reviewed by the senior")
    child.type("affirmative")
    code, rest, errors = child.end()
    assert code == 0, errors
    assert "ended early" in rest
    assert verify(child.record).state is RecordState.COMPLETE
