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


class Conductor:
    """What `run_typed` needs of a conductor."""

    closed = False

    def __init__(self, told):
        self.events = []
        self.told = told

    def patience_s(self, longest_s):
        return min(longest_s, 0.001)

    def tick(self):
        self.events.append("tick")
        self.told.release()

    def type(self, text):
        self.events.append(text)


def test_time_passes_between_two_typed_lines():
    told = threading.Semaphore(0)
    conductor = Conductor(told)
    run_typed(conductor, Waiting(told))
    assert conductor.events[-1] in {"second", "tick"}
    between = conductor.events[conductor.events.index("first") : conductor.events.index("second")]
    assert between.count("tick") >= 1
    assert [event for event in conductor.events if event != "tick"] == ["first", "second"]


def test_a_byte_that_is_no_character_does_not_end_a_visit():
    # A keyboard set to another code page; U+FFFD in place of a bad byte: The Unicode Standard, 3.9.
    conductor = Conductor(threading.Semaphore(0))
    run_typed(conductor, io.TextIOWrapper(io.BytesIO(b"one\ntw\xff\nthree\n"), encoding="utf-8", errors="strict"))
    assert [event for event in conductor.events if event != "tick"] == ["one", "tw\ufffd", "three"]


def test_lines_at_hand_are_taken_one_after_the_other():
    conductor = Conductor(threading.Semaphore(0))
    run_typed(conductor, ["one", "", "two"])
    assert [event for event in conductor.events if event != "tick"] == ["one", "two"]
