"""A word graph as an automaton over the characters of every way to write it, met with a vocabulary of text pieces.

Built as it is walked: a place in the text is compiled when a search first comes there, and kept.
"""

import math
from dataclasses import dataclass, field

from handsfree.model.graph import Arc, WordGraph
from handsfree.recognition.lexicon import (
    FREE,
    MAY_END,
    After,
    WrittenForm,
    joined_forms,
    spaced_forms,
    takes_two_digits,
)
from handsfree.recognition.tokens import Branch

_PUNCTUATION = ".,!?;:"
_SPELLING_WORDS = frozenset({"bravo", "charlie"})
_SPELLED_COST = 0.5

Path = tuple["Arc", ...]


@dataclass(frozen=True, slots=True)
class _Exit:
    """A word written to its end: the arcs taken and the place reached."""

    arcs: Path
    state: int
    after: After
    cost: float


@dataclass(eq=False, slots=True)
class Place:
    """A position in the text.

    Attributes:
        children: By next character.
        exits: Words that end here.
        ending: Arcs without words from here to the end of an utterance, or None where none can end here.
    """

    children: dict[str, "Place"] = field(default_factory=dict)
    exits: list[_Exit] = field(default_factory=list)
    ending: Path | None = None


@dataclass(frozen=True, slots=True)
class AutomatonStep:
    """One way that a text piece can be read.

    Attributes:
        place: Where it leads.
        arcs: Arcs of the words that end within the piece.
        cost: Added to the cost of the reading.
    """

    place: Place
    arcs: Path
    cost: float


class Automaton:
    """What may be written for a graph.

    Args:
        graph: What may be said.
        vocabulary: The tree of text pieces.
    """

    def __init__(self, graph: WordGraph, vocabulary: Branch) -> None:
        self._vocabulary = vocabulary
        self._finals = graph.finals
        self._leaving: dict[int, list[Arc]] = {}
        for arc in graph.arcs:
            self._leaving.setdefault(arc.source, []).append(arc)
        self._spelling = {
            state for state, arcs in self._leaving.items() if _SPELLING_WORDS.issubset(arc.word for arc in arcs)
        }
        self._places: dict[tuple[int, After], Place] = {}
        self._steps: dict[Place, dict[int, tuple[AutomatonStep, ...]]] = {}
        self._silent: dict[int, tuple[tuple[Path, int], ...]] = {}
        self.start = self._place(graph.start, After.START)

    def steps(self, place: Place) -> dict[int, tuple[AutomatonStep, ...]]:
        """The tokens that may follow, each with its readings."""
        found = self._steps.get(place)
        if found is None:
            collected: dict[int, dict[tuple[Place, Path], float]] = {}
            self._meet(self._vocabulary, [AutomatonStep(place, (), 0.0)], collected)
            found = {
                token: tuple(AutomatonStep(to, arcs, cost) for (to, arcs), cost in readings.items())
                for token, readings in collected.items()
            }
            self._steps[place] = found
        return found

    def _meet(
        self, branch: Branch, here: list[AutomatonStep], found: dict[int, dict[tuple[Place, Path], float]]
    ) -> None:
        for token in branch.tokens:
            readings = found.setdefault(token, {})
            for step in here:
                key = (step.place, step.arcs)
                readings[key] = min(readings.get(key, step.cost), step.cost)
        for character, following in branch.children.items():
            there = [after for step in here for after in self._read(step, character)]
            if there:
                self._meet(following, there, found)

    def _read(self, step: AutomatonStep, character: str) -> list[AutomatonStep]:
        child = step.place.children.get(character)
        if child is None:
            return []
        found = [AutomatonStep(child, step.arcs, step.cost)] if child.children else []
        found += (
            AutomatonStep(self._place(end.state, end.after), step.arcs + end.arcs, step.cost + end.cost)
            for end in child.exits
        )
        return found

    def _place(self, state: int, after: After) -> Place:
        """The place after a word: what ends the text, what may be joined on, and what may follow a blank."""
        found = self._places.get((state, after))
        if found is not None:
            return found
        place = Place()
        self._places[state, after] = place
        self._add_joined(place, state, after)
        if after not in FREE:
            return place
        word_begins = place if after is After.START else Place()
        for before, arc in self._words(state):
            for form in spaced_forms(_word(arc), after):
                _write(word_begins, form, (*before, arc), arc.target, form.cost + self._doubt(arc))
        if after is After.START:
            place.children[" "] = Place(children={**word_begins.children})
            return place
        place.ending = self._ending(state) if after in MAY_END else None
        punctuation = Place(ending=place.ending)
        for mark in _PUNCTUATION:
            punctuation.children[mark] = punctuation
            # A joined form such as the point of "17.5" begins like a full stop: both readings go on from here.
            place.children[mark] = _both(place.children[mark], punctuation) if mark in place.children else punctuation
        if word_begins.children:
            for separated in (place, punctuation):
                separated.children[" "] = word_begins
            for hyphen in "-–":
                place.children.setdefault(hyphen, word_begins)
        return place

    def _add_joined(self, place: Place, state: int, after: After) -> None:
        """Forms with no blank before them; where a word is not written at all, those of the words after it."""
        unwritten: dict[tuple[int, After], float] = {(state, after): 0.0}
        pending: list[tuple[int, After, Path, float]] = [(state, after, (), 0.0)]
        for here, written, arcs, cost in pending:  # grows while it is walked
            for before, arc in self._words(here):
                for form in joined_forms(_word(arc), written):
                    taken = (*arcs, *before, arc)
                    total = form.cost + cost + self._doubt(arc)
                    if form.text:
                        _write(place, form, taken, arc.target, total)
                    elif total < unwritten.get((arc.target, form.after), math.inf):
                        # Along a loop the same is reached again, never cheaper.
                        unwritten[arc.target, form.after] = total
                        pending.append((arc.target, form.after, taken, total))

    def _doubt(self, arc: Arc) -> float:
        """Where a code is spelled, "80" is "eight zero" sooner than "eighty"."""
        return _SPELLED_COST if arc.source in self._spelling and takes_two_digits(_word(arc)) else 0.0

    def _words(self, state: int) -> list[tuple[Path, Arc]]:
        """Arcs with a word that can come next, each with the silent arcs before it."""
        return [
            (silent, arc)
            for silent, reached in self._reach(state)
            for arc in self._leaving.get(reached, ())
            if arc.word is not None
        ]

    def _reach(self, state: int) -> tuple[tuple[Path, int], ...]:
        """States reached without a word, each with the arcs there; the state itself first."""
        found = self._silent.get(state)
        if found is None:
            paths: list[tuple[Path, int]] = [((), state)]
            # One way for each meaning: going round in silence adds nothing.
            reached: dict[int, set[tuple[str, ...]]] = {state: {()}}
            for path, here in paths:  # grows while it is walked
                passed = {state, *(arc.target for arc in path)}
                for arc in self._leaving.get(here, ()):
                    if arc.word is not None or arc.target in passed:
                        continue
                    longer = (*path, arc)
                    tags = tuple(tag for step in longer for tag in step.tags)
                    known = reached.setdefault(arc.target, set())
                    if tags not in known:
                        known.add(tags)
                        paths.append((longer, arc.target))
            found = tuple(paths)
            self._silent[state] = found
        return found

    def _ending(self, state: int) -> Path | None:
        return next((path for path, reached in self._reach(state) if reached in self._finals), None)


def _word(arc: Arc) -> str:
    return (arc.word or "").lower()


def _write(begin: Place, form: WrittenForm, arcs: Path, target: int, cost: float) -> None:
    place = begin
    for character in form.text:
        place = place.children.setdefault(character, Place())
    place.exits.append(_Exit(arcs, target, form.after, cost))


def _both(one: Place, other: Place) -> Place:
    """A place that goes on as either of two; where both know a character, `one` has it."""
    return Place({**other.children, **one.children}, [*one.exits, *other.exits], other.ending)
