"""Every kind of fact has its line in the log. Samples are made from the types alone; no outside source."""

import types
import typing
from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import Enum

import pytest
from report_samples import record_of, written

from handsfree.model.effects import Append
from handsfree.model.facts import AnyFact, LampBeeped, LightStillOn, ReadingProposed, StageExposed, ZoneTotalled
from handsfree.report.fact_words import fact_words, place_words

SILENT = {LampBeeped, LightStillOn, ReadingProposed, StageExposed, ZoneTotalled}
PLAIN = {
    str: "some_name",
    int: 3,
    float: 3.0,
    bool: True,
    Decimal: Decimal(3),
    date: date(2027, 1, 31),
    typing.Any: "x",
}


def sample(kind):
    """A value of a type: of several the first, of a list one."""
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if kind in PLAIN:
        return PLAIN[kind]
    if origin is typing.Literal:
        return arguments[0]
    if origin is types.UnionType or origin is typing.Union:
        return sample(next(one for one in arguments if one is not type(None)))
    if origin is tuple:
        return (sample(arguments[0]),)
    if origin is dict:
        return {"some_name": sample(arguments[1])}
    if issubclass(kind, Enum):
        return next(iter(kind))
    assert is_dataclass(kind), kind
    hints = typing.get_type_hints(kind)
    return kind(**{item.name: sample(hints[item.name]) for item in fields(kind)})


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    return record_of(written(tmp_path_factory.mktemp("empty") / "visit"))


@pytest.mark.parametrize("kind", typing.get_args(AnyFact), ids=lambda kind: kind.__name__)
def test_each_kind_has_a_line_in_words_or_repeats_another(record, kind):
    fact = sample(kind)
    assert Append(fact).kind == fact.kind
    words, place = fact_words(record, fact), place_words(record, fact)
    assert (words == "") == (kind in SILENT)
    somewhere = hasattr(fact, "stage") or getattr(fact, "zone", None) is not None
    assert place == ("some name" if somewhere else "")
    assert words.count("\n") == 0
    assert "@" not in words
    assert words[:1] == words[:1].upper()
