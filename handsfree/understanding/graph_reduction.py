"""Word graphs made smaller: no silent arcs, no state that leads nowhere, states with the same future merged."""

import math
from collections import defaultdict

from handsfree.errors import GrammarError
from handsfree.model.graph import Arc, WordGraph

_MOST_SILENT_TAGS = 32
"""Tags between two words; more can only come from going round in silence."""
_SILENCE = "the grammar allows that nothing at all is said (at least one word must be required)"
_NOTHING = "nothing can be said with this grammar (every way ends in <VOID>)"


Label = tuple[str, tuple[str, ...]]
"""A word, and what it means where it is said."""


def _silent_reach(state: int, silent: dict[int, list[Arc]]) -> list[tuple[int, tuple[str, ...], float]]:
    """States reached without a word, with the tags met and the best weight.

    Args:
        state: Where it begins.
        silent: The arcs without a word by the state left.
    """
    if state not in silent:
        return [(state, (), 0.0)]
    best: dict[tuple[int, tuple[str, ...]], float] = {}
    pending: list[tuple[int, tuple[str, ...], float]] = [(state, (), 0.0)]
    while pending:
        here, tags, weight = pending.pop()
        if best.get((here, tags), -math.inf) >= weight:
            continue
        best[here, tags] = weight
        if len(tags) > _MOST_SILENT_TAGS:
            raise GrammarError("a repeated part can be said with no word and yet means something (give it a word)")
        pending += [(target, tags + more, weight + extra) for _, target, _, more, extra in silent.get(here, ())]
    return [(here, tags, weight) for (here, tags), weight in best.items()]


def without_silent_arcs(graph: WordGraph) -> WordGraph:
    """The same sentences and meanings without arcs that carry no word.

    Tags on silent arcs move to the word before them, or to the first word where none comes before.

    Raises:
        GrammarError: The empty sentence is allowed, or meaning hangs on silence.
    """
    spoken = [arc for arc in graph.arcs if arc.word is not None]
    silent: dict[int, list[Arc]] = defaultdict(list)
    for arc in graph.arcs:
        if arc.word is None:
            silent[arc.source].append(arc)
    stops = set(graph.finals) | {arc.source for arc in spoken}
    reach = {
        state: [found for found in _silent_reach(state, silent) if found[0] in stops]
        for state in {arc.target for arc in spoken}
    }
    best: dict[tuple[int, int, str | None, tuple[str, ...]], float] = {}
    for source, through, word, tags, weight in spoken:
        for target, after, more in reach[through]:
            key = (source, target, word, tags + after)
            total = weight + more
            if best.get(key, -math.inf) < total:
                best[key] = total
    start = graph.state_count
    for state, before, lead in _silent_reach(graph.start, silent):
        if state in graph.finals:
            raise GrammarError(_SILENCE)
        for _, through, word, tags, weight in graph.leaving.get(state, ()):
            if word is None:
                continue
            for target, after, more in reach[through]:
                key = (start, target, word, before + tags + after)
                best[key] = max(best.get(key, -math.inf), lead + weight + more)
    arcs = tuple(Arc(*key, min(0.0, weight)) for key, weight in best.items())
    return WordGraph(start, graph.finals, arcs, graph.state_count + 1)


def tidy(graph: WordGraph) -> WordGraph:
    """Drops states that no sentence passes and merges states with the same future; renumbers from the start.

    Raises:
        GrammarError: No sentence is left.
    """
    outgoing: dict[int, list[int]] = defaultdict(list)
    incoming: dict[int, list[int]] = defaultdict(list)
    for source, target, _, _, _ in graph.arcs:
        outgoing[source].append(target)
        incoming[target].append(source)
    useful = _reachable({graph.start}, outgoing) & _reachable(set(graph.finals), incoming)
    if graph.start not in useful:
        raise GrammarError(_NOTHING)
    kept = graph.arcs
    if len(useful) < graph.state_count:
        kept = tuple(arc for arc in kept if arc[0] in useful and arc[1] in useful)
    labels: dict[tuple[str | None, tuple[str, ...], float], int] = {}
    ways: dict[int, list[tuple[int, int]]] = {state: [] for state in useful}
    for source, target, word, tags, weight in kept:
        ways[source].append((labels.setdefault((word, tags, round(weight, 9)), len(labels)), target))
    group = _same_future(ways, graph.finals)
    order: dict[int, int] = {group[graph.start]: 0}
    for state in sorted(useful):
        order.setdefault(group[state], len(order))
    number = {state: order[group[state]] for state in useful}
    arcs = {(number[source], number[target], word or "", tags, weight) for source, target, word, tags, weight in kept}
    finals = frozenset(number[state] for state in graph.finals if state in useful)
    return WordGraph(0, finals, tuple(map(Arc._make, sorted(arcs))), len(order))


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
    # Each part but the largest takes a new number, so that there are never more of them than states and those two.
    most = len(ways) + 2
    touched = set(ways)
    while touched:
        parts: dict[tuple[int, frozenset[int]], set[int]] = defaultdict(set)
        for state in touched:
            future = frozenset([label * most + group[target] for label, target in ways[state]])
            parts[group[state], future].add(state)
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

    Tags on silent arcs move as `without_silent_arcs` moves them.

    Args:
        graph: Its weights are given up, so it is for grammars that carry none.

    Raises:
        GrammarError: The empty sentence is allowed, nothing can be said, or meaning hangs on silence.
    """
    heard = Hearable(graph)
    heard.look_everywhere()
    numbers: dict[frozenset[int], int] = {}
    pending: list[frozenset[int]] = []
    labels: dict[Label, int] = {}
    ways: dict[int, list[tuple[int, int]]] = {}
    finals: set[int] = set()

    def lay(state: int, following: dict[Label, list[frozenset[int]]]) -> None:
        ways[state] = []
        for label, parts in sorted(following.items()):
            key = parts[0] if len(parts) == 1 else frozenset().union(*parts)
            if key not in numbers:
                numbers[key] = len(numbers) + 1
                pending.append(key)
            ways[state].append((labels.setdefault(label, len(labels)), numbers[key]))

    lay(0, heard.first())
    while pending:
        states = pending.pop()
        if not heard.ends.isdisjoint(states):
            finals.add(numbers[states])
        lay(numbers[states], heard.after(states))
    return _merged(ways, frozenset(finals), list(labels))


class _Silence:
    """Which states can be reached without a word, and with which meaning; each part of the way is gone once.

    Args:
        silent: The arcs without a word by the state left.
        stops: The states that count: those from which a word leads on, or at which a sentence may end.
    """

    def __init__(self, silent: dict[int, list[Arc]], stops: set[int]) -> None:
        self._silent = silent
        self._stops = stops
        self._found: dict[int, dict[tuple[str, ...], frozenset[int]]] = {}

    def reached(self, start: int) -> dict[tuple[str, ...], frozenset[int]]:
        """The states that count by the tags met on the way.

        Raises:
            GrammarError: Meaning hangs on silence.
        """
        found, pending, on_the_way = self._found, [start], set[int]()
        while pending:
            state = pending[-1]
            if state in found:
                pending.pop()
                continue
            targets = [arc.target for arc in self._silent.get(state, ())]
            missing = [target for target in targets if target not in found]
            on_the_way.add(state)
            if not missing:
                found[state] = self._put_together(state)
                pending.pop()
            elif any(target in on_the_way for target in missing):
                found[state] = self._gone(state)  # round in silence
                pending.pop()
            else:
                pending += missing
        return found[start]

    def _put_together(self, state: int) -> dict[tuple[str, ...], frozenset[int]]:
        """From what is known of the states behind."""
        arcs = self._silent.get(state, ())
        if len(arcs) == 1 and not arcs[0].tags and state not in self._stops:
            return self._found[arcs[0].target]
        parts: dict[tuple[str, ...], list[frozenset[int]]] = defaultdict(list)
        if state in self._stops:
            parts[()].append(frozenset({state}))
        for _, target, _, tags, _ in arcs:
            for more, states in self._found[target].items():
                parts[tags + more].append(states)
        return {tags: many[0].union(*many[1:]) for tags, many in parts.items()}

    def _gone(self, state: int) -> dict[tuple[str, ...], frozenset[int]]:
        """By going every way."""
        by_tags: dict[tuple[str, ...], set[int]] = defaultdict(set)
        for reached, tags, _ in _silent_reach(state, self._silent):
            if reached in self._stops:
                by_tags[tags].add(reached)
        return {tags: frozenset(states) for tags, states in by_tags.items()}


class Hearable:
    """What may be heard next in a graph with silent arcs; of each part looked at, what is found is kept.

    Args:
        graph: Its weights play no part.

    Raises:
        GrammarError: The empty sentence is allowed, nothing can be said, or meaning hangs on silence.
    """

    def __init__(self, graph: WordGraph) -> None:
        incoming: dict[int, list[int]] = defaultdict(list)
        for source, target, _, _, _ in graph.arcs:
            incoming[target].append(source)
        useful = _reachable(set(graph.finals), incoming)
        if graph.start not in useful:
            raise GrammarError(_NOTHING)
        silent: dict[int, list[Arc]] = defaultdict(list)
        self._spoken: dict[int, list[Arc]] = defaultdict(list)
        for arc in graph.arcs:
            (silent if arc.word is None else self._spoken)[arc.source].append(arc)
        self._starts = [(state, tags) for state, tags, _ in _silent_reach(graph.start, silent)]
        if any(state in graph.finals for state, _ in self._starts):
            raise GrammarError(_SILENCE)
        stops = useful & (graph.finals | self._spoken.keys())
        self.ends = graph.finals
        self._silence = _Silence(silent, stops)
        self._reach: dict[int, tuple[tuple[tuple[str, ...], frozenset[int]], ...]] = {}

    def look_everywhere(self) -> None:
        """Go every silent way, also those that no word leads to.

        Raises:
            GrammarError: Meaning hangs on silence.
        """
        for through in {arc.target for arcs in self._spoken.values() for arc in arcs}:
            self._behind(through)

    def first(self) -> dict[Label, list[frozenset[int]]]:
        """The first words of a sentence, each with the states that it leads to."""
        return self._following(self._starts)

    def after(self, states: frozenset[int]) -> dict[Label, list[frozenset[int]]]:
        """The words that may follow in any of some states, each with the states that it leads to."""
        return self._following([(state, ()) for state in states])

    def _following(self, states: list[tuple[int, tuple[str, ...]]]) -> dict[Label, list[frozenset[int]]]:
        found: dict[Label, list[frozenset[int]]] = defaultdict(list)
        reach = self._reach
        for state, before in states:
            for _, through, word, tags, _ in self._spoken.get(state, ()):
                for after, reached in reach[through] if through in reach else self._behind(through):
                    found[word or "", before + tags + after].append(reached)
        return found

    def _behind(self, through: int) -> tuple[tuple[tuple[str, ...], frozenset[int]], ...]:
        """The tags met in silence from a state on, each with the states that they lead to."""
        found = self._reach[through] = tuple(self._silence.reached(through).items())
        return found


def _merged(ways: dict[int, list[tuple[int, int]]], finals: frozenset[int], labels: list[Label]) -> WordGraph:
    """A graph with states of the same future merged, where no state has two ways with one label.

    Args:
        ways: Label and target of each arc of each state, from state 0 on.
        finals: States at which a sentence may end.
        labels: What the numbers of labels stand for.
    """
    group = _same_future(ways, finals)
    first: dict[int, int] = {}
    for state in sorted(ways):
        first.setdefault(group[state], state)
    number = {part: place for place, part in enumerate(first)}
    # Arcs are in the order of target, word and meaning: that of one number for all three.
    alphabetical = sorted(range(len(labels)), key=labels.__getitem__)
    rank = {label: place for place, label in enumerate(alphabetical)}
    said = [labels[label] for label in alphabetical]
    count = len(labels)
    arcs: list[Arc] = []
    for source, state in enumerate(first.values()):
        weight = -math.log(len(ways[state]) + (state in finals)) if ways[state] else 0.0
        onward = sorted([number[group[target]] * count + rank[label] for label, target in ways[state]])
        arcs += [Arc._make((source, one // count, *said[one % count], weight)) for one in onward]
    return WordGraph(0, frozenset(number[group[state]] for state in finals), tuple(arcs), len(first))


def _reachable(seeds: set[int], edges: dict[int, list[int]]) -> set[int]:
    found = set(seeds)
    pending = list(seeds)
    while pending:
        for target in edges.get(pending.pop(), ()):
            if target not in found:
                found.add(target)
                pending.append(target)
    return found
