"""Words that somebody may have said where something else was written down: "burning" where it says "learning".

While text is decoded freely, every place where a word begins is asked how likely one of the watched words is there. The
text goes on as it would have; a word that is watched is followed beside it to its end.
"""

from dataclasses import dataclass, field

import numpy as np

from handsfree.model.graph import WordGraph
from handsfree.recognition.automaton import Automaton, Path, Place
from handsfree.recognition.candidates import Spotted
from handsfree.recognition.neural_network import Floats
from handsfree.recognition.tokens import Vocabulary

LEAST_FOLLOWED = float(np.log(0.005))
"""A beginning of a word that is less likely is not followed."""


class WatchedWords:
    """Words to look out for, laid out for one vocabulary.

    Args:
        graph: Each sentence is one word.
        vocabulary: Of the network that writes.
    """

    def __init__(self, graph: WordGraph, vocabulary: Vocabulary) -> None:
        self.automaton = Automaton(graph, vocabulary.tree)
        # Only what follows a blank begins a word: the "hot" of "shot" is none.
        self.begin = Place(children={" ": self.automaton.start.children[" "]})
        self.boundaries = vocabulary.boundaries


@dataclass(slots=True)
class Trail:
    """The beginning of a watched word.

    Attributes:
        place: At which piece of the text it began.
        logprob: Natural-log probability of it there.
        readings: Where in the word it is.
        row: Of the memory of the network.
    """

    place: int
    logprob: float
    readings: list[tuple[Place, Path]]
    row: int = 0


@dataclass(slots=True)
class WordWatch:
    """Follows watched words through one text.

    Attributes:
        words: What is watched for.
        trails: What was begun.
    """

    words: WatchedWords
    trails: list[Trail] = field(default_factory=list)
    _found: dict[int, dict[str, float]] = field(default_factory=dict)
    _place: int = 0

    def look(self, scores: Floats, free_row: int | None) -> list[tuple[int, int, Trail]]:
        """What may follow: the row that each new trail goes on from, its piece, and the trail.

        Args:
            scores: Natural-log probabilities of the next piece, a row for each text that is followed.
            free_row: The row of the text itself, or None where it has ended.
        """
        following: list[tuple[int, int, Trail]] = []
        for trail in self.trails:
            self._end(trail, scores[trail.row])
            following += self._extended(trail, scores[trail.row])
        if free_row is not None:
            fresh = Trail(self._place, 0.0, [(self.words.begin, ())], free_row)
            following += self._extended(fresh, scores[free_row])
            self._place += 1
        return following

    def spotted(self) -> Spotted | None:
        """The likeliest watched word, with the probability that any of them stood in its place; None for none."""
        sums = {place: sum(words.values()) for place, words in self._found.items()}
        if not sums:
            return None
        place = max(sums, key=lambda one: sums[one])
        return Spotted(max(self._found[place], key=lambda one: self._found[place][one]), min(1.0, sums[place]))

    def _end(self, trail: Trail, scores: Floats) -> None:
        for place, arcs in trail.readings:
            if arcs and place.ending is not None:
                ends = float(np.exp(scores[self.words.boundaries]).sum())
                words = self._found.setdefault(trail.place, {})
                word = arcs[-1].word or ""
                words[word] = words.get(word, 0.0) + float(np.exp(trail.logprob)) * ends

    def _extended(self, trail: Trail, scores: Floats) -> list[tuple[int, int, Trail]]:
        longer: dict[int, Trail] = {}
        for place, arcs in trail.readings:
            if arcs:
                continue
            for token, steps in self.words.automaton.steps(place).items():
                logprob = trail.logprob + float(scores[token])
                if logprob > LEAST_FOLLOWED:
                    further = longer.setdefault(token, Trail(trail.place, logprob, []))
                    further.readings += [(step.place, step.arcs) for step in steps]
        return [(trail.row, token, further) for token, further in longer.items()]
