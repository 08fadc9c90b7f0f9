"""Facts about what was said to the tool and what it answered."""

from dataclasses import dataclass
from typing import Literal

from handsfree.model.fact_base import Fact, Utterance
from handsfree.model.refusals import RefusalReason


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandRefused(Fact):
    """A command was refused aloud; nothing else changed.

    Attributes:
        reason: Why.
        stage: Where.
        command: Which control, or None.
        heard: The words, or None.
    """

    reason: RefusalReason
    stage: str
    command: str | None
    heard: Utterance | None
    kind: Literal["command_refused"] = "command_refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class UtteranceDoubted(Fact):
    """Words were understood with doubt and asked about."""

    heard: Utterance
    kind: Literal["utterance_doubted"] = "utterance_doubted"


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtSettled(Fact):
    """The question whether something was said was answered.

    Attributes:
        right: Whether it had been said.
        words: What was asked about.
        heard: The answer's words, where they were kept.
    """

    right: bool
    words: str
    heard: Utterance | None
    kind: Literal["doubt_settled"] = "doubt_settled"


@dataclass(frozen=True, slots=True, kw_only=True)
class UtteranceNotTaken(Fact):
    """Speech was heard and not taken.

    Attributes:
        reason: Why.
        words: The best guess, or "".
        heard: The words with their score, where they were doubted.
    """

    reason: Literal["not_understood", "too_noisy", "doubt"]
    words: str
    heard: Utterance | None
    kind: Literal["utterance_not_taken"] = "utterance_not_taken"


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidAgain(Fact):
    """The last prompt was repeated."""

    stage: str
    kind: Literal["said_again"] = "said_again"


@dataclass(frozen=True, slots=True, kw_only=True)
class HelpGiven(Fact):
    """What may be said was told."""

    stage: str
    kind: Literal["help_given"] = "help_given"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteBegun(Fact):
    """A note was begun."""

    stage: str
    kind: Literal["note_begun"] = "note_begun"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteDictated(Fact):
    """Part of a note was dictated.

    Attributes:
        text: Free text, unverified.
        heard: The words.
    """

    text: str
    heard: Utterance
    kind: Literal["note_dictated"] = "note_dictated"


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteTaken(Fact):
    """A note was put on record.

    Attributes:
        text: Free text.
        verified: Whether a person has read it.
        broken_off: Whether a stop word or a crash cut it.
        stage: Where.
    """

    text: str
    verified: bool
    broken_off: bool
    stage: str
    kind: Literal["note_taken"] = "note_taken"
