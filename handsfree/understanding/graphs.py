"""Syntax tree to word graph, and what can be asked of a word graph: match a sentence, draw one at random."""

import gc
import math
import random
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator
from collections.abc import Sequence as AbstractSequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TypeVar

from handsfree.errors import GrammarError
from handsfree.model.graph import Arc, WordGraph
from handsfree.understanding.graph_reduction import smallest, tidy, without_silent_arcs
from handsfree.understanding.jsgf import (
    TOO_DEEP,
    Choice,
    Embedded,
    Expansion,
    Grammars,
    Reference,
    Repeat,
    Sequence,
    Tagged,
    Word,
)

_State = TypeVar("_State", bound=Hashable)
_KEPT_MEANINGS = 3
"""Different meanings followed in each state while matching; one more than is reported."""


@dataclass(frozen=True, slots=True)
class Match:
    """How a sentence went through a graph.

    Attributes:
        tags: Meaning of the likeliest path.
        weight: Its natural-log weight.
        other: Meaning of the likeliest path that means something else, or None: the sentence is then unambiguous.
    """

    tags: tuple[str, ...]
    weight: float
    other: tuple[str, ...] | None = None


class _Compiler:
    """Thompson's construction, rules copied in where they are used.

    Nothing that is laid leads back to the state where it begins, or on from the one where it ends: so parts share them.

    Args:
        grammars: Where references lead.
        weighted: Whether the alternatives of a choice have weights.
    """

    def __init__(self, grammars: Grammars, *, weighted: bool) -> None:
        self._grammars = grammars
        self._weighted = weighted
        self.arcs: list[Arc] = []
        self.count = 0

    def state(self) -> int:
        self.count += 1
        return self.count - 1

    def _link(self, source: int, target: int, tags: tuple[str, ...] = (), weight: float = 0.0) -> None:
        self.arcs.append(Arc(source, target, None, tags, weight))

    def add(self, expansion: Expansion, source: int, target: int, inside: str) -> None:
        """Lay arcs for `expansion` from `source` to `target`."""
        match expansion:
            case Word(text=text):
                self.arcs.append(Arc(source, target, text))
            case Tagged(part=Word(text=text), tags=tags):
                self.arcs.append(Arc(source, target, text, tags))
            case Tagged(part=part, tags=tags):
                middle = self.state()
                self.add(part, source, middle, inside)
                self._link(middle, target, tags)
            case Reference():
                name, rule = self._grammars.resolve(expansion, inside)
                self.add(rule.expansion, source, target, name)
            case Embedded(graph=graph):
                self._add_graph(graph, source, target)
            case Sequence(parts=parts):
                self._add_sequence(parts, source, target, inside)
            case Choice(options=options, weights=weights):
                self._add_choice(options, weights or (1.0,) * len(options), source, target, inside)
            case Repeat():
                self._add_repeat(expansion, source, target, inside)

    def _add_repeat(self, repeat: Repeat, source: int, target: int, inside: str) -> None:
        half = math.log(0.5)
        start, end = self.state(), self.state()
        self._link(source, start, weight=0.0 if repeat.at_least else half)
        if not repeat.at_least:
            self._link(source, target, weight=half)
        self.add(repeat.part, start, end, inside)
        if repeat.between is None:
            self._link(end, start, weight=half)
        else:
            again = self.state()
            self._link(end, again, weight=half)
            self.add(repeat.between, again, start, inside)
        self._link(end, target, weight=half)

    def _add_graph(self, graph: WordGraph, source: int, target: int) -> None:
        first = self.count
        self.count += graph.state_count
        self._link(source, first + graph.start)
        for arc in graph.arcs:
            self.arcs.append(Arc(first + arc.source, first + arc.target, arc.word, arc.tags, arc.weight))
        for final in graph.finals:
            self._link(first + final, target)

    def _add_choice(
        self, options: tuple[Expansion, ...], shares: tuple[float, ...], source: int, target: int, inside: str
    ) -> None:
        if not self._weighted:
            for option in options:
                self.add(option, source, target, inside)
            return
        total = sum(shares)
        for option, share in zip(options, shares, strict=True):
            start = self.state()
            self._link(source, start, weight=math.log(share / total))
            self.add(option, start, target, inside)

    def _add_sequence(self, parts: tuple[Expansion, ...], source: int, target: int, inside: str) -> None:
        if not parts:
            self._link(source, target)
            return
        here = source
        for part in parts[:-1]:
            following = self.state()
            self.add(part, here, following, inside)
            here = following
        self.add(parts[-1], here, target, inside)


def compile_graph(expansion: Expansion, grammars: Grammars, inside: str = "") -> WordGraph:
    """The word graph of an expansion: no arc without a word, no state that leads nowhere, equal states merged.

    Args:
        expansion: What may be said.
        grammars: Where references lead.
        inside: Name of the grammar whose private rules may be used.

    Raises:
        GrammarError: A reference leads nowhere, nothing can be said, or meaning hangs on silence.
    """
    return tidy(without_silent_arcs(laid_out(expansion, grammars, inside, weighted=True)))


def compile_smallest(expansion: Expansion, grammars: Grammars) -> WordGraph:
    """`smallest` of an expansion: as `compile_graph`, for what carries no weights."""
    with _nothing_collected():
        return smallest(laid_out(expansion, grammars, weighted=False))


@contextmanager
def _nothing_collected() -> Iterator[None]:
    """No search for garbage meanwhile: of a hundred thousand tuples none is any, and looking at each takes long."""
    searching = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if searching:
            gc.enable()


def laid_out(expansion: Expansion, grammars: Grammars, inside: str = "", *, weighted: bool) -> WordGraph:
    """An expansion as it is written, silent arcs and all.

    Args:
        expansion: What may be said.
        grammars: Where references lead.
        inside: Name of the grammar whose private rules may be used.
        weighted: Whether alternatives are weighed.

    Raises:
        GrammarError: A reference leads nowhere, or parts lie in each other too deep.
    """
    compiler = _Compiler(grammars, weighted=weighted)
    start, end = compiler.state(), compiler.state()
    try:
        with _nothing_collected():
            compiler.add(expansion, start, end, inside)
    except RecursionError as error:
        raise GrammarError(TOO_DEEP) from error
    return WordGraph(start, frozenset({end}), tuple(compiler.arcs), compiler.count)


def match(graph: WordGraph, words: AbstractSequence[str]) -> Match | None:
    """Send a sentence through a graph.

    Args:
        graph: Without silent arcs, as `compile_graph` makes them.
        words: Lower-case words.

    Returns:
        The likeliest meaning and, where the sentence has another one, that; None if the sentence is not in the graph.
    """
    by_word = graph.by_word

    def leaving(state: int, word: str) -> Iterator[tuple[int, tuple[str, ...], float]]:
        return ((arc.target, arc.tags, arc.weight) for arc in by_word.get((state, word), ()))

    return matched(graph.start, leaving, graph.finals.__contains__, words)


def matched(
    start: _State,
    leaving: Callable[[_State, str], Iterable[tuple[_State, tuple[str, ...], float]]],
    may_end: Callable[[_State], bool],
    words: AbstractSequence[str],
) -> Match | None:
    """As `match`, in whatever states and ways are kept.

    Args:
        start: The first state.
        leaving: Target, tags and weight of the ways by which a state is left with a word.
        may_end: Whether a sentence may end in a state.
        words: Lower-case words.
    """
    front: dict[_State, dict[tuple[str, ...], float]] = {start: {(): 0.0}}
    for word in words:
        following: dict[_State, dict[tuple[str, ...], float]] = defaultdict(dict)
        for state, meanings in front.items():
            for target, more, extra in leaving(state, word):
                reached = following[target]
                for tags, weight in meanings.items():
                    longer, total = tags + more, weight + extra
                    reached[longer] = max(reached.get(longer, -math.inf), total)
        front = {state: _likeliest(meanings) for state, meanings in following.items()}
    ended: dict[tuple[str, ...], float] = {}
    for state, meanings in front.items():
        for tags, weight in meanings.items() if may_end(state) else ():
            ended[tags] = max(ended.get(tags, -math.inf), weight)
    if not words or not ended:
        return None
    ranked = list(_likeliest(ended).items())
    return Match(ranked[0][0], ranked[0][1], ranked[1][0] if len(ranked) > 1 else None)


def _likeliest(meanings: dict[tuple[str, ...], float]) -> dict[tuple[str, ...], float]:
    return dict(sorted(meanings.items(), key=lambda item: (-item[1], item[0]))[:_KEPT_MEANINGS])


def graph_sampler(graph: WordGraph, rng: random.Random, longest: int = 40) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Draw a random sentence, arcs taken by their weights.

    Args:
        graph: Without silent arcs.
        rng: Source of chance.
        longest: Where more than one way is open after this many words, the way to the nearest end is taken.

    Returns:
        The words and their tags.
    """
    to_end: dict[int, int] = {}
    words: list[str] = []
    tags: list[str] = []
    state = graph.start
    while True:
        arcs = graph.leaving.get(state, ())
        may_end = state in graph.finals
        if may_end and (not arcs or len(words) >= longest or rng.random() < 1 / (1 + len(arcs))):
            return tuple(words), tuple(tags)
        if len(words) >= longest:
            to_end = to_end or _steps_to_end(graph)
            nearest = min(to_end[arc.target] for arc in arcs)
            arcs = [arc for arc in arcs if to_end[arc.target] == nearest]
        arc = rng.choices(arcs, [math.exp(arc.weight) for arc in arcs])[0]
        words.append(arc.word or "")
        tags.extend(arc.tags)
        state = arc.target


def _steps_to_end(graph: WordGraph) -> dict[int, int]:
    steps = dict.fromkeys(graph.finals, 0)
    incoming: dict[int, list[int]] = defaultdict(list)
    for arc in graph.arcs:
        incoming[arc.target].append(arc.source)
    front = list(graph.finals)
    while front:
        following: list[int] = []
        for state in front:
            for source in incoming[state]:
                if source not in steps:
                    steps[source] = steps[state] + 1
                    following.append(source)
        front = following
    return steps
