"""Word graphs are made small without changing what may be said."""

import gc
import math
from collections import Counter

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from handsfree.errors import GrammarError
from handsfree.model.graph import Arc, WordGraph
from handsfree.understanding.bundled_grammars import grammars_for
from handsfree.understanding.graph_reduction import smallest, tidy, without_silent_arcs
from handsfree.understanding.graphs import compile_smallest
from handsfree.understanding.jsgf import Reference, Word

STATES = 8
SENTENCES_TO = 5


@st.composite
def word_graphs(draw: st.DrawFn, *, words: tuple[str | None, ...] = ("left", "right")) -> WordGraph:
    state = st.integers(0, STATES - 1)
    arcs = draw(
        st.lists(
            st.builds(Arc, state, state, st.sampled_from(words), st.sampled_from([(), ("tag",)]), st.just(0.0)),
            min_size=1,
            max_size=20,
            unique=True,
        )
    )
    return WordGraph(0, frozenset(draw(st.sets(state, min_size=1))), tuple(arcs), STATES)


def sentences(graph: WordGraph) -> set[tuple[tuple[str | None, tuple[str, ...]], ...]]:
    """All of up to five words, each word with its tags."""
    said = set()
    front: set[tuple[int, tuple[tuple[str | None, tuple[str, ...]], ...]]] = {(graph.start, ())}
    for _ in range(SENTENCES_TO + 1):
        said |= {words for state, words in front if state in graph.finals}
        front = {
            (arc.target, (*words, (arc.word, arc.tags)))
            for state, words in front
            for arc in graph.arcs
            if arc.source == state
        }
    return said


def classes_of_moore(graph: WordGraph) -> int:
    """States that can be told apart, among those that a sentence passes, by Moore's refinement (Gedanken-experiments on
    sequential machines, 1956): as slow as it is plain.
    """
    forward, backward = {graph.start}, set(graph.finals)
    for _ in range(STATES):
        forward |= {arc.target for arc in graph.arcs if arc.source in forward}
        backward |= {arc.source for arc in graph.arcs if arc.target in backward}
    useful = forward & backward
    group = {state: int(state in graph.finals) for state in useful}
    for _ in range(STATES):
        seen = {
            state: (
                group[state],
                frozenset(
                    (arc.word, arc.tags, group[arc.target])
                    for arc in graph.arcs
                    if arc.source == state and arc.target in useful
                ),
            )
            for state in useful
        }
        numbers = {signature: number for number, signature in enumerate(set(seen.values()))}
        group = {state: numbers[seen[state]] for state in useful}
    return len(set(group.values()))


@given(word_graphs())
def test_equal_states_are_merged_and_every_sentence_stays(graph: WordGraph) -> None:
    try:
        small = tidy(graph)
    except GrammarError:
        assert not sentences(graph)
        return
    assert sentences(small) == sentences(graph)
    assert small.state_count == classes_of_moore(graph)


# A meaning before the first word, ways back in silence, an end after which more may be said, and a word into nowhere.
GOES_ON = WordGraph(
    0,
    frozenset({2, 3}),
    (
        Arc(0, 1, None, ("tag",)),
        Arc(1, 2, "left"),
        Arc(2, 3, "right", ("tag",)),
        Arc(2, 1),
        Arc(3, 1),
        Arc(1, 5, "right"),
        Arc(5, 5, "left"),
    ),
    STATES,
)


@given(word_graphs(words=("left", "right", None)))
@example(GOES_ON)
def test_the_smallest_graph_says_the_same_and_no_word_twice_from_one_state(graph: WordGraph) -> None:
    try:
        small = smallest(graph)
    except GrammarError:
        # Refused alike: nothing can be said, nothing need be said, or a meaning hangs on silence.
        with pytest.raises(GrammarError):
            tidy(without_silent_arcs(graph))
        return
    assert sentences(small) == sentences(without_silent_arcs(graph))
    assert small.state_count == classes_of_moore(small)
    leaving = Counter(arc.source for arc in small.arcs)
    assert len({(arc.source, arc.word, arc.tags) for arc in small.arcs}) == len(small.arcs)
    for arc in small.arcs:
        assert math.exp(-arc.weight) == pytest.approx(leaving[arc.source] + (arc.source in small.finals))


@pytest.mark.parametrize("searching", [True, False])
def test_garbage_is_searched_for_again_however_it_ends(searching):
    was = gc.isenabled()
    (gc.enable if searching else gc.disable)()
    try:
        compile_smallest(Word("left"), grammars_for())
        assert gc.isenabled() is searching
        with pytest.raises(GrammarError):
            compile_smallest(Reference("nowhere"), grammars_for())
        assert gc.isenabled() is searching
    finally:
        (gc.enable if was else gc.disable)()
