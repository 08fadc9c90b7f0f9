"""What is looked up word by word is what a recogniser would be offered, laid out in full.

Expected here is the graph itself, made by `compile_smallest`, whose sentences `test_word_graphs.py` holds against plain
enumeration: the same words, meanings, weights and second meanings, or none.
"""

import itertools
import random
from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from sentences_tried import tried

from handsfree.definition.loader import bundled_procedures, load_bundle
from handsfree.errors import GrammarError
from handsfree.model.commands import Control, Earlier, Narration, OwnWords, Wanted
from handsfree.model.readings import Side
from handsfree.model.working import Working
from handsfree.session.listening_context import wanted as wanted_of
from handsfree.session.section import section_of
from handsfree.session.session import Session
from handsfree.understanding.bundled_grammars import grammars_for
from handsfree.understanding.graphs import compile_smallest, match
from handsfree.understanding.jsgf import NULL, Choice, Expansion, Repeat, Sequence, Tagged, Word
from handsfree.understanding.listening_graph import match_said, whole_graph
from handsfree.understanding.walked_graph import Part, WalkedGraph

SENTENCES = 8

expansions: st.SearchStrategy[Expansion] = st.recursive(
    st.sampled_from([Word("left"), Word("right"), Tagged(Word("left"), ("one",)), NULL, Tagged(NULL, ("two",))]),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda parts: Sequence(tuple(parts))),
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: Choice(tuple(parts))),
        st.builds(Tagged, inner, st.sampled_from([("one",), ("two",)])),
        st.builds(Repeat, st.builds(lambda part: Sequence((Word("right"), part)), inner), st.sampled_from([0, 1])),
    ),
    max_leaves=7,
)
"""What JSGF can say; what is repeated has a word, because meaning must not hang on silence."""


@given(st.lists(expansions, min_size=1, max_size=3))
@example([Sequence((Tagged(NULL, ("two",)), Word("left"), Tagged(NULL, ("one",)))), Repeat(Word("left"), 1)])
@example([Choice((Word("left"), Tagged(Word("left"), ("one",)))), Sequence((Word("left"), Word("right")))])
def test_parts_side_by_side_mean_what_they_mean_as_one_graph(parts):
    try:
        whole = compile_smallest(Choice(tuple(parts)), grammars_for())
    except GrammarError:
        with pytest.raises(GrammarError):
            [Part(part, grammars_for()) for part in parts]
        return
    walked = WalkedGraph([Part(part, grammars_for()) for part in parts])
    for length in range(5):
        for words in itertools.product(("left", "right"), repeat=length):
            assert walked.match(words) == match(whole, words), words


def at(bundle, stage, working):
    """What is listened for where a stage is asked for and nothing was said yet."""
    session = Session(bundle, working=working, going_on=True)
    session._state.side = Side.RIGHT
    session._state.place = stage.id
    return wanted_of(session._visit, session._state, session._wording)


def moments():
    """What is listened for in each phase; where the tool leads and something of it is corrected; commands; and lit.

    Every step of a guided visit is looked at in `test_phrase_book.py`.
    """
    found = {}
    for procedure in bundled_procedures():
        bundle = load_bundle(procedure)
        sections = (section_of(bundle.plan, stage.id) for stage in bundle.plan.stages)
        firsts = {one[0].id: one[0] for one in sections if one}
        for first in firsts.values():
            told = at(bundle, first, Working.NARRATED)
            if told.narration is not None and told.slots:
                leading = at(bundle, first, Working.GUIDED)
                said = Earlier(tuple(slot for slot in told.slots if slot.labels), Narration(told.narration.topics))
                found.update(dict.fromkeys((told, replace(leading, earlier=said, again=leading.slots))))
    commands = frozenset(Control) - {Control.CRY}
    found[Wanted(commands, yes_or_no=True, own_words=frozenset(OwnWords), done=("all done",))] = None
    found[Wanted(frozenset(Control), yes_or_no=True)] = None
    return list(found)


def test_what_is_typed_or_heard_means_what_the_whole_graph_says():
    rng = random.Random(0)
    taken = refused = 0
    for wanted in moments():
        for written in (True, False):
            graph = whole_graph(wanted, written=written)
            for words in tried(graph, rng, SENTENCES):
                found = match(graph, words)
                assert match_said(wanted, words, written=written) == found, words
                taken, refused = taken + (found is not None), refused + (found is None)
    assert min(taken, refused) > 300
