"""What is to be said and shown once it is on the disk, in order, and what of it is left unsaid once overtaken."""

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from handsfree.model.effects import Earcon, Effect, PlayEarcon, Priority, Say
from handsfree.session.snapshot import Snapshot


@dataclass(frozen=True, slots=True)
class HeldBack:
    """What one event asks for beside its facts.

    Attributes:
        batch: Number of the batch that must be on the disk first; see `RecordWriter`.
        effects: What is to be said and sounded then.
        snapshot: What is to be shown then, or None.
        place: Step and mode that the event led to.
        since_s: Session time of the event.
        stands: Whether nothing that was said at once has taken the place of what it asks.
    """

    batch: int
    effects: tuple[Effect, ...]
    snapshot: Snapshot | None
    place: tuple[str, str]
    since_s: float
    stands: bool = True

    @property
    def asks(self) -> bool:
        """Whether people are to answer to it."""
        return self.stands and any(isinstance(effect, Say) and effect.asks for effect in self.effects)


class Backlog:
    """What waits for the disk."""

    def __init__(self) -> None:
        self._waiting: deque[HeldBack] = deque()

    def __bool__(self) -> bool:
        """Whether anything waits."""
        return bool(self._waiting)

    @property
    def asked_since_s(self) -> float | None:
        """Since when a question has waited to be asked, session time; None where none does."""
        return next((held.since_s for held in self._waiting if held.asks), None)

    def put(self, held: HeldBack) -> None:
        """Add what an event asks for."""
        self._waiting.append(held)

    def overtake(self, said: Sequence[Effect], place: tuple[str, str]) -> None:
        """Something is said at once: what waits must not be said or shown after it as if it still stood.

        A stop silences everything before it, as it does at the loudspeaker. Else a question that no longer stands is
        left out. The sound of what was recorded stays.

        Args:
            said: What is said at once.
            place: Step and mode that it led to.
        """
        prompts = [effect for effect in said if isinstance(effect, Say)]
        is_stop = any(prompt.priority is Priority.STOP for prompt in prompts)
        is_asked = any(prompt.asks for prompt in prompts)
        for number, held in enumerate(self._waiting):
            stands = held.stands and not is_stop and not is_asked and held.place == place
            effects = held.effects
            if is_stop:
                effects = _recorded(effects)
            elif held.stands and not stands:
                effects = _without_question(effects)
            self._waiting[number] = replace(held, snapshot=None, effects=effects, stands=stands)

    def ready(self, written: int) -> Iterator[HeldBack]:
        """What may be said now, and waits no more.

        Args:
            written: How many batches are on the disk.
        """
        while self._waiting and self._waiting[0].batch <= written:
            yield self._waiting.popleft()


def _recorded(effects: Sequence[Effect]) -> tuple[Effect, ...]:
    return tuple(effect for effect in effects if effect == PlayEarcon(Earcon.RECORDED))


def _without_question(effects: Sequence[Effect]) -> tuple[Effect, ...]:
    """All but the last that people are to answer to: what an event tells before it stays true."""
    places = [number for number, effect in enumerate(effects) if isinstance(effect, Say) and effect.asks]
    return tuple(effect for number, effect in enumerate(effects) if not places or number != places[-1])
