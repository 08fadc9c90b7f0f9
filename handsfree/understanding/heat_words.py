"""Whether something that was heard may be a cry of heat or pain. A false one costs seconds, a missed one skin."""

import re
from functools import lru_cache

from handsfree.model.commands import Control
from handsfree.model.hypotheses import Hypothesis
from handsfree.understanding.acceptance import least_for_cry, probability_right
from handsfree.understanding.graphs import compile_graph
from handsfree.understanding.jsgf import Reference
from handsfree.understanding.listening_graph import grammars_for

CRY_TAG = f"control:{Control.CRY.value}"
"""Tag of a graph that listens for cries."""
_TAGS = frozenset(f"control:{control.value}" for control in (Control.HOT, Control.PAIN, Control.CRY))
_WORD = re.compile(r"[^\W\d_]+")


@lru_cache(maxsize=4)
def words_of_heat(locale: str = "en-US") -> frozenset[str]:
    """The words of heat and pain of a language, from its grammar of cries.

    Raises:
        GrammarError: As `grammars_for`.
    """
    graph = compile_graph(Reference("cries.word"), grammars_for(locale))
    return frozenset(arc.word for arc in graph.arcs if arc.word is not None)


def may_be_cry(hypothesis: Hypothesis, locale: str = "en-US") -> bool:
    """Whether an utterance may be a cry of heat or pain: also at a low score, also where only the free text says it.

    Args:
        hypothesis: What was heard or typed.
        locale: Language of the grammars.
    """
    if hypothesis.tags and hypothesis.tags[0] in _TAGS and probability_right(hypothesis) >= least_for_cry():
        return True
    return not words_of_heat(locale).isdisjoint(_WORD.findall((hypothesis.free_text or "").lower()))
