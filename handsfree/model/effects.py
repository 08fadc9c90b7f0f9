"""What is to be done: everything that a session asks for. Imperative. `Append` always comes first."""

from dataclasses import dataclass
from enum import IntEnum, StrEnum

from handsfree.model.facts import AnyFact

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
    """Write one fact to the record; nothing that is not `at_once` is said or sounded before it is on the disk.

    Attributes:
        fact: What is true now.
    """

    fact: AnyFact

    @property
    def kind(self) -> str:
        """Name of the fact in the record, past tense."""
        return self.fact.kind


@dataclass(frozen=True, slots=True)
class Say:
    """Speak.

    Attributes:
        text: Plain words, ready for a synthesizer.
        priority: Who gives way.
        at_once: Whether it is said before the facts are on the disk: it ends light or pain, and calls nothing recorded.
        asks: Whether it is what stands from now on: "say again" repeats it, and people answer to it.
        heard_out: How many characters at its begin nobody's voice breaks off, and no answer counts before: what states
            a value, a doubt, a reason.
        codes: The sentences that it is made of, by their codes, for whoever counts or tells them apart.
    """

    text: str
    priority: Priority = Priority.PROMPT
    at_once: bool = False
    asks: bool = False
    heard_out: int = 0
    codes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PlayEarcon:
    """Play a short sound.

    Attributes:
        earcon: Which.
        at_once: As in `Say`.
    """

    earcon: Earcon
    at_once: bool = False


@dataclass(frozen=True, slots=True)
class Close:
    """End the session: nothing more will be handled.

    Attributes:
        outcome: As the record states it: `facts.Outcome`.
    """

    outcome: str


Effect = Append | Say | PlayEarcon | Close
