"""Session time: from 0, or on from where an interrupted session stopped."""

from datetime import datetime

from handsfree.clock import Clock


class SessionClock:
    """A clock whose session time begins at 0, or goes on where an interrupted session stopped.

    Args:
        clock: What really measures time.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._zero_s = clock.monotonic_s()

    def go_on_from(self, session_s: float) -> None:
        """Let session time be `session_s` now, in seconds."""
        self._zero_s = self._clock.monotonic_s() - session_s

    def monotonic_s(self) -> float:
        """See `Clock.monotonic_s`."""
        return self._clock.monotonic_s() - self._zero_s

    def wall(self) -> datetime:
        """See `Clock.wall`."""
        return self._clock.wall()

    def sleep_until(self, deadline_s: float) -> None:
        """See `Clock.sleep_until`."""
        self._clock.sleep_until(deadline_s + self._zero_s)
