"""Syntax tree to word graph, and what can be asked of a word graph: match a sentence, draw one at random."""

import math
import random
from collections import defaultdict
from collections.abc import Sequence as AbstractSequence
from dataclasses import dataclass

from handsfree.errors import GrammarError
from handsfree.model.graph import Arc, WordGraph
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

_KEPT_MEANINGS = 3
"""Different meanings followed in each state while matching; one more than is reported."""
_MOST_SILENT_TAGS = 32
"""Tags between two words; more can only come from going round in silence."""


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
    """Thompson's construction, rules copied in where they are used."""

    def __init__(self, grammars: Grammars) -> None:
        self._grammars = grammars
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
        self._link(end, start, weight=half)
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
        for option, share in zip(options, shares, strict=True):
            start, end = self.state(), self.state()
            self._link(source, start, weight=math.log(share / sum(shares)))
            self.add(option, start, end, inside)
            self._link(end, target)

    def _add_sequence(self, parts: tuple[Expansion, ...], source: int, target: int, inside: str) -> None:
        here = source
        for part in parts:
            following = self.state()
            self.add(part, here, following, inside)
            here = following
        self._link(here, target)


def compile_graph(expansion: Expansion, grammars: Grammars, inside: str = "") -> WordGraph:
    """The word graph of an expansion: no arc without a word, no state that leads nowhere, equal states merged.

    Args:
        expansion: What may be said.
        grammars: Where references lead.
        inside: Name of the grammar whose private rules may be used.

    Raises:
        GrammarError: A reference leads nowhere, nothing can be said, or meaning hangs on silence.
    """
    compiler = _Compiler(grammars)
    start, end = compiler.state(), compiler.state()
    try:
        compiler.add(expansion, start, end, inside)
    except RecursionError as error:
        raise GrammarError(TOO_DEEP) from error
    return tidy(without_silent_arcs(WordGraph(start, frozenset({end}), tuple(compiler.arcs), compiler.count)))


def _outgoing(graph: WordGraph) -> dict[int, list[Arc]]:
    table: dict[int, list[Arc]] = defaultdict(list)
    for arc in graph.arcs:
        table[arc.source].append(arc)
    return table


def _silent_reach(state: int, outgoing: dict[int, list[Arc]]) -> list[tuple[int, tuple[str, ...], float]]:
    """States reached without a word, with the tags met and the best weight."""
    best: dict[tuple[int, tuple[str, ...]], float] = {}
    pending: list[tuple[int, tuple[str, ...], float]] = [(state, (), 0.0)]
    while pending:
        here, tags, weight = pending.pop()
        if best.get((here, tags), -math.inf) >= weight:
            continue
        best[here, tags] = weight
        if len(tags) > _MOST_SILENT_TAGS:
            raise GrammarError("a repeated part can be said with no word and yet means something (give it a word)")
        pending.extend(
            (arc.target, tags + arc.tags, weight + arc.weight) for arc in outgoing.get(here, ()) if arc.word is None
        )
    return [(here, tags, weight) for (here, tags), weight in best.items()]


def without_silent_arcs(graph: WordGraph) -> WordGraph:
    """The same sentences and meanings without arcs that carry no word.

    Tags on silent arcs move to the word before them, or to the first word where none comes before.

    Raises:
        GrammarError: The empty sentence is allowed, or meaning hangs on silence.
    """
    outgoing = _outgoing(graph)
    stops = set(graph.finals) | {arc.source for arc in graph.arcs if arc.word is not None}
    reach = {
        state: [found for found in _silent_reach(state, outgoing) if found[0] in stops]
        for state in {arc.target for arc in graph.arcs if arc.word is not None}
    }
    best: dict[tuple[int, int, str, tuple[str, ...]], float] = {}

    def keep(source: int, arc: Arc, before: tuple[str, ...], weight: float) -> None:
        if arc.word is None:
            return
        for target, after, more in reach[arc.target]:
            key = (source, target, arc.word, before + arc.tags + after)
            best[key] = max(best.get(key, -math.inf), weight + arc.weight + more)

    for arc in graph.arcs:
        keep(arc.source, arc, (), 0.0)
    start = graph.state_count
    for state, tags, weight in _silent_reach(graph.start, outgoing):
        if state in graph.finals:
            raise GrammarError("the grammar allows that nothing at all is said (at least one word must be required)")
        for arc in outgoing.get(state, ()):
            keep(start, arc, tags, weight)
    arcs = tuple(Arc(source, target, word, tags, min(0.0, w)) for (source, target, word, tags), w in best.items())
    return WordGraph(start, graph.finals, arcs, graph.state_count + 1)


def tidy(graph: WordGraph) -> WordGraph:
    """Drops states that no sentence passes and merges states with the same future; renumbers from the start.

    Raises:
        GrammarError: No sentence is left.
    """
    outgoing = _outgoing(graph)
    incoming: dict[int, list[int]] = defaultdict(list)
    for arc in graph.arcs:
        incoming[arc.target].append(arc.source)
    forward = _reachable({graph.start}, {state: [arc.target for arc in arcs] for state, arcs in outgoing.items()})
    useful = forward & _reachable(set(graph.finals), incoming)
    if graph.start not in useful:
        raise GrammarError("nothing can be said with this grammar (every way ends in <VOID>)")
    labels: dict[tuple[str | None, tuple[str, ...], float], int] = {}
    ways: dict[int, list[tuple[int, int]]] = {state: [] for state in useful}
    for arc in graph.arcs:
        if arc.source in useful and arc.target in useful:
            label = labels.setdefault((arc.word, arc.tags, round(arc.weight, 9)), len(labels))
            ways[arc.source].append((label, arc.target))
    group = _same_future(ways, graph.finals)
    order: dict[int, int] = {group[graph.start]: 0}
    for state in sorted(useful):
        order.setdefault(group[state], len(order))
    number = {state: order[group[state]] for state in useful}
    arcs = {
        (number[arc.source], number[arc.target], arc.word or "", arc.tags, arc.weight)
        for arc in graph.arcs
        if arc.source in useful and arc.target in useful
    }
    merged = tuple(Arc(source, target, word, tags, weight) for source, target, word, tags, weight in sorted(arcs))
    finals = frozenset(number[state] for state in graph.finals if state in useful)
    return WordGraph(0, finals, merged, len(order))


def _same_future(ways: dict[int, list[tuple[int, int]]], finals: frozenset[int]) -> dict[int, int]:
    """The states in groups that nothing said can tell apart: the coarsest ones, as Hopcroft and Paige-Tarjan find them.

    Of a group that falls apart the largest part keeps its number, so that only states before the smaller parts are
    looked at again.

    Args:
        ways: Label and target of each arc of each state.
        finals: States at which a sentence may end.
    """
    before: dict[int, set[int]] = defaultdict(set)
    for state, arcs in ways.items():
        for _, target in arcs:
            before[target].add(state)
    group = {state: int(state in finals) for state in ways}
    members: dict[int, set[int]] = defaultdict(set)
    for state, number in group.items():
        members[number].add(state)
    unused = 2
    touched = set(ways)
    while touched:
        parts: dict[tuple[int, frozenset[tuple[int, int]]], set[int]] = defaultdict(set)
        for state in touched:
            parts[group[state], frozenset((label, group[target]) for label, target in ways[state])].add(state)
        of_group: dict[int, list[set[int]]] = defaultdict(list)
        for (number, _), part in parts.items():
            of_group[number].append(part)
        changed: list[int] = []
        for number, found in of_group.items():
            # Those not touched have none of the new groups behind them: they differ from each touched one.
            rest = members[number].difference(*found)
            largest = max(rest, *found, key=len)
            members[number] = largest
            for part in (rest, *found):
                if part and part is not largest:
                    members[unused] = part
                    group.update(dict.fromkeys(part, unused))
                    changed += part
                    unused += 1
        touched = {state for target in changed for state in before[target]}
    return group


def smallest(graph: WordGraph) -> WordGraph:
    """The same sentences and meanings with as few states as can be; each word that may come next is as likely.

    Args:
        graph: Without silent arcs. Its weights are given up, so it is for grammars that carry none.
    """
    outgoing = _outgoing(graph)
    numbers: dict[frozenset[int], int] = {frozenset({graph.start}): 0}
    pending = list(numbers)
    arcs: list[Arc] = []
    finals: set[int] = set()
    while pending:
        states = pending.pop()
        may_end = not graph.finals.isdisjoint(states)
        if may_end:
            finals.add(numbers[states])
        targets: dict[tuple[str, tuple[str, ...]], set[int]] = defaultdict(set)
        for state in states:
            for arc in outgoing.get(state, ()):
                targets[arc.word or "", arc.tags].add(arc.target)
        weight = -math.log(len(targets) + may_end) if targets else 0.0
        for (word, tags), reached in targets.items():
            key = frozenset(reached)
            if key not in numbers:
                numbers[key] = len(numbers)
                pending.append(key)
            arcs.append(Arc(numbers[states], numbers[key], word, tags, weight))
    return tidy(WordGraph(0, frozenset(finals), tuple(arcs), len(numbers)))


def _reachable(seeds: set[int], edges: dict[int, list[int]]) -> set[int]:
    found = set(seeds)
    pending = list(seeds)
    while pending:
        for target in edges.get(pending.pop(), ()):
            if target not in found:
                found.add(target)
                pending.append(target)
    return found


def match(graph: WordGraph, words: AbstractSequence[str]) -> Match | None:
    """Send a sentence through a graph.

    Args:
        graph: Without silent arcs, as `compile_graph` makes them.
        words: Lower-case words.

    Returns:
        The likeliest meaning and, where the sentence has another one, that; None if the sentence is not in the graph.
    """
    by_word: dict[tuple[int, str], list[Arc]] = defaultdict(list)
    for arc in graph.arcs:
        if arc.word is not None:
            by_word[arc.source, arc.word].append(arc)
    front: dict[int, dict[tuple[str, ...], float]] = {graph.start: {(): 0.0}}
    for word in words:
        following: dict[int, dict[tuple[str, ...], float]] = defaultdict(dict)
        for state, meanings in front.items():
            for arc in by_word.get((state, word), ()):
                for tags, weight in meanings.items():
                    longer, total = tags + arc.tags, weight + arc.weight
                    reached = following[arc.target]
                    reached[longer] = max(reached.get(longer, -math.inf), total)
        front = {state: _likeliest(meanings) for state, meanings in following.items()}
    ended: dict[tuple[str, ...], float] = {}
    for state in graph.finals & front.keys():
        for tags, weight in front[state].items():
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
    outgoing = _outgoing(graph)
    to_end = _steps_to_end(graph)
    words: list[str] = []
    tags: list[str] = []
    state = graph.start
    while True:
        arcs = outgoing.get(state, [])
        may_end = state in graph.finals
        if may_end and (not arcs or len(words) >= longest or rng.random() < 1 / (1 + len(arcs))):
            return tuple(words), tuple(tags)
        if len(words) >= longest:
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
