"""Typed sessions keep the session's time while nobody types. Time is turned by hand."""

import io
import threading

from handsfree.runner.offline_run import run_typed


class Waiting(io.StringIO):
    """A stream whose second line comes only after the session was told the time three times."""

    def __init__(self, told):
        super().__init__("first\nsecond\n")
        self.told = told

    def __next__(self):
        line = super().__next__()
        if line == "second\n":
            for _ in range(3):
                assert self.told.acquire(timeout=60)
        return line


class TypedRunner:
    """What `run_typed` needs of a session runner."""

    ending = False
    settled = True
    is_slow = False
    now_s = 0.0

    def __init__(self, told):
        self.events = []
        self.told = told

    def patience_s(self, longest_s):
        return min(longest_s, 0.001)

    def tick(self):
        self.events.append("tick")
        self.told.release()

    def type(self, text, at_s):
        assert at_s == 0.0
        self.events.append(text)

    def ends_light(self, text):
        return False

    def on_written(self, call):
        pass

    def finish(self):
        assert "finished" not in self.events
        self.events.append("finished")


def test_time_passes_between_two_typed_lines():
    told = threading.Semaphore(0)
    runner = TypedRunner(told)
    run_typed(runner, Waiting(told))
    assert runner.events[-1] == "finished"
    between = runner.events[runner.events.index("first") : runner.events.index("second")]
    assert between.count("tick") >= 1
    assert [event for event in runner.events if event not in {"tick", "finished"}] == ["first", "second"]


def test_a_byte_that_is_no_character_does_not_end_a_visit():
    # A keyboard set to another code page; U+FFFD in place of a bad byte: The Unicode Standard, 3.9.
    runner = TypedRunner(threading.Semaphore(0))
    run_typed(runner, io.TextIOWrapper(io.BytesIO(b"one\ntw\xff\nthree\n"), encoding="utf-8", errors="strict"))
    assert [event for event in runner.events if event not in {"tick", "finished"}] == ["one", "tw\ufffd", "three"]


def test_lines_at_hand_are_taken_one_after_the_other():
    runner = TypedRunner(threading.Semaphore(0))
    run_typed(runner, ["one", "", "two"])
    assert [event for event in runner.events if event not in {"tick", "finished"}] == ["one", "two"]
