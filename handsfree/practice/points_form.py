"""The table of points: data with provenance."""

from importlib.resources import files
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from handsfree.definition.form import FileId, Spoken, Strict, Version
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


class DeductionRow(PointsRow):
    """Points that are lost one fault after the other, down to none.

    Attributes:
        each: Points that each fault costs.
        free: Faults that cost nothing.
    """

    each: Count
    free: Count = 0


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
    """Points for each right reaction.

    Attributes:
        late: What it is worth when it comes late.
    """

    late: Count


class ReadBackRow(PointsRow):
    """Points for values on record.

    Attributes:
        wrong: Points that each wrong value costs that stayed.
        corrected: Points that each one costs that was put right after it had been confirmed.
    """

    wrong: Count
    corrected: Count


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
    hard_step: PointsRow
    soft_step: PointsRow
    order: DeductionRow
    zone: LitZoneRow
    reaction: ReactionRow
    read_back: ReadBackRow
    prompts: DeductionRow
    least_look_s: TimeRow


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
