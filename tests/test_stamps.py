"""Stamps, by RFC 3339 (IETF, 2002): section 5.6 gives the grammar, 5.8 examples."""

import ast
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

import handsfree
from handsfree.stamps import stamp


@pytest.mark.parametrize(
    ("moment", "written"),
    [
        (datetime(1985, 4, 12, 23, 20, 50, 520_000, UTC), "1985-04-12T23:20:50.520Z"),  # RFC 3339, 5.8
        # RFC 3339, 5.8: "1996-12-19T16:39:57-08:00 ... is equivalent to 1996-12-20T00:39:57Z in UTC"
        (datetime(1996, 12, 19, 16, 39, 57, tzinfo=timezone(timedelta(hours=-8))), "1996-12-20T00:39:57.000Z"),
        (datetime(2026, 11, 25, 10, 0, 0, 999, UTC), "2026-11-25T10:00:00.000Z"),
    ],
)
def test_a_moment_is_written_in_utc_with_milliseconds(moment, written):
    assert stamp(moment) == written


def test_a_moment_without_a_zone_is_refused():
    with pytest.raises(ValueError, match="time zone"):
        stamp(datetime(2026, 11, 25))  # noqa: DTZ001 - what is refused


def test_no_other_module_writes_stamps():
    found = {
        path.name
        for path in Path(handsfree.__path__[0]).rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and any(keyword.arg == "timespec" for keyword in node.keywords)
    }
    assert found == {"stamps.py"}
