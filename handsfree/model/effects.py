"""What is to be done: everything that a session asks for. Imperative. `Append` always comes first."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum, StrEnum

Json = str | int | float | bool | None | list["Json"] | dict[str, "Json"]


class Priority(IntEnum):
    """Which of two prompts gives way; a higher one interrupts a lower."""

    INFORMATION = 0
    PROMPT = 1
    ATTENTION = 2
    STOP = 3


class Earcon(StrEnum):
    """Short sounds, each with one meaning."""

    HEARD = "heard"
    NOT_UNDERSTOOD = "not_understood"
    REFUSED = "refused"
    RECORDED = "recorded"
    ATTENTION = "attention"
    DEVICE_LOST = "device_lost"
    TICK = "tick"


@dataclass(frozen=True, slots=True)
class Append:
    """Write one entry to the record before anything else is done.

    Attributes:
        kind: Past-tense name of the fact, for example "reading_confirmed".
        data: JSON-ready facts; numbers with a stated precision are strings ("17.5"), times are seconds.
    """

    kind: str
    data: Mapping[str, Json] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Say:
    """Speak.

    Attributes:
        text: Plain words, ready for a synthesizer.
        priority: Who gives way.
    """

    text: str
    priority: Priority = Priority.PROMPT


@dataclass(frozen=True, slots=True)
class PlayEarcon:
    """Play a short sound."""

    earcon: Earcon


@dataclass(frozen=True, slots=True)
class Close:
    """End the session: nothing more will be handled.

    Attributes:
        outcome: "completed" or "stopped".
    """

    outcome: str


Effect = Append | Say | PlayEarcon | Close
