"""Whether something that was heard may be a cry of heat or pain. A false one costs seconds, a missed one skin."""

import re
from functools import lru_cache

from handsfree.model.commands import Control
from handsfree.model.hypotheses import Hypothesis
from handsfree.understanding.acceptance import least_for_cry, least_for_stop, probability_right
from handsfree.understanding.graphs import compile_graph
from handsfree.understanding.jsgf import Reference
from handsfree.understanding.listening_graph import grammars_for

CRY_TAG = f"control:{Control.CRY.value}"
"""Tag of a graph that listens for cries."""
_TAGS = frozenset(f"control:{control.value}" for control in (Control.HOT, Control.PAIN, Control.CRY))
_MORE_WORDS = 2
"""Where so many words more were written down than were matched, and none of heat, a low score is of another sentence.
Set on 3 min of talk of synthetic voices: all false stops were so, and no cry (`scripts/bench_cries.py`)."""
_OVERRULED = 0.5
"""From this probability on the words that were matched count, whatever was written down."""
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
    if not words_of_heat(locale).isdisjoint(_written(hypothesis)):
        return True
    if not hypothesis.tags or hypothesis.tags[0] not in _TAGS:
        return False
    probability = probability_right(hypothesis)
    return probability >= (least_for_stop() if is_another_sentence(hypothesis) else least_for_cry())


def is_another_sentence(hypothesis: Hypothesis) -> bool:
    """Whether more was written down than was matched at a low score: the match is of part of it at best."""
    more = len(_written(hypothesis)) > len(hypothesis.words) + _MORE_WORDS
    return more and probability_right(hypothesis) < _OVERRULED


def _written(hypothesis: Hypothesis) -> list[str]:
    return _WORD.findall((hypothesis.free_text or "").lower())
