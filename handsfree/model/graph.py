"""The word graph: what may be said now, as states and arcs. Built by understanding, searched by recognition."""

import hashlib
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple


class Arc(NamedTuple):
    """One step through the graph. A bare tuple, because thousands are made and compared for every graph.

    Attributes:
        source: State left.
        target: State reached.
        word: The lower-case word said, or None when nothing is said.
        tags: Meaning carried by this arc, in the order met on the path.
        weight: Natural-log probability of this arc among the arcs of its source, at most 0.
    """

    source: int
    target: int
    word: str | None = None
    tags: tuple[str, ...] = ()
    weight: float = 0.0


@dataclass(frozen=True)
class WordGraph:
    """A finite automaton over words. States are 0 … `state_count` - 1.

    Attributes:
        start: The first state.
        finals: States in which an utterance may end.
        arcs: All arcs.
        state_count: Number of states.
    """

    start: int
    finals: frozenset[int]
    arcs: tuple[Arc, ...]
    state_count: int

    @cached_property
    def key(self) -> str:
        """A content hash: equal graphs have equal keys. Used for caches of compiled automata."""
        parts = [f"{self.start}|{sorted(self.finals)}"]
        parts += [f"{a.source}>{a.target}:{a.word}:{'+'.join(a.tags)}:{a.weight:.6f}" for a in self.arcs]
        return hashlib.sha256("\n".join(parts).encode()).hexdigest()

    @cached_property
    def leaving(self) -> Mapping[int, Sequence[Arc]]:
        """The arcs by the state left."""
        found: dict[int, list[Arc]] = defaultdict(list)
        for arc in self.arcs:
            found[arc.source].append(arc)
        return dict(found)

    @cached_property
    def by_word(self) -> Mapping[tuple[int, str], Sequence[Arc]]:
        """The arcs with a word, by the state left and the word."""
        found: dict[tuple[int, str], list[Arc]] = defaultdict(list)
        for arc in self.arcs:
            if arc.word is not None:
                found[arc.source, arc.word].append(arc)
        return dict(found)

    @property
    def words(self) -> frozenset[str]:
        """Every word that can be said."""
        return frozenset(arc.word for arc in self.arcs if arc.word is not None)
