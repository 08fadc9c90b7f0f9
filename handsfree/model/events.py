"""What happened: everything that a session is told. Past tense. Time arrives here and nowhere else."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from handsfree.model.commands import Command
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.reasons import STRICT

LocalOffset = Annotated[int, Field(ge=-1439, le=1439)]
"""Offset of local time from UTC, minutes; RFC 3339, 5.6, writes it with hours to 23 and minutes to 59."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Base of all events.

    Attributes:
        at_s: Session time (monotonic seconds) when the core was told; never decreases.
        wall: RFC 3339 UTC time with milliseconds and Z, for stamps only.
    """

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT

    at_s: float
    wall: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionStarted(Event):
    """The session begins; always the first event.

    Attributes:
        local_offset_minutes: Offset of local time from UTC, minutes.
        today: Local calendar date, ISO 8601, for expiry.
        record_id: Identifier of the record.
        versions: Program, procedure, profile and model versions, name and value.
        practice: True if it can only ever be practice.
    """

    local_offset_minutes: LocalOffset
    today: str
    record_id: str
    versions: tuple[tuple[str, str], ...] = ()
    practice: bool = False
    type: Literal["session_started"] = "session_started"


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandSpoken(Event):
    """An utterance was accepted.

    Attributes:
        command: Its meaning.
        heard: The words, score and times.
        probability: Estimated probability that the meaning is right, 0 … 1.
    """

    command: Command
    heard: Hypothesis
    probability: float
    type: Literal["command_spoken"] = "command_spoken"


@dataclass(frozen=True, slots=True, kw_only=True)
class CommandDoubted(Event):
    """An utterance was understood with doubt: it must be asked for, not acted on."""

    command: Command
    heard: Hypothesis
    probability: float
    type: Literal["command_doubted"] = "command_doubted"


class RejectionReason(StrEnum):
    """Why an utterance was not taken."""

    NOT_UNDERSTOOD = "not_understood"
    TOO_NOISY = "too_noisy"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeechRejected(Event):
    """Speech was heard and not taken.

    Attributes:
        reason: Why.
        heard: The best guess, kept for the record, or None.
    """

    reason: RejectionReason
    heard: Hypothesis | None = None
    type: Literal["speech_rejected"] = "speech_rejected"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockTicked(Event):
    """Time passed; sent at least at every deadline that the session names."""

    type: Literal["clock_ticked"] = "clock_ticked"


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundLost(Event):
    """The microphone or loudspeaker went away.

    Attributes:
        what: "microphone" or "loudspeaker".
    """

    what: str
    type: Literal["sound_lost"] = "sound_lost"


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundReturned(Event):
    """The device is back.

    Attributes:
        what: "microphone" or "loudspeaker".
    """

    what: str
    type: Literal["sound_returned"] = "sound_returned"


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneHeard(Event):
    """The lamp's own beep was heard.

    Attributes:
        from_s: Session time when the tone began.
        to_s: Session time when it ended.
    """

    from_s: float
    to_s: float
    type: Literal["tone_heard"] = "tone_heard"


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionInterrupted(Event):
    """A record was reopened after the program had ended without closing it.

    `at_s` continues the interrupted session's time at its last known moment.

    Attributes:
        gap_s: Seconds of wall-clock time between the last entry and now, as far as known.
    """

    gap_s: float
    type: Literal["session_interrupted"] = "session_interrupted"


SessionEvent = (
    SessionStarted
    | CommandSpoken
    | CommandDoubted
    | SpeechRejected
    | ClockTicked
    | SoundLost
    | SoundReturned
    | ToneHeard
    | SessionInterrupted
)
