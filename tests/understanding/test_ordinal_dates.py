"""Days of a month said as ordinals, as people in the United States say them."""

from datetime import date

import pytest
from num2words import num2words

from handsfree.model.commands import DateSlot, GiveValues, Wanted
from handsfree.model.readings import NeedsAsking, SpokenDate
from handsfree.understanding.graphs import match
from handsfree.understanding.interpreter import interpret, typed
from handsfree.understanding.listening_graph import graph_for

WANTED = Wanted(slots=(DateSlot("day", ("day",)),))


def heard(text):
    hypothesis = typed(text, WANTED, 0.0)
    assert hypothesis is not None, text
    command = interpret(hypothesis, WANTED)
    assert isinstance(command, GiveValues)
    return command.values[0].value


# Oracle: ordinals by the independent library num2words. Thirteen and thirty sound alike and are asked about.
@pytest.mark.parametrize("day", [day for day in range(1, 32) if day not in {13, 30}])
@pytest.mark.parametrize("form", ["october {} twenty twenty six", "{} of october twenty twenty six"])
def test_every_day_of_a_month(day, form):
    text = form.format(num2words(day, to="ordinal").replace("-", " "))
    assert heard(text) == SpokenDate(date(2026, 10, day))


@pytest.mark.parametrize("text", ["november the third two zero two six", "the third of november two zero two six"])
def test_with_the(text):
    assert heard(text) == SpokenDate(date(2026, 11, 3))


@pytest.mark.parametrize("day", ["thirteenth", "thirtieth"])
def test_thirteenth_and_thirtieth_are_asked_about(day):
    assert isinstance(heard(f"october {day} twenty twenty six"), NeedsAsking)


def test_a_day_that_a_month_does_not_have_is_asked_about():
    assert isinstance(heard("february thirty first twenty twenty six"), NeedsAsking)


@pytest.mark.parametrize(
    "text",
    [
        "thirty one december two zero two six",
        "december thirty one twenty twenty six",
        "december thirty one two zero two six",
    ],
)
def test_nothing_sounds_like_thirty_one(text):
    # "Thirteen one" is no number: the longer reading is the only one.
    assert heard(text) == SpokenDate(date(2026, 12, 31))


def test_a_year_with_thirty_one_sounds_like_no_other_and_one_with_thirty_does():
    assert heard("one december twenty thirty one") == SpokenDate(date(2031, 12, 1))
    assert isinstance(heard("one december twenty thirty"), NeedsAsking)


@pytest.mark.parametrize("day", ["twenty", "thirty"])
def test_a_day_is_never_cut_out_of_a_number_that_was_said_as_one(day):
    # "Thirty, one nine nine nine" is heard as "thirty one, nine nine nine": a day 3 was never said.
    assert isinstance(heard(f"december {day} one nine nine nine"), NeedsAsking)


def test_an_ordinal_alone_is_no_date():
    assert match(graph_for(WANTED), ("third",)) is None
