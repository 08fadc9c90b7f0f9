"""When the strap was off, by the words that said so: a zone in its shadow is credited then alone."""

from collections.abc import Iterator


class StrapTimes:
    """The strap is on until the first "strap off". Same calls, same times."""

    def __init__(self) -> None:
        self._said: list[tuple[float, bool]] = []

    @property
    def is_on(self) -> bool:
        """Whether the strap is on as far as said."""
        return not (self._said and self._said[-1][1])

    def say(self, spoken_s: float, *, off: bool) -> None:
        """Take "strap off" or "strap on", spoken at this session time, seconds."""
        self._said.append((spoken_s, off))
        # Late recognition may deliver them out of order. Of two at one moment "on" comes last,
        # so that nothing is credited in doubt.
        self._said.sort(key=lambda event: (event[0], not event[1]))

    def is_off_at(self, at_s: float) -> bool:
        """Whether it was off at a session time."""
        return any(from_s <= at_s < to_s for from_s, to_s in self._off_spans())

    def off_s(self, from_s: float, to_s: float) -> float:
        """Seconds between two session times for which it was off."""
        return sum(max(0.0, min(to_s, b) - max(from_s, a)) for a, b in self._off_spans())

    def _off_spans(self) -> Iterator[tuple[float, float]]:
        since_s: float | None = None
        for at_s, off in self._said:
            if off and since_s is None:
                since_s = at_s
            elif not off and since_s is not None:
                yield since_s, at_s
                since_s = None
        if since_s is not None:
            yield since_s, float("inf")
