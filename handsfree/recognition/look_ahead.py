"""What a word graph still allows after some words, and which of its sentences are stop words."""

from collections import defaultdict
from collections.abc import Sequence
from enum import Enum, auto

from handsfree.model.commands import STOP_CONTROLS, Control
from handsfree.model.graph import Arc, WordGraph
from handsfree.understanding.phrase_book import THE_REST

STOP_TAGS = frozenset(f"control:{control.value}" for control in STOP_CONTROLS | {Control.CRY})
_SLOT, _SIDE = "slot:", "side:"
_NONE: frozenset[str] = frozenset()
_LONGEST_STOP_WORDS = 3
_ADDITIONS = ("unit:", "to", "restate", "ask:")
"""How tags of additions begin."""


class Next(Enum):
    """What may follow."""

    NOTHING = auto()
    ADDITION = auto()
    """Only what is said now and then to what is whole: unit, end of a range, correction, an answer once more."""
    MORE = auto()


class LookAhead:
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
        if not self._following(words):
            return Next.NOTHING
        ways = self._ways(words)
        whole = [answered for (state, _), answered in ways.items() if state in self._graph.finals]
        # "The rest" is what has no answer yet: where all have one it adds nothing.
        answered = frozenset[str]().union(*whole[:1]).intersection(*whole) | {f"{_SLOT}{THE_REST}"}
        additions = all(
            ahead <= answered if ahead else self._adds(arc) or self._begins(arc) <= answered
            for state, ahead in ways
            for arc in self._leaving.get(state, ())
            if arc.word is not None
        )
        return Next.ADDITION if additions else Next.MORE

    def stop_words(self) -> WordGraph | None:
        """The sentences of the graph that are stop words, as a graph of their own; None if there are none.

        One that begins another sentence ("pain", where "pain three" is an answer) is left out, unless that is a stop
        word too ("hot", where "hot in my hand" is one).
        """
        stops = self._stops()
        begun = {words[:length] for words, _ in stops for length in range(1, len(words) + 1)}
        arcs: list[Arc] = []
        count = 2
        for words, tag in sorted(stops):
            if any((*words, arc.word) not in begun and not self._only_stops(arc) for arc in self._following(words)):
                continue
            state = 0
            for word in words[:-1]:
                arcs.append(Arc(state, count, word))
                state, count = count, count + 1
            arcs.append(Arc(state, 1, words[-1], (tag,)))
        return WordGraph(0, frozenset({1}), tuple(arcs), count) if arcs else None

    def _only_stops(self, arc: Arc) -> bool:
        """Whether everything that goes on with an arc is a stop word."""
        pending, seen = [arc], {arc.target}
        while pending:
            here = pending.pop()
            if not STOP_TAGS.issuperset(here.tags):
                return False
            further = self._leaving.get(here.target, ())
            pending += [one for one in further if one.target not in seen]
            seen |= {one.target for one in further}
            if not all(STOP_TAGS.issuperset(one.tags) for one in further):
                return False
        return True

    def _ways(self, words: Sequence[str]) -> dict[tuple[int, frozenset[str]], frozenset[str]]:
        """All ways to say the words: where each stands, what it is about to answer, and what it has answered."""
        ways = {(state, _NONE): _NONE for state in self._silently({self._graph.start})}
        for word in words:
            further: dict[tuple[int, frozenset[str]], frozenset[str]] = {}
            for (state, ahead), answered in ways.items():
                for arc in self._leaving.get(state, ()):
                    if arc.word == word:
                        own, next_ahead = _slots(arc)
                        now = answered | ahead | own
                        for target in self._silently({arc.target}):
                            place = target, next_ahead
                            further[place] = further[place] & now if place in further else now
            ways = further
        return ways

    def _begins(self, arc: Arc) -> frozenset[str]:
        """What the arc begins to answer; what is no answer stands for itself, which is no slot."""
        found: set[str] = set()
        seen: set[int] = set()
        pending = [arc]
        while pending:
            here = pending.pop()
            own, _ = _slots(here)
            found |= own
            if own:
                continue
            sided = bool(here.tags) and all(tag.startswith(_SIDE) for tag in here.tags)
            # A side may be named after an answer too; anything else without a slot goes on with what was said.
            if not sided and (here.tags or here.target in self._graph.finals):
                return frozenset({""})
            if here.target not in seen:
                seen.add(here.target)
                pending += self._from(self._silently({here.target}))
        return frozenset(found)

    def _following(self, words: Sequence[str]) -> list[Arc]:
        here = self._silently({self._graph.start})
        for word in words:
            here = self._silently({arc.target for arc in self._from(here) if arc.word == word})
        # From any state, not from final ones alone: a repeated part goes on from a state that is not final itself.
        return [arc for arc in self._from(here) if arc.word is not None]

    def _stops(self) -> set[tuple[tuple[str, ...], str]]:
        found: set[tuple[tuple[str, ...], str]] = set()
        paths: list[tuple[int, tuple[str, ...], tuple[str, ...]]] = [(self._graph.start, (), ())]
        met_before = set(paths)
        for state, words, tags in paths:  # grows while it is walked
            if words and state in self._graph.finals and len(tags) == 1:
                found.add((words, tags[0]))
            for arc in self._leaving.get(state, ()):
                longer = words if arc.word is None else (*words, arc.word)
                met = tags + arc.tags
                further = arc.target, longer, met
                fits = len(longer) <= _LONGEST_STOP_WORDS and STOP_TAGS.issuperset(met) and len(met) <= 1
                if fits and further not in met_before:
                    met_before.add(further)
                    paths.append(further)
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


def _slots(arc: Arc) -> tuple[frozenset[str], frozenset[str]]:
    """Slots that the words up to this one name, and those that come after its value: the next words are about them."""
    before = 0
    while before < len(arc.tags) and arc.tags[before].startswith((_SLOT, _SIDE)):
        before += 1
    parts = arc.tags[:before], arc.tags[before:]
    own, ahead = (frozenset(tag for tag in part if tag.startswith(_SLOT)) for part in parts)
    return own, ahead
