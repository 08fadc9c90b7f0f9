"""Records of invented practice, made without a session: facts at the times and after the commands that a test says."""

from dataclasses import dataclass

from handsfree.model.commands import Control, ControlCommand
from handsfree.model.events import ClockTicked, CommandDoubted, CommandSpoken
from handsfree.model.facts import ReadingAmended, ReadingConfirmed, StatedReading, Utterance
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Option
from handsfree.model.reasons import Severity
from handsfree.record.contents import Record, RecordedFact
from handsfree.record.header import RecordHeader

WALL = "2026-11-25T09:00:00.000Z"


@dataclass(frozen=True)
class Turn:
    """One event and what followed from it.

    Attributes:
        at_s: When the session was told.
        facts: What it stated.
        said: The command, or None for time that passed.
        doubted: Whether the command was asked about.
        spoken_s: When its first word began; a second before `at_s` where left out.
    """

    at_s: float
    facts: tuple
    said: Control | None = None
    doubted: bool = False
    spoken_s: float | None = None

    @property
    def event(self):
        if self.said is None:
            return ClockTicked(at_s=self.at_s, wall=WALL)
        begun_s = self.at_s - 1 if self.spoken_s is None else self.spoken_s
        heard = Hypothesis((self.said.value,), (), begun_s, self.at_s, "test", None, None, None, None)
        kind = CommandDoubted if self.doubted else CommandSpoken
        return kind(at_s=self.at_s, wall=WALL, command=ControlCommand(self.said), heard=heard, probability=1.0)


def record_of(*turns):
    """The record of these turns: an event at every hundredth line, its facts on the lines after it."""
    events = tuple(turn.event for turn in turns)
    lines = tuple(100 * number for number in range(1, len(turns) + 1))
    facts = tuple(
        RecordedFact(line + place, WALL, fact, line)
        for line, turn in zip(lines, turns, strict=True)
        for place, fact in enumerate(turn.facts, start=1)
    )
    header = RecordHeader(
        record_id="r-1",
        procedure="light-output-check",
        title="",
        procedure_sha256="",
        practice=True,
        versions={},
        program="",
        build="",
    )
    return Record(
        header=header,
        events=events,
        event_lines=lines,
        facts=facts,
        amendments=(),
        interruptions=(),
        clips=(),
        deleted_clips=frozenset(),
        attestations=(),
        lines=0,
        head="",
        sealed=True,
        attested=False,
    )


def heard(text, from_s, engine="test"):
    return Utterance(
        text=text, probability=1.0, runner_up=None, engine=engine, spoken_from_s=from_s, spoken_to_s=from_s + 0.5
    )


def confirmed(stage, field, value, from_s, **more):
    """A value that was read back and affirmed; with `old_value` one that took the place of another."""
    kind: type[StatedReading] = ReadingAmended if "old_value" in more else ReadingConfirmed
    return kind(
        stage=stage,
        step=stage.partition("@")[0],
        phase="before",
        field=field,
        label=field,
        side=None,
        timing=None,
        value=Option(value) if isinstance(value, str) else value,
        unit=None,
        severity=Severity.NONE,
        grounds=None,
        asked=False,
        heard=heard(str(value), from_s),
        read_back="affirmed",
        **more,
    )
