"""The only door to time. Nothing else in the package may ask what time it is."""

import time
from datetime import UTC, datetime, timedelta
from typing import Protocol


class Clock(Protocol):
    """A monotonic clock for durations and a wall clock for stamps."""

    def monotonic_s(self) -> float:
        """Seconds since an arbitrary start; never goes back."""

    def wall(self) -> datetime:
        """The wall-clock time, timezone-aware with the local offset."""

    def sleep_until(self, deadline_s: float) -> None:
        """Return once `monotonic_s()` is at or past `deadline_s`."""


class SystemClock:
    """The machine's clocks."""

    def monotonic_s(self) -> float:
        """See `Clock.monotonic_s`."""
        return time.monotonic()

    def wall(self) -> datetime:
        """See `Clock.wall`."""
        return datetime.now(UTC).astimezone()

    def sleep_until(self, deadline_s: float) -> None:
        """See `Clock.sleep_until`."""
        remaining_s = deadline_s - time.monotonic()
        if remaining_s > 0:
            time.sleep(remaining_s)


class ManualClock:
    """A clock moved by hand: tests, and sessions whose time comes from counted samples.

    Args:
        wall_start: Timezone-aware wall time at monotonic 0.
    """

    def __init__(self, wall_start: datetime) -> None:
        if wall_start.tzinfo is None:
            raise ValueError("wall_start must be timezone-aware")
        self._wall_start = wall_start
        self._now_s = 0.0

    def monotonic_s(self) -> float:
        """See `Clock.monotonic_s`."""
        return self._now_s

    def wall(self) -> datetime:
        """See `Clock.wall`."""
        return self._wall_start + timedelta(seconds=self._now_s)

    def sleep_until(self, deadline_s: float) -> None:
        """Jump to `deadline_s`, never back."""
        self._now_s = max(self._now_s, deadline_s)
