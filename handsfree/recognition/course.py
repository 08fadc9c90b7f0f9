"""What a word graph still allows after some words, and which of its sentences are stop words."""

from collections import defaultdict
from collections.abc import Sequence
from enum import Enum, auto

from handsfree.model.commands import STOP_CONTROLS
from handsfree.model.graph import Arc, WordGraph

STOP_TAGS = frozenset(f"control:{control.value}" for control in STOP_CONTROLS)
_LONGEST_STOP_WORDS = 4
_ADDITIONS = ("unit:", "to", "restate", "ask:")
"""How tags of additions begin."""


class Next(Enum):
    """What may follow."""

    NOTHING = auto()
    ADDITION = auto()
    """Only what is said to a whole number now and then: a unit, the end of a range, a correction."""
    MORE = auto()


class Course:
    """A graph, laid out so that it can be walked.

    Args:
        graph: What may be said.
    """

    def __init__(self, graph: WordGraph) -> None:
        self._graph = graph
        self._leaving: dict[int, list[Arc]] = defaultdict(list)
        for arc in graph.arcs:
            self._leaving[arc.source].append(arc)

    def after(self, words: Sequence[str]) -> Next:
        """What may be said after these words."""
        following = self._following(words)
        if not following:
            return Next.NOTHING
        return Next.ADDITION if all(self._adds(arc) for arc in following) else Next.MORE

    def stop_words(self) -> WordGraph | None:
        """The sentences of the graph that are stop words, as a graph of their own; None if there are none.

        One that begins another sentence ("pain", where "pain three" is an answer) is left out.
        """
        stops = self._stops()
        begun = {words[:length] for words, _ in stops for length in range(1, len(words) + 1)}
        arcs: list[Arc] = []
        count = 2
        for words, tag in sorted(stops):
            if not begun.issuperset((*words, arc.word) for arc in self._following(words)):
                continue
            state = 0
            for word in words[:-1]:
                arcs.append(Arc(state, count, word))
                state, count = count, count + 1
            arcs.append(Arc(state, 1, words[-1], (tag,)))
        return WordGraph(0, frozenset({1}), tuple(arcs), count) if arcs else None

    def _following(self, words: Sequence[str]) -> list[Arc]:
        here = self._silently({self._graph.start})
        for word in words:
            here = self._silently({arc.target for arc in self._from(here) if arc.word == word})
        # From any state, not from final ones alone: a repeated part goes on from a state that is not final itself.
        return [arc for arc in self._from(here) if arc.word is not None]

    def _stops(self) -> set[tuple[tuple[str, ...], str]]:
        found: set[tuple[tuple[str, ...], str]] = set()
        paths: list[tuple[int, tuple[str, ...], tuple[str, ...]]] = [(self._graph.start, (), ())]
        for state, words, tags in paths:  # grows while it is walked
            if words and state in self._graph.finals and len(tags) == 1:
                found.add((words, tags[0]))
            for arc in self._leaving.get(state, ()):
                longer = words if arc.word is None else (*words, arc.word)
                met = tags + arc.tags
                if len(longer) <= _LONGEST_STOP_WORDS and STOP_TAGS.issuperset(met) and len(met) <= 1:
                    paths.append((arc.target, longer, met))
        return found

    def _adds(self, arc: Arc) -> bool:
        if arc.tags:
            return arc.tags[0].startswith(_ADDITIONS)
        # "That is": the tag is on the last word.
        then = [further for further in self._from(self._silently({arc.target})) if further.word is not None]
        return bool(then) and all(further.tags and further.tags[0].startswith(_ADDITIONS) for further in then)

    def _from(self, states: set[int]) -> list[Arc]:
        return [arc for state in states for arc in self._leaving.get(state, ())]

    def _silently(self, states: set[int]) -> set[int]:
        """The states and all that are reached from them without a word."""
        reached = set(states)
        pending = list(states)
        while pending:
            for arc in self._leaving.get(pending.pop(), ()):
                if arc.word is None and arc.target not in reached:
                    reached.add(arc.target)
                    pending.append(arc.target)
        return reached
