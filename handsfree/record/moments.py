"""When each fact of a record happened, in session time. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from handsfree.record.contents import Record, RecordedFact


@dataclass(frozen=True, slots=True)
class Moments:
    """Session times by line.

    Attributes:
        starts: Session time of each event, by its line.
        end_s: Session time of the last event.
    """

    starts: Mapping[int, float]
    end_s: float
    _walls: Mapping[str, float] = field(default_factory=dict)

    @classmethod
    def of(cls, record: Record) -> "Moments":
        """The moments of a record."""
        times = [event.at_s for event in record.events]
        starts = dict(zip(record.event_lines, times, strict=True))
        walls = {event.wall: event.at_s for event in record.events}
        return cls(starts, max(times, default=0.0), walls)

    def at_s(self, fact: RecordedFact[Any]) -> float:
        """When a fact was stated; facts about devices have no event and are placed by their stamp."""
        known = self.starts.get(fact.event_seq)
        if known is not None:
            return known
        earlier = [(wall, at_s) for wall, at_s in self._walls.items() if wall <= fact.at]
        if not earlier:
            return 0.0
        wall, at_s = max(earlier)
        return at_s + (datetime.fromisoformat(fact.at) - datetime.fromisoformat(wall)).total_seconds()
