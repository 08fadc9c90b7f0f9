"""What may be said, gone through only where the words of a sentence lead: nothing is laid out for what nobody said.

The sentences, their meanings and their order of likelihood are those of `graph_reduction.smallest` of all parts as one
choice: each state reached is one of that graph before states of the same future are merged, and those have the same
ways on.
"""

import math
from collections import defaultdict
from collections.abc import Sequence

from handsfree.understanding.graph_reduction import Hearable, Label
from handsfree.understanding.graphs import Match, laid_out, matched
from handsfree.understanding.jsgf import Expansion, Grammars

_Said = frozenset[int] | None
"""States of one part in which what was said may have ended; None before anything was."""
_State = frozenset[tuple[int, _Said]]
"""The same of several parts, each with its number."""
_Way = tuple[_State, tuple[str, ...], float]
"""The state reached, what is meant on the way, and its natural-log weight."""


class Part:
    """One of the things that may be said.

    Args:
        expansion: What may be said; it carries no weights.
        grammars: Where references lead.

    Raises:
        GrammarError: The empty sentence is allowed, or nothing can be said.
    """

    def __init__(self, expansion: Expansion, grammars: Grammars) -> None:
        self._heard = Hearable(laid_out(expansion, grammars, weighted=False))
        self._onward: dict[_Said, dict[Label, frozenset[int]]] = {}

    def onward(self, said: _Said) -> dict[Label, frozenset[int]]:
        """What may come next, each word with the states that it leads to.

        Raises:
            GrammarError: Meaning hangs on silence.
        """
        found = self._onward.get(said)
        if found is None:
            following = self._heard.first() if said is None else self._heard.after(said)
            found = {
                label: many[0] if len(many) == 1 else frozenset().union(*many) for label, many in following.items()
            }
            self._onward[said] = found
        return found

    def may_end(self, said: _Said) -> bool:
        """Whether that may be all."""
        return said is not None and not self._heard.ends.isdisjoint(said)


class WalkedGraph:
    """Any of some parts. What was found on the way of one sentence is kept for the next.

    Args:
        parts: Each as it is kept for other graphs too.
    """

    def __init__(self, parts: Sequence[Part]) -> None:
        self._parts = tuple(parts)
        self._ways: dict[_State, dict[str, list[_Way]]] = {}

    def match(self, words: Sequence[str]) -> Match | None:
        """Send a sentence through, as `graphs.match` does.

        Args:
            words: Lower-case words.

        Raises:
            GrammarError: Meaning hangs on silence.
        """
        start: _State = frozenset((number, None) for number in range(len(self._parts)))
        return matched(start, self._leaving, self._may_end, words)

    def _may_end(self, state: _State) -> bool:
        return any(self._parts[number].may_end(said) for number, said in state)

    def _leaving(self, state: _State, word: str) -> Sequence[_Way]:
        ways = self._ways.get(state)
        if ways is None:
            ways = self._ways[state] = self._laid(state)
        return ways.get(word, ())

    def _laid(self, state: _State) -> dict[str, list[_Way]]:
        """All ways on by their word: each that there is makes the others less likely."""
        following: dict[Label, list[tuple[int, _Said]]] = defaultdict(list)
        for number, said in state:
            for label, reached in self._parts[number].onward(said).items():
                following[label].append((number, reached))
        found: dict[str, list[_Way]] = defaultdict(list)
        weight = -math.log(len(following) + self._may_end(state)) if following else 0.0
        for (word, tags), reached_by in following.items():
            found[word].append((frozenset(reached_by), tags, weight))
        return dict(found)
