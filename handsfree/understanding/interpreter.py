"""A hypothesis to the command that it means: the tags decide, never the sound of the words."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from handsfree.model.commands import (
    Command,
    Control,
    ControlCommand,
    DateSlot,
    DictateText,
    GiveValues,
    IdentifierSlot,
    NumberSlot,
    OptionSlot,
    Slot,
    SlotValue,
    Wanted,
)
from handsfree.model.hypotheses import PRESSED, Hypothesis
from handsfree.model.readings import Absent, AbsentReason, HowToSay, NeedsAsking, Option, Refused, Side, SpokenValue
from handsfree.understanding.dates import read_date
from handsfree.understanding.identifiers import read_spelled
from handsfree.understanding.listening_graph import match_said
from handsfree.understanding.narration import is_narrated, lead_of, read_narration
from handsfree.understanding.numbers import read_number
from handsfree.understanding.phrase_book import THE_REST, rest_of
from handsfree.understanding.scanned_label import SCAN, read_scan, scanned_tags
from handsfree.understanding.typed_text import is_command, may_be_words, spoken_forms, without_codes

PRESSED_WORDS: Mapping[Control, tuple[str, ...]] = {
    Control.AFFIRM: ("affirmative",),
    Control.SAY_AGAIN: ("say", "again"),
    Control.STOP: ("stop",),
}
"""What keys can be set to, in the words of the grammars."""
_END_OF_NOTE = ("end", "note")


def interpret(hypothesis: Hypothesis, wanted: Wanted) -> Command | None:
    """The command that was meant.

    Args:
        hypothesis: What was heard or typed.
        wanted: What is legal now.

    Returns:
        The command, or None if the words mean nothing that is legal now. Unclear and refused values are part of
        `GiveValues`; they are not None.
    """
    if wanted.dictation:
        return _dictated(hypothesis, wanted)
    control = _control(hypothesis.tags)
    if control is not None:
        return ControlCommand(control) if control in wanted.all_controls else None
    if hypothesis.tags and hypothesis.tags[0].startswith(SCAN):
        return read_scan(hypothesis.tags)
    if is_narrated(hypothesis.tags):
        earlier = wanted.earlier if wanted.narration is None else None
        told = Wanted(slots=earlier.slots, narration=earlier.narration) if earlier is not None else wanted
        breath = read_narration(hypothesis.tags, told, _value)
        return replace(breath, values=_said_once([*breath.values])) if breath is not None else None
    values: list[SlotValue] = []
    lead = lead_of(hypothesis.tags)
    said = hypothesis.tags[1:] if lead else hypothesis.tags
    leading = _leading_side(said)
    slots = {slot.slot: slot for slot in wanted.all_slots}
    for name, tags in _by_slot(said):
        if name == THE_REST:
            rest = rest_of(wanted.slots, {value.slot for value in values}, tags[0].removeprefix("phrase:"))
            if rest is None:
                return None
            values += [replace(value, side=leading) for value in rest]
            continue
        slot = slots.get(name)
        if slot is None:
            return None
        values += [SlotValue(name, _value(slot, part), side or leading) for side, part in _by_side(tags)]
    if not values:
        return None
    return GiveValues(_said_once(values), lead)


def typed(text: str, wanted: Wanted, at_s: float) -> Hypothesis | None:
    """A typed line as a hypothesis: the words that are heard, and digits such as "17.5", which are taken here alone.

    Where a code is asked for, words that are none, and commands that are not legal now, are refused with how to spell
    one; nobody's sentence is a code.

    Args:
        text: The line.
        wanted: What is legal now.
        at_s: Session time in seconds at which it was typed.

    Returns:
        None if the line is nothing that is legal now.
    """
    scanned = scanned_tags(text, wanted)
    if scanned is not None:
        return Hypothesis(tuple(text.split()), scanned, at_s, at_s, "typed")
    command = is_command(text)
    legal = without_codes(wanted) if command else wanted
    for words in spoken_forms(text, legal):
        found = match_said(legal, words, written=True)
        if found is not None:
            return Hypothesis(words, found.tags, at_s, at_s, "typed")
    if wanted.dictation and text.split():
        return Hypothesis(tuple(text.split()), (), at_s, at_s, "typed", free_text=text.strip())
    code = next((slot for slot in wanted.slots if isinstance(slot, IdentifierSlot)), None)
    is_asked = code is not None and wanted.narration is None and Control.CRY not in wanted.controls
    if code is not None and is_asked and (command or may_be_words(text)):
        ask = (f"slot:{code.slot}", f"ask:{HowToSay.SPELL_ONE_BY_ONE}")
        return Hypothesis(tuple(text.split()), ask, at_s, at_s, "typed")
    return None


def pressed(control: Control, at_s: float) -> Hypothesis:
    """A key as a hypothesis: the words that it is set to say.

    Args:
        control: What it is set to; one of `PRESSED_WORDS`.
        at_s: Session time in seconds at which it was pressed.
    """
    return Hypothesis(PRESSED_WORDS[control], (f"control:{control.value}",), at_s, at_s, PRESSED)


def _control(tags: tuple[str, ...]) -> Control | None:
    if len(tags) == 1 and tags[0].startswith("control:"):
        return Control(tags[0].removeprefix("control:"))
    return None


def _leading_side(tags: tuple[str, ...]) -> Side | None:
    """The side said once before the first label."""
    return Side(tags[0].removeprefix("side:")) if tags and tags[0].startswith("side:") else None


def _dictated(hypothesis: Hypothesis, wanted: Wanted) -> Command | None:
    """Text, unless the whole utterance is a command; a closing "end note" is not part of the text."""
    words = tuple(word.lower().strip(".,;:!?") for word in hypothesis.words)
    found = match_said(wanted, words, written=False)
    control = _control(hypothesis.tags or (found.tags if found else ()))
    if control is not None:
        return ControlCommand(control) if control in wanted.all_controls else None
    kept = hypothesis.words[:-2] if words[-2:] == _END_OF_NOTE else hypothesis.words
    text = " ".join(kept)
    return DictateText(text) if text else None


def _by_slot(tags: tuple[str, ...]) -> Iterator[tuple[str, tuple[str, ...]]]:
    starts = [index for index, tag in enumerate(tags) if tag.startswith("slot:")]
    for start, end in zip(starts, [*starts[1:], len(tags)][: len(starts)], strict=True):
        yield tags[start].removeprefix("slot:"), tags[start + 1 : end]


def _by_side(tags: tuple[str, ...]) -> Iterator[tuple[Side | None, tuple[str, ...]]]:
    """Each value with the side said before it. A side said after it leads to a question."""
    sides = [index for index, tag in enumerate(tags) if tag.startswith("side:")]
    if not sides:
        yield None, tags
    elif sides[0] > 0:
        yield Side(tags[sides[0]].removeprefix("side:")), (f"ask:{HowToSay.SIDE_FIRST}",)
    else:
        for start, end in zip(sides, [*sides[1:], len(tags)], strict=True):
            yield Side(tags[start].removeprefix("side:")), tags[start + 1 : end]


def _value(slot: Slot, tags: tuple[str, ...]) -> SpokenValue:
    if tags and tags[0].startswith("refuse:"):
        return Refused(HowToSay(tags[0].removeprefix("refuse:")))
    if tags and tags[0].startswith("ask:"):
        return NeedsAsking(HowToSay(tags[0].removeprefix("ask:")))
    if tags and tags[0].startswith("absent:"):
        return Absent(AbsentReason(tags[0].removeprefix("absent:")))
    match slot:
        case NumberSlot():
            return read_number(tags, slot)
        case OptionSlot():
            chosen = tags[0].removeprefix("option:") if len(tags) == 1 else ""
            if chosen in {option.value for option in slot.options}:
                return Option(chosen)
            return NeedsAsking(HowToSay.ONE_OF_THE_LIST)
        case IdentifierSlot():
            return read_spelled(tags, slot)
        case DateSlot():
            return read_date(tags, slot)


def _said_once(values: list[SlotValue]) -> tuple[SlotValue, ...]:
    """A field said twice in one breath is asked for again."""
    kept: dict[tuple[str, Side | None], SlotValue] = {}
    for value in values:
        key = (value.slot, value.side)
        if key in kept:
            value = SlotValue(value.slot, NeedsAsking(HowToSay.SAID_TWICE), value.side)
        kept[key] = value
    return tuple(kept.values())
