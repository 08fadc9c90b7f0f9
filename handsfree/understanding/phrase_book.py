"""Answers in people's own words: without labels where they are unmistakable, one for every field, "no wound".

The words stand in `phrases.jsgf`. Nothing here makes a meaning that could not be said with labels: "all firm" is the
same as each label with "firm", and is read back so. What could be about several fields is not taken without a label.
"""

from collections import Counter
from collections.abc import Collection, Iterator

from handsfree.model.commands import DateSlot, IdentifierSlot, NumberSlot, OptionPhrases, OptionSlot, Slot, SlotValue
from handsfree.model.readings import Option
from handsfree.understanding.jsgf import NULL, Choice, Expansion, Reference, Repeat, Sequence, Tagged, Word, optional

_COUNTS = ("", "", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_MOST_LISTED = 6
"""Fields that may be named before one answer of theirs ("median and ulnar intact")."""
NEVER_BARE = frozenset({"absent", "present", "missing", "noted", "left", "right", "intact", "firm", "soft"})
"""Answers that people give to many questions: one alone says not which is meant, even where only one field has it."""
_SOME = "present"
"""The answer that "there is a wound" means, where a field has it."""
_NONE = "absent"
"""The answer that "no wound" and "none" mean, where a field has it."""
THE_REST = "*"
"""Stands in tags for every slot that is still wanted and was not named."""
SIDES = frozenset({"left", "right"})


def word(name: str) -> Reference:
    """A rule of the phrase book."""
    return Reference(f"phrases.{name}")


def phrase(text: str) -> Expansion:
    """Words as they are written, in small letters."""
    return Sequence(tuple(Word(part) for part in text.lower().split()))


def then(part: Expansion) -> Expansion:
    """What is said after something else in one breath, with a word between or without."""
    return Sequence((optional(word("then")), part))


def asked_first(slots: tuple[Slot, ...]) -> Slot | None:
    """A code or date that is all a step asks for, where no other step of its group asks for one: it needs no label."""
    mine = [slot for slot in slots if "." not in slot.slot]
    alike = [slot for slot in slots if mine and type(slot) is type(mine[0])]
    return mine[0] if len(mine) == len(alike) == 1 and isinstance(mine[0], IdentifierSlot | DateSlot) else None


def one_after_another(part: Expansion) -> Expansion:
    """The same once or more in one breath."""
    return Repeat(part, at_least=1, between=optional(word("then")))


def leading_side(slots: tuple[Slot, ...]) -> Expansion:
    """A side said once, before the first label: it is about every value of the breath that can have one."""
    sides = dict.fromkeys(
        side for slot in slots if isinstance(slot, NumberSlot | OptionSlot) and slot.labels for side in slot.sides
    )
    named = Choice(tuple(Reference(f"answers.{side.value}") for side in sides))
    return Sequence((optional(word("the")), named, optional(word("of_body")))) if sides else NULL


def named(label: str) -> Expansion:
    """A label as people put it: "the skin is", "first reading"."""
    return Sequence((optional(word("the")), phrase(label), optional(word("reading")), optional(word("is"))))


def option_words(text: str) -> Expansion:
    """An answer of a list as people put it: "a fall", "left hand"."""
    if text in SIDES:
        return Sequence((optional(word("the")), phrase(text), optional(word("hand"))))
    return Sequence((optional(word("a")), phrase(text)))


def options_of(slot: OptionSlot, *, own: bool = True) -> Expansion:
    """What may be said for a list; in people's own words if `own`."""
    return Choice(
        tuple(
            Tagged(option_words(text) if own else phrase(text), (f"option:{option.value}",))
            for option in slot.options
            for text in option.phrases
        )
    )


def going_to(places: OptionSlot) -> Expansion:
    """The words for going to a step, and its name."""
    return Sequence((Tagged(word("go_to"), (f"slot:{places.slot}",)), options_of(places)))


def overriding(slots: tuple[OptionSlot, ...]) -> Expansion:
    """Who answers for what holds the visit, and why, in one breath with "override"."""
    role, reason = (Sequence((Tagged(NULL, (f"slot:{slot.slot}",)), options_of(slot, own=False))) for slot in slots)
    return Sequence((Tagged(Word("override"), ("lead:override",)), role, optional(reason)))


def own_words(slots: tuple[Slot, ...]) -> Iterator[Expansion]:
    """Answers to several fields, or to all of a step, besides each with its label; they may follow one another.

    Args:
        slots: All that may be answered; those of other steps have a point in their name.
    """
    options = [slot for slot in slots if isinstance(slot, OptionSlot) and slot.labels and len(slot.sides) < 2]
    own = [slot for slot in options if "." not in slot.slot]
    yield from _bare(slots)
    for slot in options:
        for said, option in ((word("no_such"), _meaning_none(slot)), (word("there_is"), _with(slot, _SOME))):
            if option is not None:
                for label in slot.labels:
                    yield Tagged(Sequence((said, _one_or_more(label))), _tags(slot, option))
    for shared in _phrases_of_several(own):
        yield from _listed([slot for slot in own if _with(slot, shared)], shared)
    yield from _none_of([slot for slot in own if _meaning_none(slot)])


def whole_answers(slots: tuple[Slot, ...]) -> Iterator[Expansion]:
    """One answer for every field of a step: "all firm", "none"."""
    own = [slot for slot in slots if "." not in slot.slot]
    fields = [slot for slot in own if isinstance(slot, OptionSlot) and len(slot.sides) < 2]
    if len(fields) < 2 or len(fields) < len(own):
        return
    every: list[Expansion] = [word("every")]
    every += [word("both")] if len(fields) == 2 else []
    if len(fields) < len(_COUNTS):
        count = Word(_COUNTS[len(fields)])
        every.append(Sequence((Word("all"), count, optional(Word("are")))))
    for shared in _phrases_of_several(fields):
        if all(_with(slot, shared) for slot in fields):
            tags = tuple(tag for slot in fields for tag in _tags(slot, _with(slot, shared)))
            said: list[Expansion] = [Sequence((Choice(tuple(every)), phrase(shared)))]
            if shared not in SIDES:
                said.append(Sequence((phrase(shared), word("everywhere"))))
            yield Tagged(Choice(tuple(said)), tags)
    nothing = [(slot, _meaning_none(slot)) for slot in fields]
    if all(option is not None for _, option in nothing):
        yield Tagged(word("none"), tuple(tag for slot, option in nothing for tag in _tags(slot, option)))


def rest_answers(missing: tuple[Slot, ...]) -> Iterator[Expansion]:
    """One answer for all that a step still wants and that is not named in the same breath: "the rest intact"."""
    fields = [slot for slot in missing if isinstance(slot, OptionSlot) and "." not in slot.slot and len(slot.sides) < 2]
    for shared in dict.fromkeys(text for slot in fields for option in slot.options for text in option.phrases):
        if shared not in SIDES:
            yield Tagged(Sequence((word("the_rest"), phrase(shared))), (f"slot:{THE_REST}", f"phrase:{shared}"))


def none_else(missing: tuple[Slot, ...]) -> Iterator[Expansion]:
    """The word "none" where the rest of a step is given: about the one field that is missing. See `whole_answers`."""
    own = [slot for slot in missing if "." not in slot.slot]
    slot = own[0] if len(own) == 1 else None
    if isinstance(slot, OptionSlot) and len(slot.sides) < 2 and (option := _meaning_none(slot)) is not None:
        yield Tagged(word("none"), _tags(slot, option))


def rest_of(missing: tuple[Slot, ...], named: Collection[str], shared: str) -> list[SlotValue] | None:
    """What "the rest intact" means.

    Args:
        missing: All that is still wanted.
        named: Slots that were named in the same breath.
        shared: The answer.

    Returns:
        A value for each slot of the step that is missing and was not named; None where one of them cannot have it, or
        nothing is left: then nobody knows what was meant.
    """
    rest = [slot for slot in missing if "." not in slot.slot and slot.slot not in named]
    found = [(slot, _with(slot, shared)) for slot in rest if isinstance(slot, OptionSlot) and len(slot.sides) < 2]
    values = [SlotValue(slot.slot, Option(option.value)) for slot, option in found if option is not None]
    return values if values and len(values) == len(rest) else None


def examples(slots: tuple[Slot, ...]) -> Iterator[tuple[str, OptionSlot, OptionPhrases]]:
    """Answers in own words to be tried, each with the first field and the answer that it is about."""
    fields = [slot for slot in slots if isinstance(slot, OptionSlot) and len(slot.sides) < 2 and slot.labels]
    if len(fields) > 1 and len(fields) == len(slots):
        for shared in _phrases_of_several(fields):
            first = _with(fields[0], shared)
            if first is not None and all(_with(slot, shared) for slot in fields):
                yield f"all {shared}", fields[0], first
        nothing = _meaning_none(fields[0])
        if nothing is not None and all(_meaning_none(slot) for slot in fields):
            yield "none", fields[0], nothing
    for slot in fields if len(slots) > 1 else ():
        absent = _meaning_none(slot)
        if absent is not None:
            yield f"no {slot.labels[0]}", slot, absent
    if len(slots) > 1:
        yield from _unlabelled(slots)


def _bare(slots: tuple[Slot, ...]) -> Iterator[Expansion]:
    """Answers that only one field has, without its label."""
    for text, slot, option in _unlabelled(slots):
        yield Tagged(Sequence((optional(word("it_is")), option_words(text))), _tags(slot, option))


def answers_in_front(slots: tuple[Slot, ...]) -> Iterator[Expansion]:
    """Answers that only one field has, before its label: "weak pulse".

    Each is said alone: among others "damaged package, sleeve intact" could be "damaged; package and sleeve intact".
    """
    for text, slot, option in _unlabelled(slots):
        labels = Choice(tuple(phrase(label) for label in slot.labels))
        yield Tagged(Sequence((option_words(text), labels)), _tags(slot, option))


def _unlabelled(slots: tuple[Slot, ...]) -> Iterator[tuple[str, OptionSlot, OptionPhrases]]:
    counted = Counter(
        text for slot in slots if isinstance(slot, OptionSlot) for option in slot.options for text in option.phrases
    )
    whole = {label for slot in slots for label in slot.labels}
    if any(
        longer.startswith(f"{label} ")
        for one in slots
        for other in slots
        if one is not other
        for label in one.labels
        for longer in other.labels
    ):
        return  # after the shorter label an answer without one could be the end of the longer
    labels = {part for label in whole for part in label.split()}
    for slot in slots:
        if not isinstance(slot, OptionSlot) or len(slot.sides) > 1 or not slot.labels:
            continue
        for option in slot.options:
            for text in option.phrases:
                plain = set(text.split())
                if counted[text] == 1 and not plain & labels and text not in NEVER_BARE:
                    yield text, slot, option


def _listed(slots: list[OptionSlot], shared: str) -> Iterator[Expansion]:
    """Two or more labels, in the order of the step, before an answer that all of them have."""
    slots = slots[:_MOST_LISTED]
    for first in range(len(slots) - 1):
        for second in range(first + 1, len(slots)):
            rest = [optional(_another(slot, shared)) for slot in slots[second + 1 :]]
            yield Sequence(
                (
                    Tagged(NULL, _tags(slots[first], _with(slots[first], shared))),
                    optional(word("the")),
                    phrase(slots[first].labels[0]),
                    _another(slots[second], shared),
                    *rest,
                    optional(word("is")),
                    phrase(shared),
                )
            )


def _none_of(slots: list[OptionSlot]) -> Iterator[Expansion]:
    """Two or more labels in the order of the step: "no wound or infection".

    Without "or" the last could be the beginning of "infection present".
    """
    slots = slots[:_MOST_LISTED]
    for first in range(len(slots) - 1):
        for last in range(first + 1, len(slots)):
            between = [optional(_negated(slot)) for slot in slots[first + 1 : last]]
            yield Sequence((word("no_such"), _negated(slots[first]), *between, word("nor"), _negated(slots[last])))


def _negated(slot: OptionSlot) -> Expansion:
    return Tagged(_one_or_more(slot.labels[0]), _tags(slot, _meaning_none(slot)))


def _one_or_more(label: str) -> Expansion:
    """A label and its regular plural: "no blood thinner", "no blood thinners"."""
    plain = phrase(label)
    return plain if label.endswith(("s", "y", "x", "z", "ch", "sh")) else Choice((plain, phrase(f"{label}s")))


def _another(slot: OptionSlot, shared: str) -> Expansion:
    joined = Sequence((optional(Word("and")), optional(word("the")), phrase(slot.labels[0])))
    return Tagged(joined, _tags(slot, _with(slot, shared)))


def _phrases_of_several(slots: list[OptionSlot]) -> list[str]:
    """Answers that more than one field has, each once."""
    counted = Counter(text for slot in slots for text in {text for one in slot.options for text in one.phrases})
    return [text for text, count in counted.items() if count > 1]


def _with(slot: OptionSlot, text: str) -> OptionPhrases | None:
    return next((option for option in slot.options if text in option.phrases), None)


def _meaning_none(slot: OptionSlot) -> OptionPhrases | None:
    return _with(slot, _NONE)


def _tags(slot: OptionSlot, option: OptionPhrases | None) -> tuple[str, ...]:
    return (f"slot:{slot.slot}", f"option:{option.value if option is not None else ''}")


def takes_a_half(slot: NumberSlot) -> bool:
    """Whether "and a half" may be said of a number: it has tenths, or its file says so."""
    return slot.allow_fractions or slot.decimals > 0
