"""Kinds of events: what is said or seen, which answers are right, how soon, what that is worth.

`event_kinds.yaml` holds those that come with the program; a scenario defines others of its own under `kinds`. An event
takes from its kind whatever it does not say itself.
"""

from collections.abc import Mapping
from enum import StrEnum
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from handsfree.definition.form import Identifier, Spoken, Strict
from handsfree.definition.source_lines import SourceLines, read_source, validate
from handsfree.errors import ScriptError

KINDS_FILE = Path(str(files("handsfree").joinpath("practice", "event_kinds.yaml")))
Seconds = Annotated[float, Field(ge=0, le=3600)]
Limit = Annotated[float, Field(gt=0, le=600)]
Worth = Annotated[int, Field(ge=0, le=100)]


class Action(StrEnum):
    """A right answer to an event, as it shows in a record."""

    LIGHT_OFF = "light_off"
    PAUSE = "pause"
    RECORD = "record"
    GO_ON = "go_on"


class Way(StrEnum):
    """How something that held the procedure was settled."""

    ANSWERED_AGAIN = "answered_again"
    OVERRIDDEN = "overridden"
    ENDED = "ended"


class Settlement(Strict):
    """How what holds the procedure after an event should be settled.

    Attributes:
        ways: Right ways; the first is the one a good learner takes.
        reasons: Reasons of an override that fit.
        roles: Roles of an override that fit; empty for all.
        look_s: Shortest time between the hold and the word "override": nobody looks at skin in less.
    """

    ways: Annotated[tuple[Way, ...], Field(min_length=1)]
    reasons: tuple[Identifier, ...] = ()
    roles: tuple[Identifier, ...] = ()
    look_s: Seconds = 0.0

    @model_validator(mode="after")
    def _reasoned(self) -> Self:
        if (Way.OVERRIDDEN in self.ways) != bool(self.reasons):
            raise ValueError("reasons belong to the way overridden, and it needs at least one")
        return self


def _listed(given: object) -> object:
    """One answer or several, as a list."""
    named = given if isinstance(given, list | tuple) else [given]
    known = [action.value for action in Action]
    unknown = [one for one in named if one not in known]
    if unknown:
        raise ValueError(f"{unknown[0]!r} is no answer (there are: {', '.join(known)})")
    return tuple(Action(str(one)) for one in named)


Answers = Annotated[tuple[Action, ...], BeforeValidator(_listed), Field(min_length=1)]
"""Right answers: one, or a list of which any is right."""


class EventKind(Strict):
    """A kind of event.

    Attributes:
        who: Whose voice, where it has words.
        say: What is said.
        sign: What there is to see instead, where a silent patient says nothing; told by somebody else.
        repeat: How often it is said again until it is answered.
        answer: Right answers; any of them. The first is the one a good scripted learner gives.
        within_s: Within how many seconds after it was said or the step was asked.
        worth: Points for a right answer in time.
        settle: How a hold that follows should be settled.
        hard: Whether missing it fails the attempt, whatever the points.
        why: Why this is the right answer, for the debriefing.
        source: Source of the expectation.
    """

    who: Identifier | None = None
    say: Spoken | None = None
    sign: Spoken | None = None
    repeat: Annotated[int, Field(ge=0, le=5)] = 0
    answer: Answers
    within_s: Limit
    worth: Worth
    settle: Settlement | None = None
    hard: bool = False
    why: Spoken
    source: Spoken

    @model_validator(mode="after")
    def _said_by_somebody(self) -> Self:
        if (self.who is None) != (self.say is None):
            raise ValueError("who and say go together")
        return self


class _Kinds(Strict):
    """The file of the kinds that come with the program."""

    form: Literal[1]
    kinds: dict[Identifier, EventKind]


@cache
def bundled_kinds() -> Mapping[str, EventKind]:
    """The kinds that come with the program, by name.

    Raises:
        ScriptError: The file has faults.
    """
    source = read_source(KINDS_FILE)
    found = validate(source, _Kinds)
    if found is None or source.faults:
        raise ScriptError("\n".join(source.described_faults()))
    return found.kinds


def fill_events(source: SourceLines) -> None:
    """Give each event of a scenario's file what it leaves to its kind. What is no event yet is left as it is."""
    written = source.data
    if not isinstance(written, dict):
        return
    own, events = written.get("kinds"), written.get("events")
    if not isinstance(events, list):
        return
    known: dict[str, object] = {
        name: kind.model_dump(mode="json", exclude_unset=True) for name, kind in bundled_kinds().items()
    }
    known |= own if isinstance(own, dict) else {}
    for index, event in enumerate(events):
        kind = known.get(str(event.get("kind"))) if isinstance(event, dict) else None
        if isinstance(kind, dict):
            events[index] = kind | event
