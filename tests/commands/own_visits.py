"""A whole visit, typed, of a procedure that a test put together from its steps."""

from pathlib import Path

from own_procedures import write
from typed_visits import run


def own_visit(place: Path, lines: list[str], *steps: str, ends: str) -> tuple[Path, Path]:
    """Play one; what it printed must hold `ends`. Returns the folder of its record and its procedure file."""
    file = write(place, *steps)
    done = run(place / "record", lines, procedure=str(file))
    assert ends in done.output, done.output
    return place / "record", file
