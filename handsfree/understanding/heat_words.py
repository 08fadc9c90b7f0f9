"""Whether something that was heard may be a cry of heat or pain. A false one costs seconds, a missed one skin."""

import re
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

from handsfree.model.commands import STOP_CONTROLS, Command, Control, ControlCommand, Wanted
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.understanding.acceptance import (
    DecisionOutcome,
    bears_out_cry,
    decide,
    least_for_cry,
    least_for_stop,
    least_heat,
    probability_right,
)
from handsfree.understanding.bundled_grammars import grammars_for
from handsfree.understanding.graphs import compile_graph, match
from handsfree.understanding.jsgf import Reference
from handsfree.understanding.listening_graph import ASIDE, graph_for

CRY_TAG = f"control:{Control.CRY.value}"
"""Tag of a graph that listens for cries."""
_TAGS = frozenset(f"control:{control.value}" for control in (Control.HOT, Control.PAIN, Control.CRY))
_SURE_ASIDE = 0.3
"""Below this probability such a word does not keep a cry that sounds like it from being one."""
_MORE_WORDS = 2
"""Where so many words more were written down than were matched, and none of heat, a low score is of another sentence.
Set on 3 min of talk of synthetic voices: all false stops were so, and no cry (`scripts/bench_cries.py`)."""
_OVERRULED = 0.5
"""From this probability on the words that were matched count, whatever was written down."""
_PHRASE_LENGTHS = range(2, 4)
"""Words of a phrase in the grammar of cries."""
_WORD = re.compile(r"[^\W\d_]+")


@lru_cache(maxsize=4)
def words_of_heat(locale: str = "en-US") -> frozenset[str]:
    """The words of heat and pain of a language, from its grammar of cries.

    Raises:
        GrammarError: As `grammars_for`.
    """
    return _words("word", locale)


@lru_cache(maxsize=4)
def watched_words(locale: str = "en-US") -> WordGraph:
    """The words of heat and pain that an engine looks out for, one a sentence.

    Raises:
        GrammarError: As `grammars_for`.
    """
    return compile_graph(Reference("cries.sensation"), grammars_for(locale))


def may_be_cry(hypothesis: Hypothesis, locale: str = "en-US") -> bool:
    """Whether an utterance may be a cry of heat or pain: also at a low score, also where only the free text says it.

    Where an engine looked out for words of heat in the text, one that another word was written for is enough, and
    sentences that are listened for count less without a trace of one.

    Args:
        hypothesis: What was heard or typed.
        locale: Language of the grammars.
    """
    written = _written(hypothesis)
    if not _ending_words(locale).isdisjoint(written) or _holds_phrase(written, locale):
        return True
    probability = probability_right(hypothesis)
    in_doubt = probability < _SURE_ASIDE and _is_aside(hypothesis) and not is_another_sentence(hypothesis)
    if in_doubt and _means_heat(hypothesis.runner_up or (), locale):
        return True
    matched = bool(hypothesis.tags) and hypothesis.tags[0] in _TAGS
    if probability >= _OVERRULED or hypothesis.heat is None:
        return matched and probability >= (least_for_stop() if is_another_sentence(hypothesis) else least_for_cry())
    if hypothesis.heat >= least_heat():
        return True
    return matched and bears_out_cry(probability, hypothesis.heat, whole=not is_another_sentence(hypothesis))


def means_stop(hypothesis: Hypothesis, command: Command | None, wanted: Wanted, locale: str = "en-US") -> bool:
    """Whether it is a stop word where cries count, which says more than one.

    Words of heat that were matched in doubt, with none written down or made out anywhere, are asked about.

    Args:
        hypothesis: What was heard or typed.
        command: Its meaning, from `interpret`.
        wanted: What is legal now.
        locale: Language of the grammars.
    """
    if not isinstance(command, ControlCommand) or command.control not in STOP_CONTROLS:
        return False
    if command.control in {Control.HOT, Control.PAIN} and not _says_heat(hypothesis, locale):
        return False
    return decide(hypothesis, command, wanted).outcome is not DecisionOutcome.IGNORE


def as_written_down(hypothesis: Hypothesis) -> Hypothesis:
    """A cry as it is kept: the words that were written down, and beside them those that made it one."""
    if not hypothesis.free_text:
        return hypothesis
    of_rival = (hypothesis.heat or 0.0) >= least_heat() or _is_aside(hypothesis)
    made_out = hypothesis.runner_up if of_rival else hypothesis.words or None
    return replace(hypothesis, words=tuple(hypothesis.free_text.split()), tags=(), runner_up=made_out)


def stands_as_cry(hypothesis: Hypothesis, locale: str = "en-US") -> bool:
    """Whether what was kept of a cry may be one; see `as_written_down`.

    Args:
        hypothesis: As a record holds it.
        locale: Language of the grammars.
    """
    if may_be_cry(replace(hypothesis, free_text=hypothesis.text), locale):
        return True
    beside = hypothesis.runner_up or ()
    if not words_of_heat(locale).isdisjoint(beside):
        return True
    return _means_heat(beside, locale)


def is_another_sentence(hypothesis: Hypothesis) -> bool:
    """Whether more was written down than was matched at a low score: the match is of part of it at best."""
    more = len(_written(hypothesis)) > len(hypothesis.words) + _MORE_WORDS
    return more and probability_right(hypothesis) < _OVERRULED


def _is_aside(hypothesis: Hypothesis) -> bool:
    return hypothesis.tags[:1] == (ASIDE,)


def _means_heat(words: Sequence[str], locale: str) -> bool:
    found = match(graph_for(Wanted(frozenset({Control.CRY})), locale), words)
    return found is not None and found.tags[0] in _TAGS


def _says_heat(hypothesis: Hypothesis, locale: str) -> bool:
    if is_another_sentence(hypothesis):
        return False
    if hypothesis.heat is None or probability_right(hypothesis) >= _OVERRULED:
        return True
    return hypothesis.heat >= least_heat() or not words_of_heat(locale).isdisjoint(_written(hypothesis))


@lru_cache(maxsize=4)
def _ending_words(locale: str) -> frozenset[str]:
    return words_of_heat(locale) | _words("halt", locale)


def _holds_phrase(written: Sequence[str], locale: str) -> bool:
    """Whether several words that count together stand in the text, one after the other."""
    graph = _phrases(locale)
    starts = range(len(written))
    return any(match(graph, written[start : start + length]) for start in starts for length in _PHRASE_LENGTHS)


@lru_cache(maxsize=4)
def _phrases(locale: str) -> WordGraph:
    return compile_graph(Reference("cries.phrase"), grammars_for(locale))


def _words(rule: str, locale: str) -> frozenset[str]:
    graph = compile_graph(Reference(f"cries.{rule}"), grammars_for(locale))
    return frozenset(arc.word for arc in graph.arcs if arc.word is not None)


def _written(hypothesis: Hypothesis) -> list[str]:
    return _WORD.findall((hypothesis.free_text or "").lower())
