"""Lines that are typed ahead or while the disk is busy: which may be taken, and what time they carry."""

import io
import os
import queue
import threading

import pytest

from handsfree.runner.line_inbox import LineInbox, TypedLine, is_typed_into

WAIT_S = 60


class Fed:
    """Lines that come when the test gives them; each is stamped when it is read."""

    def __init__(self):
        self._lines = queue.SimpleQueue()
        self._read = threading.Semaphore(0)

    def give(self, *lines):
        """Give lines, and wait until each has its stamp."""
        for line in lines:
            self._lines.put(line)
            assert self._read.acquire(timeout=WAIT_S)

    def end(self):
        self._lines.put(None)

    def __iter__(self):
        while (line := self._lines.get()) is not None:
            yield line
            self._read.release()


class BusyRunner:
    """What a `LineInbox` needs of a session runner; the test says whether something waits for the disk."""

    def __init__(self):
        self.ending = self.is_slow = False
        self.settled = True
        self.now_s = 0.0
        self.written = lambda: None
        self.looked = threading.Semaphore(0)

    def patience_s(self, longest_s):
        return longest_s

    def tick(self):
        self.looked.release()

    def ends_light(self, text):
        return text in {"stop", "hot"}

    def on_written(self, call):
        self.written = call


class Taker(threading.Thread):
    """Takes lines in a thread of its own, as the session's owner does."""

    def __init__(self, inbox):
        super().__init__(daemon=True)
        self.taken = queue.SimpleQueue()
        self._inbox = inbox
        self.start()

    def run(self):
        for line in self._inbox:
            self.taken.put((line.text, line.at_s))
        self.taken.put(None)

    def next(self):
        return self.taken.get(timeout=WAIT_S)


@pytest.fixture
def runner():
    return BusyRunner()


@pytest.fixture
def lines():
    return Fed()


def looked_again(runner, times=2):
    """Until the owner has looked so often since now."""
    while runner.looked.acquire(blocking=False):
        pass
    for _ in range(times):
        runner.written()
        assert runner.looked.acquire(timeout=WAIT_S)


def test_a_line_waits_for_what_was_said_before_it_and_keeps_its_time(runner, lines):
    runner.settled, runner.now_s = False, 3.0
    taker = Taker(LineInbox(runner, lines))
    lines.give("five\n")
    looked_again(runner, 3)
    assert taker.taken.empty()
    runner.now_s, runner.settled = 9.0, True
    runner.written()
    assert taker.next() == ("five", 3.0)
    lines.end()
    assert taker.next() is None


@pytest.mark.parametrize("stop", ["stop", "hot"])
def test_a_stop_word_waits_for_nothing_and_lets_what_was_typed_before_it_go(runner, lines, stop):
    runner.settled = False
    taker = Taker(LineInbox(runner, lines))
    lines.give("five\n", "\n", f" {stop} \n", "six\n")
    assert [taker.next()[0] for _ in range(2)] == ["five", stop]
    looked_again(runner, 3)
    assert taker.taken.empty()
    lines.end()
    runner.settled = True
    runner.written()
    assert taker.next()[0] == "six"
    assert taker.next() is None


def test_where_the_disk_is_slow_a_line_waits_only_if_it_was_typed_ahead(runner, lines):
    runner.settled = False
    taker = Taker(LineInbox(runner, lines))
    lines.give("five\n", "six\n")
    runner.now_s, runner.is_slow = 2.0, True
    runner.written()
    assert taker.next() == ("five", 0.0)
    looked_again(runner, 3)
    assert taker.taken.empty()
    runner.settled = True
    runner.written()
    assert taker.next() == ("six", 2.0)
    runner.settled, runner.now_s = False, 3.0
    lines.give("seven\n")
    assert taker.next() == ("seven", 3.0)
    lines.end()


def test_lines_end_only_when_all_of_them_were_taken(runner, lines):
    runner.settled = False
    taker = Taker(LineInbox(runner, lines))
    lines.give("five\n")
    lines.end()
    looked_again(runner, 3)
    assert taker.taken.empty()
    runner.settled = True
    runner.written()
    assert [taker.next(), taker.next()] == [("five", 0.0), None]


def test_what_was_typed_ahead_counts_from_its_turn_and_a_stop_word_from_when_it_was_typed(runner, lines):
    runner.settled, runner.now_s = False, 1.0
    taker = Taker(LineInbox(runner, lines))
    lines.give("five\n", "six\n")
    looked_again(runner, 3)
    runner.now_s = 4.0
    lines.give("hot\n")
    assert [taker.next() for _ in range(3)] == [("five", 1.0), ("six", 4.0), ("hot", 4.0)]
    runner.now_s, runner.settled = 5.0, True
    lines.give("seven\n")
    assert taker.next() == ("seven", 5.0)
    lines.end()


def test_a_stop_word_behind_a_line_that_was_taken_late_is_never_earlier_than_that(runner, lines):
    runner.now_s = 3.0
    inbox = LineInbox(runner, lines)
    assert [inbox._timed(TypedLine(*given)).at_s for given in (("a", 1.0), ("b", 2.0), ("stop", 2.5, True))] == [
        1.0,
        3.0,
        3.0,
    ]


def test_lines_of_a_file_count_from_when_they_are_taken(runner, tmp_path):
    (tmp_path / "lines").write_text("five\nhot\n")
    with (tmp_path / "lines").open() as file:
        runner.settled = False
        taker = Taker(LineInbox(runner, file))
        assert [taker.next()[0] for _ in range(2)] == ["five", "hot"]
        assert taker.next() is None
        inbox = LineInbox(runner, file)
        runner.now_s = 7.0
        assert inbox._timed(TypedLine("hot", 1.0, ends_light=True)).at_s == 7.0


def test_nothing_is_taken_once_the_session_has_ended(runner, lines):
    taker = Taker(LineInbox(runner, lines))
    lines.give("five\n")
    assert taker.next()[0] == "five"
    runner.ending = True
    lines.give("six\n")
    runner.written()
    assert taker.next() is None


def test_a_terminal_and_a_pipe_are_typed_into_and_a_file_and_a_list_are_not(tmp_path):
    (tmp_path / "lines").write_text("five\n")
    with (tmp_path / "lines").open() as file:
        assert not is_typed_into(file)
    reading, writing = os.pipe()
    with os.fdopen(reading) as pipe:
        assert is_typed_into(pipe)
    os.close(writing)
    assert not is_typed_into(["five"])
    assert not is_typed_into(io.StringIO("five"))
    assert not is_typed_into(io.TextIOWrapper(io.BytesIO(b"five")))
