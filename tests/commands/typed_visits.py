"""Whole visits of the repeated check, typed, and the commands that look at them."""

import contextlib
import io
import sys
from dataclasses import dataclass
from pathlib import Path

from handsfree.cli import main

PAIN = "rest three stretch four proportion expected"
TOUCH = "median intact ulnar intact radial intact"


BLOOD = "pulse present refill one point four color usual temperature warm"


def visit(pain: str = PAIN, touch: str = TOUCH, blood: tuple[str, ...] = (BLOOD,), wait: str = "six zero") -> list[str]:
    """Lines of a whole visit; what is said of the left hand can be changed, and the minutes until the next."""
    power = "median strong ulnar strong radial strong"
    values = [
        "first full name second birth date identity matching", "left",
        pain, "rest zero stretch zero proportion expected",
        touch, TOUCH, power, power, *blood, BLOOD, "touch steady power steady discomfort better",
        wait, "concerns absent receiver informed",
    ]  # fmt: skip
    return ["practice session", *(line for value in values for line in (value, "affirmative"))]


@dataclass(frozen=True)
class Result:
    """What a command left."""

    exit_code: int
    output: str


def run(record: Path, lines: list[str], *options: str | Path, procedure: str = "neurovascular-check") -> Result:
    return command(["run", procedure, "--typed", "--practice", "--record", record, *options], lines)


def command(asked: list[str | Path], lines: list[str]) -> Result:
    """Call the program with lines on its standard input."""
    out, code, before = io.StringIO(), 0, sys.stdin
    sys.stdin = io.StringIO("".join(f"{line}\n" for line in lines))
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            main([str(part) for part in asked])
    except SystemExit as left:
        code = int(left.code or 0)
    finally:
        sys.stdin = before
    return Result(code, out.getvalue())
