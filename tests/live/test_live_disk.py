"""A slow disk in a live session: stop words are answered, and words said before a question answer nothing.

Sentences: common practice, no source.
"""

import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("numpy")
pytest.importorskip("soxr")

from live_stand_ins import Visit, to_the_light

from handsfree.application.opening import kept_open
from handsfree.model.facts import SoundOverflowed
from handsfree.runner.live_session import RecordMoved

WAIT_S = 60


class ShutDisk:
    """Stands in for `os.fsync`; it waits for the test from when it is shut."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.open = threading.Event()
        self.open.set()
        sync = os.fsync

        def fsync(handle: int) -> None:
            assert self.open.wait(WAIT_S)
            sync(handle)

        monkeypatch.setattr(os, "fsync", fsync)


def heard(visit: Visit, text: str) -> Iterator[object]:
    """Say something and wait until it was heard, not until it was answered."""
    before = len(visit.view.shown)
    visit.recognizer.words[visit.sound.now_s] = text
    visit.sound.send()
    while not {"accepted", "doubted", "not taken"} & {what for what, _ in visit.view.shown[before:]}:
        yield


def test_stop_words_are_spoken_while_the_disk_is_shut(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    disk, visit = ShutDisk(monkeypatch), Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        yield from to_the_light(visit)
        disk.open.clear()
        before = len(visit.sound.played)
        yield from heard(visit, "stop")
        yield from heard(visit, "hot")
        said = [text for text, _ in visit.sound.played[before:]]
        assert said[0].startswith("Stopped. Light off")
        assert said[1].startswith("Light off. Lift it away.")
        assert visit.facts("stop_word_heard")[1:] == []
        assert not visit.runner.settled
        disk.open.set()

    visit.run(steps)
    assert [one["word"] for one in visit.facts("stop_word_heard")] == ["stop", "hot"]


def test_who_says_it_again_while_nothing_was_asked_answers_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk, visit = ShutDisk(monkeypatch), Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        for text in ("practice session", "five"):
            yield from visit.say(text)
        disk.open.clear()
        before = len(visit.sound.played)
        yield from heard(visit, "affirmative")
        # The read-back was affirmed; that eyewear is on was not even asked.
        yield from heard(visit, "affirmative")
        assert visit.sound.played[before:] == []
        disk.open.set()
        while not visit.runner.settled:
            yield
        assert visit.sound.played[-1][0] == "Is eyewear on for everyone?"

    visit.run(steps)
    assert visit.view.all("not taken") == ["affirmative"]
    assert visit.facts("step_confirmed") == []


def test_what_was_written_wakes_the_session(tmp_path: Path) -> None:
    visit = Visit(tmp_path)
    with kept_open(visit.runner, visit.journal):
        visit.runner.note(SoundOverflowed(count=1, at_s=0.0))
        assert visit.inbox.get(timeout=WAIT_S) == RecordMoved()


def test_a_device_that_is_back_repeats_no_question_that_was_not_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk, visit = ShutDisk(monkeypatch), Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        yield from visit.say("practice session")
        disk.open.clear()
        before = len(visit.sound.played)
        yield from heard(visit, "five")
        visit.sound.blocks.put(lambda: visit.sound.notice("loudspeaker", True))
        while not visit.view.all("notice"):
            yield
        disk.open.set()
        while not visit.runner.settled:
            yield
        said = [text for text, _ in visit.sound.played[before:]]
        assert said == ["distance five, centimeters. Correct?", "The loudspeaker is back."]

    visit.run(steps)
