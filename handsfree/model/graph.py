"""The word graph: what may be said now, as states and arcs. Built by understanding, searched by recognition."""

import hashlib
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Arc:
    """One step through the graph.

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
    _digest: list[str] = field(default_factory=list, compare=False, repr=False)

    @property
    def key(self) -> str:
        """A content hash: equal graphs have equal keys. Used for caches of compiled automata."""
        if not self._digest:
            parts = [f"{self.start}|{sorted(self.finals)}"]
            parts += [f"{a.source}>{a.target}:{a.word}:{'+'.join(a.tags)}:{a.weight:.6f}" for a in self.arcs]
            self._digest.append(hashlib.sha256("\n".join(parts).encode()).hexdigest())
        return self._digest[0]

    @property
    def words(self) -> frozenset[str]:
        """Every word that can be said."""
        return frozenset(arc.word for arc in self.arcs if arc.word is not None)
