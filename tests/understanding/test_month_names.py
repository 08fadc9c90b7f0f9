"""One list of months serves what is said, what is typed and what is spoken for people. Oracle: the locale "C" of POSIX
(IEEE 1003.1, LC_TIME), which Python's `calendar` gives where no other locale is set."""

import ast
import calendar
from datetime import date
from pathlib import Path

import pytest

import handsfree
from handsfree.definition.verbalization import spoken_date
from handsfree.model.commands import DateSlot, Wanted
from handsfree.understanding.dates import MONTHS
from handsfree.understanding.typed_text import spoken_forms


@pytest.mark.parametrize("month", range(1, 13))
def test_each_month_has_its_name_in_what_is_said_and_what_is_typed(month):
    name = calendar.month_name[month]
    assert MONTHS[month - 1] == name
    assert name in spoken_date(date(2026, month, 1), month_only=True)
    typed = spoken_forms(f"2026-{month:02}", Wanted(slots=(DateSlot("day", ("day",)),)))
    assert any(name.lower() in words for words in typed)


def test_no_other_module_lists_them():
    holds = [
        path.name
        for path in Path(handsfree.__path__[0]).rglob("*.py")
        if {"september", "november"}
        <= {
            node.value.lower()
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Constant) and isinstance(node.value, str)
        }
    ]
    assert holds == ["dates.py"]
