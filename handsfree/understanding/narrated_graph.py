"""What may be said where everything of a phase may be said in any order: labels with their values, several in a breath.

Each kind of value stands in the graph once, whatever number of labels lead to it: after it the breath goes on as from
any other. Which item is meant is no part of the graph; `understanding.narration` tells.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from handsfree.model.commands import DateSlot, IdentifierSlot, Narration, NumberSlot, OptionSlot, Slot
from handsfree.model.readings import Side
from handsfree.understanding.jsgf import NULL, Choice, Expansion, Reference, Repeat, Sequence, Tagged, Word, optional

ValueOf = Callable[[Slot], Expansion]
"""What may be said for the value of a slot, its label and sides left out."""
BOTH = "both"
"""In place of a side: an answer that was said of both."""
NO_SUCH = "absent"
"""The answer that "no" before a label means."""


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


def narrated(slots: tuple[Slot, ...], narration: Narration, value_of: ValueOf) -> Expansion:
    """How any of some slots are answered, each value after its label, with what is reported as done.

    Args:
        slots: What may be answered, at least one.
        narration: Topic words.
        value_of: What may be said for the value of a slot.
    """
    items = [*_labelled(slots, value_of), *_reported(slots)]
    sided = any(isinstance(slot, NumberSlot | OptionSlot) and slot.sides for slot in slots)
    side = _side() if sided else NULL
    topics = [Tagged(phrase_of(words), (f"topic:{step}",)) for step, phrases in narration.topics for words in phrases]
    topic = Sequence((optional(side), Choice(tuple(topics)), optional(side))) if topics else NULL
    prefix = Sequence((optional(Word("and")), optional(topic)))
    item = Sequence((Choice(tuple(items)), optional(_side_after()) if sided else NULL))
    lead = Choice((Tagged(Word("correction"), ("lead:correct",)), Tagged(Word("affirmative"), ("lead:affirm",))))
    return Sequence((optional(lead), optional(side), Repeat(Sequence((prefix, item)), at_least=1)))


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
        sided = any(isinstance(s, NumberSlot | OptionSlot) and s.sides for label in labels for s in following[label])
        yield Sequence((said, optional(_bare_side()) if sided else NULL, _value(values, numbers, slots, value_of)))
        for label in labels if NO_SUCH in values.phrases else ():
            yield Tagged(phrase_of(f"no {label}"), (f"label:{called[label]}", f"said:{NO_SUCH}"))


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
