"""What may be said now, as one word graph: only what is legal, so that nothing else can be heard."""

from collections.abc import Iterator
from collections.abc import Sequence as AbstractSequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial

from handsfree.model.commands import Control, Narration, NumberSlot, OptionSlot, Slot, Wanted
from handsfree.model.graph import WordGraph
from handsfree.model.readings import Side
from handsfree.understanding.bundled_grammars import grammars_for, small
from handsfree.understanding.graphs import Match
from handsfree.understanding.jsgf import (
    NULL,
    Choice,
    Embedded,
    Expansion,
    Reference,
    Sequence,
    Tagged,
    optional,
)
from handsfree.understanding.narrated_graph import NARRATING, narrated, side_alone
from handsfree.understanding.phrase_book import (
    answers_in_front,
    asked_first,
    going_to,
    leading_side,
    named,
    none_else,
    one_after_another,
    overriding,
    own_words,
    phrase,
    rest_answers,
    then,
    whole_answers,
    word,
)
from handsfree.understanding.value_graphs import number, value_of
from handsfree.understanding.walked_graph import Part, WalkedGraph

_CRIES = ("controls.hot_while_lit", "controls.pain_while_lit")
"""Whole sentences that mean a stop word, listened for beside `Control.CRY`."""
ASIDE = "aside"
"""First tag of what is listened for beside cries so that it is not taken for one; it means nothing."""
_OFF = "phrases.light_off"
"""More words that end the light: listened for everywhere."""
_BARE = ("controls.yes", "controls.no")
"""What recognisers take other words for, listened for only where `Wanted.yes_or_no` says so."""


def graph_for(wanted: Wanted, locale: str = "en-US") -> WordGraph:
    """What may be said now, for a recogniser.

    Raises:
        GrammarError: The locale has no grammars, or a grammar file has faults.
    """
    return _spoken(_grammatical(wanted), locale)


def match_said(wanted: Wanted, words: AbstractSequence[str], locale: str = "en-US", *, written: bool) -> Match | None:
    """`graphs.match` of words with what may be said now, of which only their own ways are laid out.

    Args:
        wanted: What is legal now.
        words: Lower-case words.
        locale: The language.
        written: Whether they were typed: `graph_for` and spellings that a recogniser must not be offered.

    Raises:
        GrammarError: As `graph_for`.
    """
    return _walked(_grammatical(wanted), locale, written=written).match(words)


def _grammatical(wanted: Wanted) -> Wanted:
    """What the graph is made of."""
    narration = wanted.narration
    # Of a breath whose side is asked about it counts only that there is one.
    heard = narration and replace(narration, here="", side=None, open=(), unsided=narration.unsided[:1])
    earlier = wanted.earlier and replace(wanted.earlier, narration=Narration(wanted.earlier.narration.topics))
    return replace(wanted, hint="", going_on=(), narration=heard, earlier=earlier)


@dataclass(frozen=True, slots=True)
class _Phase:
    """Whatever may be said of a phase in any order, or only corrected: what many moments of a visit share.

    Attributes:
        slots: What may be answered.
        told: Topic words.
        fix: Whether only corrections are taken.
    """

    slots: tuple[Slot, ...]
    told: Narration
    fix: bool = False

    def expansion(self, locale: str, *, written: bool) -> Expansion:
        """How it may be said."""
        said = partial(value_of, locale=locale, written=written, own=True)
        return narrated(self.slots, self.told, said, word("correcting") if self.fix else NARRATING)


def _phases(wanted: Wanted) -> Iterator[_Phase]:
    if wanted.narration is not None and wanted.slots:
        yield _Phase(wanted.slots, replace(wanted.narration, asked="", unsided=()))
    if wanted.earlier is not None:
        yield _Phase(wanted.earlier.slots, wanted.earlier.narration, fix=True)


def _besides(wanted: Wanted, locale: str, *, written: bool) -> Choice:
    """What may be said now besides what belongs to a whole phase."""
    controls = tuple(Reference(f"controls.{control.value}") for control in sorted(wanted.all_controls))
    alternatives: list[Expansion] = [*controls]
    if Control.CRY in wanted.controls:
        alternatives += [*(Reference(rule) for rule in (*_CRIES, _OFF)), *_asides(wanted)]
    else:
        alternatives.append(_in_own_words(wanted, locale))
    if wanted.yes_or_no:
        alternatives += [Reference(rule) for rule in _BARE]
        alternatives += [
            Tagged(Sequence((optional(word("lead")), phrase(text))), ("control:affirm",)) for text in wanted.done
        ]
    if wanted.narration is not None:
        alternatives += _asked_for(wanted, wanted.narration, locale, written=written)
    elif not wanted.dictation:
        alternatives += _answers(wanted, locale, written=written)
    if wanted.overriding:
        alternatives.append(overriding(wanted.overriding))
    if wanted.places is not None:
        alternatives.append(going_to(wanted.places))
    return Choice(tuple(alternatives))


def whole_graph(wanted: Wanted, locale: str = "en-US", *, written: bool = False) -> WordGraph:
    """Everything that may be said, or typed, laid out anew.

    Raises:
        GrammarError: As `graph_for`.
    """
    phases = tuple(_whole_phase(phase, locale, written=written) for phase in _phases(wanted))
    return small(Choice((*_besides(wanted, locale, written=written).options, *phases)), locale).graph


# A visit asks most questions once, and the graph of one may have 50,000 arcs: few are kept where a recogniser listens.
_spoken = lru_cache(maxsize=32)(whole_graph)


@lru_cache(maxsize=16)
def _whole_phase(phase: _Phase, locale: str, *, written: bool) -> Embedded:
    """Made once for each phase, and kept."""
    return small(phase.expansion(locale, written=written), locale)


@lru_cache(maxsize=256)
def _walked(wanted: Wanted, locale: str, *, written: bool) -> WalkedGraph:
    parts = [_walked_phase(phase, locale, written=written) for phase in _phases(wanted)]
    besides = Part(_besides(wanted, locale, written=written), grammars_for(locale))
    return WalkedGraph([besides, *parts])


@lru_cache(maxsize=64)
def _walked_phase(phase: _Phase, locale: str, *, written: bool) -> Part:
    return Part(phase.expansion(locale, written=written), grammars_for(locale))


def _asides(wanted: Wanted) -> list[Expansion]:
    """What is no cry; nothing of it where more than one of a list may be answered, which may be said in these words."""
    if wanted.narration is not None or not all(isinstance(slot, OptionSlot) for slot in wanted.all_slots):
        return []
    return [Sequence((Tagged(NULL, (ASIDE,)), Choice((Reference("cries.counted"), Reference("cries.aside")))))]


def _in_own_words(wanted: Wanted, locale: str) -> Expansion:
    """Commands in the words of the phrase book; what it does not know, and what only counts elsewhere, is left out."""
    rules = tuple(Reference(name) for name in own_rules(wanted, locale))
    return Sequence((optional(word("okay")), Choice(rules), optional(word("please"))))


def own_rules(wanted: Wanted, locale: str = "en-US") -> tuple[str, ...]:
    """Names of the rules of the phrase book by which commands are listened for now."""
    if Control.CRY in wanted.controls:
        return (_OFF,)
    known = grammars_for(locale).names()
    names = [f"phrases.{control.value}" for control in sorted(wanted.all_controls)]
    names += ["phrases.yes", "phrases.no"] if wanted.yes_or_no else []
    names += [f"phrases.{rule.value}" for rule in sorted(wanted.own_words)]
    return tuple(name for name in names if name in known)


def _asked_for(wanted: Wanted, narration: Narration, locale: str, *, written: bool) -> list[Expansion]:
    """What was just asked for in a narrated visit: one slot without its label; a side alone where that was asked."""
    own = Control.CRY not in wanted.controls
    asked = [slot for slot in wanted.slots if slot.slot == narration.asked]
    found = [_answer(slot, locale, written=written, label_required=False, own=own) for slot in asked]
    if narration.unsided:
        found.append(side_alone())
    return found


def _answers(wanted: Wanted, locale: str, *, written: bool) -> list[Expansion]:
    """What is asked for, then what may be said again: that only with its label, or as one answer for all fields.

    Where cries count nothing is put around an answer: "so warm" is none.
    """
    both = (*wanted.slots, *wanted.again)
    if not both:
        return []
    own = Control.CRY not in wanted.controls
    found: list[Expansion] = []
    if len(wanted.slots) == 1:
        found.append(_answer(wanted.slots[0], locale, written=written, label_required=False, own=own))
    if len(both) > 1 or wanted.again:
        each: list[Expansion] = [
            _labelled(alike, locale, written=written, own=own) for alike in _alike_but_for_labels(both)
        ]
        each += own_words(both) if own else ()
        one = Choice(tuple(each))
        side = optional(leading_side(both))
        rest = tuple(rest_answers(wanted.slots)) if own else ()
        found.append(Sequence((side, one_after_another(one), optional(then(Choice(rest))) if rest else NULL)))
        if own and (needs_none := asked_first(wanted.slots)) is not None:
            bare = _answer(needs_none, locale, written=written, label_required=False, own=own)
            found.append(Sequence((bare, optional(then(one_after_another(one))))))
        found += (*rest, *none_else(wanted.slots)) if wanted.again and own else ()
        before = tuple(_before_labels(both, locale, written=written)) if own else ()
        if before:
            # All numbers so: mixed with labels in front, a number could belong to either neighbour.
            listed = [slot for slot in both if isinstance(slot, OptionSlot)]
            after = [_answer(slot, locale, written=written, label_required=True, own=own) for slot in listed]
            after += own_words(both)
            others = optional(then(one_after_another(Choice(tuple(after))))) if after else NULL
            found.append(Sequence((side, one_after_another(Choice(before)), others)))
        # What was given already is left alone: "none" after "wound present" is about the others.
        found += answers_in_front(both) if own else ()
        found += whole_answers(wanted.slots or wanted.again) if own and not wanted.in_part else ()
    if not own:
        return found
    fix = word("correcting") if wanted.correcting else word("fix")
    first = Choice((word("lead"), fix)) if wanted.again else word("lead")
    return [Sequence((optional(first), Choice(tuple(found))))]


def _before_labels(slots: tuple[Slot, ...], locale: str, *, written: bool) -> Iterator[Expansion]:
    """Scores before what they are of: "three at rest"."""
    for slot in slots:
        if isinstance(slot, NumberSlot) and slot.unit == "{score}" and slot.labels:
            value = number(replace(slot, slot="", labels=(), sides=()), locale, written=written)
            label = Choice(tuple(phrase(label) for label in slot.labels))
            yield Sequence((Tagged(NULL, (f"slot:{slot.slot}",)), value, word("at"), label))


def _alike_but_for_labels(slots: tuple[Slot, ...]) -> list[tuple[Slot, ...]]:
    """Slots whose values are said alike, together: many numbers of one kind need the graph of one."""
    found: dict[Slot, list[Slot]] = {}
    for slot in slots:
        alone = not isinstance(slot, NumberSlot) or not slot.labels
        found.setdefault(slot if alone else replace(slot, slot="", labels=()), []).append(slot)
    return [tuple(alike) for alike in found.values()]


def _labelled(slots: tuple[Slot, ...], locale: str, *, written: bool, own: bool) -> Expansion:
    """The answer to any of some slots whose values are said alike, each after its label."""
    if len(slots) == 1:
        return _answer(slots[0], locale, written=written, label_required=True, own=own)
    names = tuple(
        Sequence((Tagged(NULL, (f"slot:{slot.slot}",)), named(label) if own else phrase(label)))
        for slot in slots
        for label in slot.labels
    )
    bare = replace(slots[0], slot="", labels=())
    value = _answer(bare, locale, written=written, label_required=True, own=own)
    assert isinstance(value, Sequence)  # noqa: S101 - the tag of its slot, then the value
    return Sequence((Choice(names), *value.parts[1:]))


def _answer(slot: Slot, locale: str, *, written: bool, label_required: bool, own: bool) -> Expansion:
    """One slot's answer, with its own name in front as a tag; in people's own words if `own`."""
    value = value_of(slot, locale, written=written, own=own)
    begun = Tagged(NULL, (f"slot:{slot.slot}",))
    said: tuple[Expansion, ...] = (begun,)
    if slot.labels:
        label = Choice(tuple(named(label) if own else phrase(label) for label in slot.labels))
        said += (label,)
    if not label_required:
        said = (begun, *((optional(word("it_is")),) if own else ()), *(optional(part) for part in said[1:]))
    if isinstance(slot, NumberSlot | OptionSlot):
        others: tuple[Expansion, ...] = (Reference("answers.refused"),)
        if slot.allow_absent:
            others += (Reference("answers.absent"),)
        return Sequence((*said, _sided(Choice((value, *others)), slot.sides)))
    return Sequence((*said, value))


def _sided(value: Expansion, sides: tuple[Side, ...]) -> Expansion:
    """The value with its side before it; after it is understood as well, to be asked about."""
    if not sides:
        return value
    side = Choice(tuple(Reference(f"answers.{side.value}") for side in sides))
    forms: list[Expansion] = [Sequence((optional(side), value)), Sequence((value, side))]
    if len(sides) > 1:
        forms.append(Sequence((side, value, side, value)))
    return Choice(tuple(forms))
