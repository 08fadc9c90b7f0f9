"""A disk that takes what is written when the test says so, and a visit in which people type while it waits."""

import errno
import json
import os
import threading
from datetime import UTC, datetime

from live_files import write_short

from handsfree.application.opening import open_session
from handsfree.clock import ManualClock
from handsfree.definition.loader import load_bundle

WAIT_S = 60
"""Nothing takes so long: whoever waits longer has failed."""


class Disk:
    """Stands in for `os.fsync`: open it syncs, shut it waits until it is opened, broken it refuses."""

    def __init__(self, monkeypatch):
        self._sync = os.fsync
        self._open = threading.Event()
        self._open.set()
        self._reached = threading.Semaphore(0)
        self._broken = False
        monkeypatch.setattr(os, "fsync", self._fsync)

    def _fsync(self, handle):
        if not self._open.is_set():
            self._reached.release()
            assert self._open.wait(WAIT_S)
        if self._broken:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        self._sync(handle)

    def shut(self):
        self._open.clear()

    def wait_until_reached(self):
        """Until something stands before the shut disk."""
        assert self._reached.acquire(timeout=WAIT_S)

    def open(self):
        self._open.set()

    def give_out(self):
        """It is full: what waits fails."""
        self._broken = True
        self._open.set()


class Heard:
    """What people hear and see, in order."""

    def __init__(self):
        self.all = []
        self.snapshot = None

    def say(self, text, priority, heard_out=0):
        del priority
        self.all.append(text)

    def earcon(self, earcon):
        self.all.append(f"*{earcon.value}")

    def heard(self, hypothesis, outcome, probability):
        del hypothesis, probability
        self.all.append(f"={outcome}")

    def show(self, snapshot):
        self.snapshot = snapshot

    def said_since(self, count):
        """What was said and sounded after so many; not what became of words."""
        return [text for text in self.all[count:] if not text.startswith("=")]


class TypedVisit:
    """The short procedure, with its record written beside, at a time that is turned by hand."""

    def __init__(self, folder):
        self.folder = folder / "record"
        self.clock = ManualClock(datetime(2026, 11, 25, 9, 0, tzinfo=UTC))
        self.outputs = Heard()
        self.runner, self.journal = open_session(
            load_bundle(str(write_short(folder))),
            self.folder,
            self.clock,
            self.outputs,
            practice=True,
            engine="typed",
            keep_clips=False,
            beside=True,
        )
        self.runner.finish()

    def type(self, *lines):
        """Type lines, each once the one before was answered."""
        for line in lines:
            self.runner.type(line)
            self.runner.finish()

    def type_into_the_light(self):
        self.type("practice session", "five", "affirmative", "affirmative", "light on")
        assert self.outputs.snapshot.is_lit

    def pass_s(self, seconds):
        """Let time pass, with every deadline in it."""
        end_s = self.clock.monotonic_s() + seconds
        while (deadline_s := self.runner.session.next_deadline_s) is not None and deadline_s <= end_s:
            self.clock.sleep_until(deadline_s)
            self.runner.tick()
        self.clock.sleep_until(end_s)
        self.runner.tick()

    def lines(self, kind):
        """The data of every line of a kind in the file."""
        written = (self.folder / "record.jsonl").read_text(encoding="utf-8").splitlines()
        return [line["data"] for line in map(json.loads, written) if line["kind"] == kind]
