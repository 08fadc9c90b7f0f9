from datetime import UTC, datetime, timedelta

import pytest

from handsfree.clock import Clock, ManualClock, SystemClock


def exercise(clock: Clock) -> None:
    before = clock.monotonic_s()
    clock.sleep_until(before + 0.01)
    assert clock.monotonic_s() >= before + 0.01
    clock.sleep_until(before)
    assert clock.monotonic_s() >= before + 0.01
    assert clock.wall().tzinfo is not None


def test_both_clocks_keep_the_same_promises():
    exercise(SystemClock())
    exercise(ManualClock(datetime(2026, 1, 1, tzinfo=UTC)))


def test_manual_wall_follows_monotonic():
    start = datetime(2026, 1, 1, tzinfo=UTC)
    clock = ManualClock(start)
    clock.sleep_until(90.0)
    assert clock.wall() == start + timedelta(seconds=90)


def test_naive_wall_time_is_refused():
    with pytest.raises(ValueError, match="timezone"):
        ManualClock(datetime(2026, 1, 1))  # noqa: DTZ001
