"""The table of points: data with provenance."""

from collections.abc import Iterable
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from handsfree.definition.form import FileId, Identifier, Spoken, Strict, Version
from handsfree.definition.source_lines import read_source, validate
from handsfree.errors import ProcedureFileError, ScriptError

Count = Annotated[int, Field(ge=0, le=1000)]
OWN_TABLE = Path(str(files("handsfree").joinpath("practice", "points.yaml")))


class PointsRow(Strict):
    """Points for something that is done or not.

    Attributes:
        points: What it is worth.
        provenance: Where the figure comes from.
    """

    points: Count
    provenance: Spoken


class LitZoneRow(PointsRow):
    """Points for each zone that got its seconds.

    Attributes:
        over: What it is worth with too many seconds.
        over_factor: Seconds over target seconds from which there are too many.
        over_s: Seconds above the target that are never too many: the cue takes time to say.
    """

    over: Count
    over_factor: Annotated[float, Field(gt=1, le=10)]
    over_s: Annotated[float, Field(ge=0, le=10)]


class ReactionRow(PointsRow):
    """Points for each right reaction, where its event does not say what it is worth.

    Attributes:
        late: What it is worth when it comes late; an event of another worth has the same share of it.
    """

    late: Count


class ValueRow(PointsRow):
    """Points for each value of the case that stands right on record.

    Attributes:
        flagged: What it is worth where the true value is told as a warning.
        corrected: What it is worth where another one had been confirmed first.
    """

    flagged: Count
    corrected: Count


class LossRow(Strict):
    """Points that are lost, fault by fault; nobody gets points for what the tool makes them do.

    Attributes:
        each: Points that each fault costs.
        free: Faults that cost nothing.
        most_percent: Most points that are lost in all, of those that could be won, in per cent.
        most: Most points that are lost in all, however many there were to win; None where the share alone counts.
        provenance: Where the figures come from.
    """

    each: Count
    free: Count = 0
    most_percent: Annotated[int, Field(ge=0, le=100)] = 100
    most: Count | None = None
    provenance: Spoken

    def lost(self, faults: int, possible: int) -> int:
        """Points that so many faults cost where so many points could be won."""
        lost = min(possible * self.most_percent // 100, self.each * max(0, faults - self.free))
        return lost if self.most is None else min(lost, self.most)


class PushingRow(LossRow):
    """Points that are lost by commands that were refused because they would have passed something.

    Attributes:
        pattern: From so many refused "next step" on, it fails the attempt.
    """

    pattern: Annotated[int, Field(ge=2, le=100)]


class GravityRow(Strict):
    """How grave each rule is that fails an attempt, to set failed attempts in an order: 1 is least.

    Attributes:
        rules: Rule to gravity, 1 for a rule that is not named; `too_few_untrue` is that of too few points where what
            stands on record is not so.
        provenance: Where the figures come from.
    """

    rules: dict[Identifier, Annotated[int, Field(ge=1, le=9)]]
    provenance: Spoken

    def of(self, rules: Iterable[str]) -> int:
        """How grave the gravest of some broken rules is, 0 where there is none."""
        return max((self.rules.get(rule, 1) for rule in rules), default=0)


class TimeRow(Strict):
    """A time with its provenance."""

    seconds: Annotated[float, Field(ge=0, le=600)]
    provenance: Spoken


class Points(Strict):
    """A table of points. See `points.yaml`."""

    form: Literal[1]
    id: FileId
    version: Version
    provenance: Spoken
    pass_percent: Annotated[int, Field(ge=0, le=100)]
    soft_step: LossRow
    false_finding: LossRow
    late_step: LossRow
    pushing: PushingRow
    zone: LitZoneRow
    reaction: ReactionRow
    value: ValueRow
    prompts: LossRow
    least_look_s: TimeRow
    deaf_s: TimeRow
    gravity: GravityRow


def load_points(path: Path = OWN_TABLE) -> Points:
    """Read a table of points.

    Raises:
        ScriptError: The file cannot be read or has faults; each on a line of its own, as file:line: path: text.
    """
    try:
        source = read_source(path)
    except ProcedureFileError as error:
        raise ScriptError(str(error).replace("(a procedure is", "(a table of points is")) from error
    points = validate(source, Points)
    if points is None or source.faults:
        raise ScriptError("\n".join(source.described_faults()))
    return points
