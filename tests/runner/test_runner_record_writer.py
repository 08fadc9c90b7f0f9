"""Who writes the record: in order, and no more after one batch failed. Both kinds keep the same promises."""

import threading
from datetime import UTC, datetime

import pytest

from handsfree.clock import ManualClock
from handsfree.errors import RecordError
from handsfree.model.effects import Append
from handsfree.model.events import ClockTicked
from handsfree.model.facts import StatusTold
from handsfree.runner.record_writer import WritesAtOnce, WritesBeside

WAIT_S = 60
FACT = Append(StatusTold(stages_done=1))


def tick(at_s):
    return ClockTicked(at_s=at_s, wall="2026-11-25T09:00:00.000Z")


class SlowPaper:
    """A journal that keeps what it is given; each batch takes a second, and one may fail."""

    def __init__(self, clock, *, fails_at=None, error=None):
        self.batches = []
        self.tried = 0
        self.threads = set()
        self._clock = clock
        self._fails_at = fails_at
        self._error = error

    def append(self, event, facts):
        self.threads.add(threading.current_thread())
        self.tried += 1
        if event is not None and event.at_s == self._fails_at:
            raise self._error
        self._clock.sleep_until(self._clock.monotonic_s() + 1.0)
        self.batches.append((event, facts))


@pytest.fixture
def clock():
    return ManualClock(datetime(2026, 11, 25, 9, 0, tzinfo=UTC))


@pytest.fixture(params=[WritesAtOnce, WritesBeside])
def kind(request):
    return request.param


def test_batches_are_written_in_the_order_in_which_they_come(kind, clock):
    paper = SlowPaper(clock)
    writer = kind(paper, clock)
    assert writer.waiting_since_s is None
    assert (writer.written(), writer.longest_s()) == (0, 0.0)
    numbers = [writer.hand_over(tick(at_s), [FACT] * int(at_s)) for at_s in (0.0, 1.0, 2.0)]
    assert numbers == [1, 2, 3]
    assert writer.wait(None)
    assert writer.written() == 3
    assert writer.waiting_since_s is None
    assert writer.failure is None
    assert [(event.at_s, len(facts)) for event, facts in paper.batches] == [(0.0, 0), (1.0, 1), (2.0, 2)]
    assert 1.0 <= writer.longest_s() <= 3.0
    writer.close()


@pytest.mark.parametrize("error", [RecordError("full"), TypeError("a fault of ours")])
def test_after_one_that_failed_none_is_written(kind, clock, error):
    paper = SlowPaper(clock, fails_at=1.0, error=error)
    writer = kind(paper, clock)
    for at_s in (0.0, 1.0, 2.0):
        writer.hand_over(tick(at_s), [])
    assert writer.wait(None)
    assert writer.failure is error
    assert writer.written() == 1
    writer.hand_over(tick(3.0), [])
    assert writer.wait(None)
    writer.close()
    assert writer.written() == 1
    assert [event.at_s for event, _ in paper.batches] == [0.0]
    assert paper.tried == 2


def test_what_was_handed_over_is_written_before_it_is_closed(kind, clock):
    paper = SlowPaper(clock)
    writer = kind(paper, clock)
    for at_s in range(20):
        writer.hand_over(tick(float(at_s)), [])
    writer.close()
    assert len(paper.batches) == 20


def test_one_that_wrote_nothing_can_be_closed(kind, clock):
    kind(SlowPaper(clock), clock).close()


def test_one_thread_of_its_own_writes_and_tells_of_it(clock):
    paper = SlowPaper(clock, fails_at=1.0, error=RecordError("full"))
    writer = WritesBeside(paper, clock)
    told = threading.Semaphore(0)
    writer.on_written(told.release)
    for at_s in (0.0, 1.0):
        writer.hand_over(tick(at_s), [])
        assert told.acquire(timeout=WAIT_S)
    assert len(paper.threads) == 1
    assert threading.current_thread() not in paper.threads
    writer.close()
    assert not paper.threads.pop().is_alive()


def test_who_hands_over_and_who_looks_does_not_wait(clock):
    reached, may_go = threading.Semaphore(0), threading.Event()

    class Shut:
        def append(self, event, facts):
            del event, facts
            reached.release()
            assert may_go.wait(WAIT_S)

    writer = WritesBeside(Shut(), clock)
    clock.sleep_until(3.0)
    writer.hand_over(tick(3.0), [])
    assert reached.acquire(timeout=WAIT_S)
    clock.sleep_until(5.0)
    writer.hand_over(tick(5.0), [])
    assert writer.written() == 0
    assert writer.waiting_since_s == 3.0
    assert writer.longest_s() == 2.0
    assert not writer.wait(0.0)
    may_go.set()
    assert writer.wait(None)
    assert writer.written() == 2
    assert writer.longest_s() == 2.0
    writer.close()
