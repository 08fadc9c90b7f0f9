"""What a search found: whole texts that the graph allows, and the meanings among them."""

from dataclasses import dataclass

import numpy as np

from handsfree.model.graph import Arc
from handsfree.recognition.same_meaning import same_meaning_key


@dataclass(frozen=True, slots=True)
class Candidate:
    """One whole text.

    Attributes:
        logprob: Natural-log probability of all its pieces and of its end.
        arcs: The way through the graph.
        score: The same, less what rare words and an unlikely rate of speaking count against it.
        tokens: The pieces, without the end.
    """

    logprob: float
    arcs: tuple[Arc, ...]
    score: float
    tokens: tuple[int, ...]

    @property
    def average_logprob(self) -> float:
        """Natural-log probability per piece, its end counted as one."""
        return self.logprob / (len(self.tokens) + 1)

    @property
    def tags(self) -> tuple[str, ...]:
        """Meaning, in the order met."""
        return tuple(tag for arc in self.arcs for tag in arc.tags)

    @property
    def words(self) -> tuple[str, ...]:
        """Words, in order."""
        return tuple(arc.word for arc in self.arcs if arc.word is not None)


@dataclass(frozen=True, slots=True)
class Spotted:
    """A watched word that may have been said.

    Attributes:
        word: The likeliest.
        probability: That any of the watched words stood in its place, 0 … 1.
    """

    word: str
    probability: float


@dataclass(frozen=True, slots=True)
class SearchOutcome:
    """What a search found.

    Attributes:
        candidates: Whole texts inside the graph, the best score first.
        free_tokens: The text decoded without the graph.
        free_logprob: Its natural-log probability.
        spotted: The likeliest word that was watched for, or None.
    """

    candidates: tuple[Candidate, ...]
    free_tokens: list[int]
    free_logprob: float
    spotted: Spotted | None = None


Ranked = list[tuple[Candidate, float]]
"""Candidates of different meanings, each with its score, the likeliest first."""


def by_meaning(candidates: tuple[Candidate, ...]) -> Ranked:
    """The likeliest meanings, each with its best text and the score of all its texts together.

    "Six, one, five." and "615" are one reading written twice: what speaks for either speaks for both.
    """
    texts: dict[tuple[str, ...], list[Candidate]] = {}
    for candidate in candidates:
        texts.setdefault(same_meaning_key(candidate.tags), []).append(candidate)
    scored = [(several[0], float(np.logaddexp.reduce([text.score for text in several]))) for several in texts.values()]
    scored.sort(key=lambda item: item[1], reverse=True)
    return scored
