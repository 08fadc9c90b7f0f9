"""What to say to try a step: every phrase of its answers, numbers that are taken for one another, every command."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from handsfree.authoring.step_contexts import Hearing
from handsfree.model.commands import Control, DateSlot, IdentifierSlot, NumberSlot, OptionSlot, Slot
from handsfree.model.graph import WordGraph
from handsfree.understanding.bundled_grammars import grammars_for
from handsfree.understanding.graphs import compile_graph
from handsfree.understanding.graphs import match as match_words
from handsfree.understanding.jsgf import Reference
from handsfree.understanding.listening_graph import own_rules
from handsfree.understanding.phrase_book import examples

_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_WHOLE = {13: "thirteen", 30: "thirty", 14: "fourteen", 40: "forty", 15: "fifteen", 50: "fifty", 5: "five", 9: "nine"}
"""Whole numbers that are often taken for one another: fourteen and forty in 3 of 9, nine and seven in 2 of 9 trials."""
LONGEST_OWN = 3
"""Words of a command of the phrase book that is tried: the short ones are the easiest to mistake."""
_CODES = ("alfa two", "mike nine", "november five seven", "x-ray zulu")
_DATES = ("may twenty twenty eight", "nine june twenty twenty seven", "january three twenty twenty eight")


@dataclass(frozen=True, slots=True)
class Phrase:
    """Something to say.

    Attributes:
        words: The words.
        field: The field it answers, or None for a command.
        option: The option that it means, where it does.
        own: The part of it that an author chose: the phrase of an option, or the label.
        control: The command that it is, where it is one.
        by_book: Whether the phrase book gives the answer, not the file: its words cannot be changed there.
    """

    words: str
    field: str | None = None
    option: str | None = None
    own: str = ""
    control: Control | None = None
    by_book: bool = False


def phrases_of(hearing: Hearing) -> tuple[Phrase, ...]:
    """Every phrase to be tried in a step; each is legal there."""
    several = len(hearing.wanted.slots) > 1
    found: list[Phrase] = []
    for slot in hearing.slots:
        label = f"{slot.labels[0]} " if several and slot.labels else ""
        found += _answers(slot, label)
    own = hearing.wanted.slots if len(hearing.slots) == len(hearing.wanted.slots) else hearing.slots
    found += [Phrase(words, slot.slot, option.value, words, by_book=True) for words, slot, option in examples(own)]
    found += _commands(hearing)
    return tuple(phrase for phrase in found if match_words(hearing.graph, phrase.words.split()) is not None)


def _answers(slot: Slot, label: str) -> Iterator[Phrase]:
    match slot:
        case OptionSlot():
            for option in slot.options:
                for phrase in option.phrases:
                    yield Phrase(f"{label}{phrase}", slot.slot, option.value, phrase)
        case NumberSlot():
            for words in _numbers(slot):
                yield Phrase(f"{label}{words}", slot.slot, None, label.strip())
        case IdentifierSlot():
            for words in _CODES:
                yield Phrase(f"{label}{words}", slot.slot, None, label.strip())
        case DateSlot():
            for words in _DATES:
                yield Phrase(f"{label}{words}", slot.slot, None, label.strip())


def _numbers(slot: NumberSlot) -> Iterator[str]:
    for value, words in _WHOLE.items():
        if slot.low <= value <= slot.high:
            yield words
    middle = int((slot.low + slot.high) / 2)
    for value in dict.fromkeys((max(0, int(slot.low)), middle, int(slot.high))):
        spelled = " ".join(_DIGITS[int(digit)] for digit in str(abs(value)))
        if slot.decimals and slot.low <= value + Decimal("0.9") <= slot.high:
            yield f"{spelled} point nine"
        elif value >= 0:
            yield spelled


def _commands(hearing: Hearing) -> Iterator[Phrase]:
    """One way to say each legal command: the shortest, which is the easiest to mistake."""
    grammars = grammars_for()
    for control in sorted(hearing.wanted.all_controls):
        words = shortest(compile_graph(Reference(f"controls.{control.value}"), grammars))
        yield Phrase(words, control=control)
    # The phrase book's own: every way of up to so many words.
    for rule in own_rules(hearing.wanted):
        graph = compile_graph(Reference(rule), grammars)
        for words, tags in sentences(graph, LONGEST_OWN):
            yield Phrase(words, control=Control(tags[0].partition(":")[2]))


def sentences(graph: WordGraph, longest: int) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Every sentence of a graph without loops of up to so many words, with its tags."""
    begun: list[tuple[int, tuple[str, ...], tuple[str, ...]]] = [(graph.start, (), ())]
    while begun:
        state, words, tags = begun.pop()
        if state in graph.finals:
            yield " ".join(words), tags
        if len(words) < longest:
            begun += [
                (arc.target, (*words, arc.word or ""), (*tags, *arc.tags)) for arc in graph.arcs if arc.source == state
            ]


def shortest(graph: WordGraph) -> str:
    """The sentence of a graph with the fewest words; "" if it has none."""
    front: list[tuple[int, tuple[str, ...]]] = [(graph.start, ())]
    seen = {graph.start}
    for state, words in front:
        if state in graph.finals:
            return " ".join(words)
        for arc in graph.arcs:
            if arc.source == state and arc.target not in seen and arc.word is not None:
                seen.add(arc.target)
                front.append((arc.target, (*words, arc.word)))
    return ""
