"""What may be said where everything of a phase may be said in any order: labels with their values, several in a breath.

Each kind of value stands in the graph once, whatever number of labels lead to it: after it the breath goes on as from
any other. Which item is meant is no part of the graph; `understanding.narration` tells.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from handsfree.model.commands import DateSlot, IdentifierSlot, Narration, NumberSlot, OptionSlot, Slot
from handsfree.model.readings import Side
from handsfree.understanding.jsgf import NULL, Choice, Expansion, Reference, Repeat, Sequence, Tagged, Word, optional
from handsfree.understanding.phrase_book import NEVER_BARE, SIDES

ValueOf = Callable[[Slot], Expansion]
"""What may be said for the value of a slot, its label and sides left out."""
BOTH = "both"
"""In place of a side: an answer that was said of both."""
NO_SUCH = "absent"
"""The answer that "no" before a label means."""
REST = "rest"
"""Tag of one answer for everything of a step that was not named."""
NARRATING = optional(
    Choice((Tagged(Word("correction"), ("lead:correct",)), Tagged(Word("affirmative"), ("lead:affirm",))))
)
"""What may be said before a breath."""
WHOSE = "whose"
"""Tag of a side that was said alone, of what was said before it."""


@dataclass(frozen=True, slots=True)
class _Values:
    """What may follow a label.

    Attributes:
        units: Units of numbers.
        codes: Whether codes may.
        dates: Whether dates may.
        phrases: Answers of lists.
        absent: Whether "not done" and its like may.
    """

    units: frozenset[str]
    codes: bool
    dates: bool
    phrases: frozenset[str]
    absent: bool


def narrated(slots: tuple[Slot, ...], narration: Narration, value_of: ValueOf, lead: Expansion) -> Expansion:
    """How any of some slots are answered, each value after its label, with what is reported as done.

    Args:
        slots: What may be answered, at least one.
        narration: Topic words.
        value_of: What may be said for the value of a slot.
        lead: What is said first.
    """
    items = [*_labelled(slots, value_of), *_none_of(slots), *_in_front(slots), *_the_rest(slots), *_reported(slots)]
    sided = any(_is_sided(slot) for slot in slots)
    side = _side() if sided else NULL
    topics = [Tagged(phrase_of(words), (f"topic:{step}",)) for step, phrases in narration.topics for words in phrases]
    topic = Sequence((optional(side), Choice(tuple(topics)), optional(side))) if topics else NULL
    prefix = Sequence((optional(Word("and")), optional(topic)))
    item = Sequence((Choice(tuple(items)), optional(_side_after()) if sided else NULL))
    return Sequence((lead, optional(side), Repeat(Sequence((prefix, item)), at_least=1)))


def side_alone() -> Expansion:
    """The answer to "left or right" about values that were said before: "on the left", "the left one", "both sides"."""
    sides = tuple(Tagged(Word(side.value), (f"{WHOSE}:{side}",)) for side in Side)
    one = Sequence((optional(Reference("phrases.the")), Choice(sides), optional(Reference("phrases.hand"))))
    both = Sequence((Tagged(Word("both"), (f"{WHOSE}:{BOTH}",)), optional(Choice((Word("hands"), Word("sides"))))))
    return Sequence((optional(Reference("phrases.on")), Choice((one, both))))


def phrase_of(text: str) -> Expansion:
    """Words as they are said."""
    return Sequence(tuple(Word(word) for word in text.lower().split()))


def _labelled(slots: tuple[Slot, ...], value_of: ValueOf) -> Iterator[Expansion]:
    """Labels with what may follow them; those that the same may follow stand before it together."""
    following: dict[str, list[Slot]] = {}
    for slot in slots:
        for label in slot.labels:
            following.setdefault(label, []).append(slot)
    groups: dict[_Values, list[str]] = {}
    for label, found in following.items():
        groups.setdefault(_values(found), []).append(label)
    # Other names of the same items have the same meaning: none is weighed against another.
    names: dict[tuple[str, ...], str] = {}
    called = {label: names.setdefault(tuple(slot.slot for slot in found), label) for label, found in following.items()}
    numbers = {unit: _number(unit, slots, value_of) for unit in {s.unit for s in slots if isinstance(s, NumberSlot)}}
    for values, labels in groups.items():
        said = Choice(tuple(Tagged(phrase_of(label), (f"label:{called[label]}",)) for label in labels))
        sided = any(_is_sided(slot) for label in labels for slot in following[label])
        before, between = (optional(_side()), optional(_bare_side())) if sided else (NULL, NULL)
        yield Sequence((before, said, between, _value(values, numbers, slots, value_of)))
        for label in labels if NO_SUCH in values.phrases else ():
            yield Tagged(phrase_of(f"no {label}"), (f"label:{called[label]}", f"said:{NO_SUCH}"))


def _none_of(slots: tuple[Slot, ...]) -> Iterator[Expansion]:
    """What several have not: "no wound or infection". Without "or" the last could begin "infection present"."""
    labels = dict.fromkeys(label for slot in slots if _has(slot, NO_SUCH) for label in slot.labels)
    if len(labels) > 1:
        one = Choice(tuple(_named(label, NO_SUCH) for label in labels))
        yield Sequence((Word("no"), Repeat(one, at_least=1), Reference("phrases.nor"), one))


def _in_front(slots: tuple[Slot, ...]) -> Iterator[Expansion]:
    """Answers before their label: "weak pulse". Not those that many items have, nor sides, nor what is in a label."""
    words = {word for slot in slots for label in slot.labels for word in label.split()}
    labels: dict[tuple[str, bool], dict[str, None]] = {}
    for slot in slots:
        for phrase in _phrases(slot):
            if phrase not in NEVER_BARE | SIDES and words.isdisjoint(phrase.split()):
                labels.setdefault((phrase, _is_sided(slot)), {}).update(dict.fromkeys(slot.labels))
    for (phrase, sided), called in labels.items():
        label = Choice(tuple(_named(one, phrase) for one in called))
        yield Sequence((optional(_side()) if sided else NULL, phrase_of(phrase), label))


def _the_rest(slots: tuple[Slot, ...]) -> Iterator[Expansion]:
    """One answer for all of a step that was not named: "the rest intact"; what two fields of a step have."""
    steps: dict[str, list[str]] = {}
    for slot in slots:
        steps.setdefault(slot.slot.partition(".")[0], []).extend(_phrases(slot))
    shared = sorted({one for said in steps.values() for one in said if said.count(one) > 1} - SIDES)
    answers = tuple(Tagged(phrase_of(phrase), (f"{REST}:", f"said:{phrase}")) for phrase in shared)
    if answers:
        yield Sequence((Reference("phrases.the_rest"), Choice(answers)))


def _named(label: str, phrase: str) -> Expansion:
    """A label, which says with the words around it that its answer is a phrase."""
    return Tagged(phrase_of(label), (f"label:{label}", f"said:{phrase}"))


def _phrases(slot: Slot) -> tuple[str, ...]:
    """What may be said for a slot of a list that has a label; nothing of others."""
    options = slot.options if isinstance(slot, OptionSlot) and slot.labels else ()
    return tuple(phrase for option in options for phrase in option.phrases)


def _has(slot: Slot, phrase: str) -> bool:
    return phrase in _phrases(slot)


def _is_sided(slot: Slot) -> bool:
    return isinstance(slot, NumberSlot | OptionSlot) and bool(slot.sides)


def _values(slots: list[Slot]) -> _Values:
    return _Values(
        units=frozenset(slot.unit for slot in slots if isinstance(slot, NumberSlot)),
        codes=any(isinstance(slot, IdentifierSlot) for slot in slots),
        dates=any(isinstance(slot, DateSlot) for slot in slots),
        phrases=frozenset(
            phrase
            for slot in slots
            if isinstance(slot, OptionSlot)
            for option in slot.options
            for phrase in option.phrases
        ),
        absent=any(isinstance(slot, NumberSlot | OptionSlot) and slot.allow_absent for slot in slots),
    )


def _value(values: _Values, numbers: dict[str, Expansion], slots: tuple[Slot, ...], value_of: ValueOf) -> Expansion:
    found: list[Expansion] = [numbers[unit] for unit in sorted(values.units)]
    for kind, wanted, tag in ((IdentifierSlot, values.codes, "value:code"), (DateSlot, values.dates, "value:date")):
        slot = next((one for one in slots if isinstance(one, kind)), None) if wanted else None
        if slot is not None:
            found.append(Sequence((Tagged(NULL, (tag,)), value_of(slot))))
    found += [Tagged(phrase_of(phrase), (f"said:{phrase}",)) for phrase in sorted(values.phrases)]
    if values.units or values.phrases:
        found.append(Reference("answers.refused"))
    if values.absent:
        found.append(Reference("answers.absent"))
    return Choice(tuple(found))


def _number(unit: str, slots: tuple[Slot, ...], value_of: ValueOf) -> Expansion:
    """A number of a unit, as wide as any slot takes it; the slot that is meant judges it."""
    of_unit = [slot for slot in slots if isinstance(slot, NumberSlot) and slot.unit == unit]
    widest = replace(
        of_unit[0],
        slot="",
        labels=(),
        sides=(),
        low=min(slot.low for slot in of_unit),
        high=max(slot.high for slot in of_unit),
        decimals=max(slot.decimals for slot in of_unit),
        digit_by_digit=any(slot.digit_by_digit for slot in of_unit),
        allow_fractions=any(slot.allow_fractions for slot in of_unit),
    )
    return Sequence((Tagged(NULL, (f"value:{unit}",)), value_of(widest)))


def _reported(slots: tuple[Slot, ...]) -> Iterator[Expansion]:
    """Sentences that stand for a step done by hand: options without a label."""
    for slot in slots:
        options = slot.options if isinstance(slot, OptionSlot) and not slot.labels else ()
        for option in options:
            tags = (f"done:{slot.slot}", f"said:{option.value}")
            yield from (Tagged(phrase_of(phrase), tags) for phrase in option.phrases)


def _side() -> Expansion:
    one = Sequence((_bare_side(), optional(Choice((Word("hand"), Word("side"))))))
    both = Sequence((Tagged(Word("both"), (f"side:{BOTH}",)), Choice((Word("hands"), Word("sides")))))
    return Choice((one, both))


def _bare_side() -> Expansion:
    return Choice(tuple(Tagged(Word(side.value), (f"side:{side}",)) for side in Side))


def _side_after() -> Expansion:
    """A side after the value that it belongs to: in words that cannot begin what comes next."""
    sides = Choice(tuple(Tagged(Word(side.value), (f"after:{side}",)) for side in Side))
    return Sequence((Word("on"), Word("the"), sides, optional(Choice((Word("hand"), Word("side"))))))
