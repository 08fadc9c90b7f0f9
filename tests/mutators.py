"""What the mutators of files have in common: edits of a text, how often they are tried, and what may come of it.

The texts that are put in are those with a meaning of their own in YAML 1.2 (yaml.org/spec/1.2.2, chapters 5 to 7), at
the edges of IEEE 754 and of JSON (RFC 8259), or long. `HANDSFREE_THOROUGH=1` tries ten times as many.
"""

import os
import warnings

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from handsfree.errors import HandsfreeError

MANY = 10 if "HANDSFREE_THOROUGH" in os.environ else 1
PIECES = (
    *(
        "[",
        "]",
        "{",
        "}",
        ":",
        "- ",
        "? ",
        "| ",
        "> ",
        "&a ",
        "*a",
        "<<: *a",
        "#",
        "@",
        "`",
        "\t",
        "\r",
        "\n",
        "  ",
        "''",
        '"',
    ),
    *("!!float ", "!!int ", "!!binary ", "!!set ", "!!python/object:x ", "%YAML 9.9\n---\n", "---\n", "...\n"),
    *("\x00", "\x85", "\u2028", "\ufeff", "\U0001f600", '"\\ud800"', '"\\U00110000"', '"\\uZZ"'),
    *("1e999", "-1e999", "0b", "0o9", "0x", "1_0", ".inf", ".nan", "~", "true", "-9", "9" * 40, "9" * 4400, "1:30"),
    *("2001-99-99", "n" * 300, "[" * 400, "{a: " * 200),
)
EDIT = st.tuples(
    st.sampled_from(("put", "cut", "value", "twice", "indent")),
    st.floats(0, 1),
    st.floats(0, 1),
    st.sampled_from(PIECES),
)
EDITS = st.lists(EDIT, min_size=1, max_size=4)


def tried(count):
    """Settings of a mutator. The clock of a busy machine is no fault."""
    return settings(
        max_examples=count * MANY,
        derandomize=True,
        deadline=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    )


def edited(text, edits):
    """A text after some edits, each at a line and a place in it."""
    lines = text.split("\n")
    for kind, at, inside, piece in edits:
        row = int(at * (len(lines) - 1))
        line = lines[row]
        column = int(inside * len(line))
        if kind == "put":
            lines[row] = line[:column] + piece + line[column:]
        elif kind == "cut":
            del lines[row : row + 1 + int(inside * 3)]
            lines = lines or [""]
        elif kind == "value":
            lines[row] = line.partition(": ")[0] + ": " + piece
        elif kind == "twice":
            lines.insert(row, line)
        else:
            lines[row] = " " * int(inside * 8) + line.lstrip()
    return "\n".join(lines)


def read_or_refused(read, *given):
    """Nothing but a described error comes out, and no warning."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            return read(*given)
        except HandsfreeError:
            return None
