"""A graph that goes round and round is walked like any other: what may be said without end can crash nothing."""

from itertools import permutations

import pytest
from recognition_helpers import LETTER_PIECES, read

from handsfree.model.graph import Arc, WordGraph
from handsfree.recognition.automaton import Automaton
from handsfree.recognition.look_ahead import LookAhead, Next
from handsfree.understanding.bundled_grammars import grammars_for
from handsfree.understanding.graphs import compile_graph
from handsfree.understanding.jsgf import Reference

LONG_CHAIN = 3000
"""More words that need not be written than functions may call themselves."""


def and_so_on(states: int) -> WordGraph:
    """ "One hundred and seven", with "and" leading from each of the middle states to each other and to itself."""
    middle = range(2, 2 + states)
    arcs = [Arc(0, 1, "one", ("digit:1",)), *(Arc(1, state, "hundred", ("hundred",)) for state in middle)]
    arcs += [Arc(state, other, "and", ("and",)) for state in middle for other in middle]
    arcs += [Arc(state, 2 + states, "seventy", ("tens:70",)) for state in middle]
    return WordGraph(0, frozenset({2 + states}), tuple(arcs), 3 + states)


def silent_rounds(states: int) -> WordGraph:
    """Every state leads to every other without a word; "stop" ends it."""
    arcs = [Arc(one, other, None) for one, other in permutations(range(states), 2)]
    return WordGraph(0, frozenset({states}), (*arcs, Arc(0, states, "stop", ("control:stop",))), states + 1)


@pytest.mark.parametrize("states", [1, 12])
def test_words_that_are_not_written_may_be_said_again_and_again(states: int) -> None:
    hypothesis = read(Automaton(and_so_on(states), LETTER_PIECES.tree), "170")
    assert hypothesis is not None
    assert hypothesis.text == "one hundred seventy"


def test_many_words_may_go_unwritten_in_turn() -> None:
    arcs = [Arc(0, 1, "one", ("digit:1",)), Arc(1, 2, "hundred", ("hundred",))]
    arcs += [Arc(state, state + 1, "and", ("and",)) for state in range(2, LONG_CHAIN)]
    arcs.append(Arc(LONG_CHAIN, LONG_CHAIN + 1, "seventy", ("tens:70",)))
    graph = WordGraph(0, frozenset({LONG_CHAIN + 1}), tuple(arcs), LONG_CHAIN + 2)
    assert read(Automaton(graph, LETTER_PIECES.tree), "170") is not None


def test_silence_may_go_round() -> None:
    graph = silent_rounds(12)
    hypothesis = read(Automaton(graph, LETTER_PIECES.tree), "stop.")
    assert hypothesis is not None
    assert hypothesis.tags == ("control:stop",)
    course = LookAhead(graph)
    assert course.after(("stop",)) is Next.NOTHING
    stops = course.stop_words()
    assert stops is not None
    assert stops.words == {"stop"}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("5 hundred 20", "five hundred twenty"),
        ("area code 415, 2 million", "area code four one five two million"),
        ("one oh five extension 7", "one oh five extension seven"),
    ],
)
def test_numbers_without_end_are_read(text: str, words: str) -> None:
    graph = compile_graph(Reference("strings.numbers"), grammars_for())
    hypothesis = read(Automaton(graph, LETTER_PIECES.tree), text)
    assert hypothesis is not None
    assert hypothesis.text == words
