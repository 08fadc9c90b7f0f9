"""A breath of narration to the values that it gives: which item each is of, told by label, topic, side and answer.

Whatever could be meant for two is asked about, never guessed.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from handsfree.model.commands import (
    DateSlot,
    GiveValues,
    IdentifierSlot,
    Narration,
    NumberSlot,
    OptionSlot,
    Slot,
    SlotValue,
    Wanted,
)
from handsfree.model.readings import HowToSay, NeedsAsking, Option, Side, SpokenValue
from handsfree.understanding.narrated_graph import BOTH, REST, WHOSE

ReadValue = Callable[[Slot, tuple[str, ...]], SpokenValue]
"""The value that the tags of an answer give to a slot."""
Lead = Literal["", "affirm", "correct", "override"]
_LEADS: tuple[Lead, ...] = ("affirm", "correct", "override")


@dataclass
class _Item:
    """One value of a breath, as it was said.

    Attributes:
        label: Its label; "" where it was reported as done.
        slot: The slot, where the words name it, or `REST`; "" where the label must tell.
        topic: Step of the topic word before it; "" where there was none.
        side: Side that was said with it or before it, or None.
        both: Whether it was said of both sides.
        own_side: Whether the side was said with this value itself.
        tags: What was said for its value.
    """

    label: str
    slot: str
    topic: str
    side: Side | None
    both: bool
    own_side: bool
    tags: list[str]


def is_narrated(tags: tuple[str, ...]) -> bool:
    """Whether tags are those of a breath of narration."""
    return any(tag.startswith(("label:", "done:", f"{REST}:", f"{WHOSE}:")) for tag in tags)


def is_side_alone(tags: tuple[str, ...]) -> bool:
    """Whether tags are those of a side that was said alone."""
    return bool(tags) and tags[0].startswith(f"{WHOSE}:")


def read_narration(tags: tuple[str, ...], wanted: Wanted, read: ReadValue) -> GiveValues | None:
    """The values of a breath, each of its slot.

    Args:
        tags: What was said, in order.
        wanted: What may be answered.
        read: Reads the value of one slot.

    Returns:
        The values; what cannot be told apart as `NeedsAsking`. None where the tags are of nothing that is wanted.
    """
    narration = wanted.narration
    if narration is None:
        return None
    if is_side_alone(tags):
        return _sided_now(tags[0].partition(":")[2], wanted, narration, read)
    values: list[SlotValue] = []
    rests: list[tuple[_Item, SlotValue | None]] = []
    for item in _items(tags):
        if item.slot == REST:
            rests.append((item, values[-1] if values else None))
            continue
        value = _resolved(item, wanted.slots, narration, read)
        if value is None:
            return None
        values += value
    for item, after in rests:
        rest = _rest(item, after, values, wanted.slots, narration)
        if rest is None:
            return None
        values += rest
    return GiveValues(tuple(values), lead_of(tags)) if values else None


def _sided_now(side: str, wanted: Wanted, narration: Narration, read: ReadValue) -> GiveValues | None:
    """What a breath means whose side was asked about and is said now: all of it that has a side, and only that."""
    whole = read_narration((f"side:{side}", *narration.unsided), wanted, read) if narration.unsided else None
    values = tuple(one for one in whole.values if one.side is not None or asks_for_side(one)) if whole else ()
    return GiveValues(values) if values else None


def asks_for_side(given: SlotValue) -> bool:
    """Whether it must be asked of which side a value is."""
    return isinstance(given.value, NeedsAsking) and given.value.code is HowToSay.WHICH_SIDE


def lead_of(tags: tuple[str, ...]) -> Lead:
    """What was said before the values of a breath. See `GiveValues`."""
    return next((lead for lead in _LEADS if tags[:1] == (f"lead:{lead}",)), "")


def _items(tags: tuple[str, ...]) -> Iterator[_Item]:
    side: Side | None = None
    both = False
    topic = ""
    item: _Item | None = None
    for tag in tags:
        kind, _, what = tag.partition(":")
        if kind in {"label", "done", "topic", REST} and item is not None and (item.tags or kind == "topic"):
            yield item
            item = None
        match kind:
            case "lead":
                pass
            case "topic":
                topic = what
            case "label":
                item = _Item(what, "", topic, side, both=both, own_side=False, tags=[])
            case "done":
                item = _Item("", what, topic, side, both=both, own_side=False, tags=[])
            case "rest":
                item = _Item("", REST, topic, side, both=both, own_side=False, tags=[])
            case "side" if item is not None and not item.tags:
                item.side, item.both, item.own_side = Side(what), False, True
            case "side":
                # Said before a topic: of what comes after it.
                if item is not None:
                    yield item
                    item = None
                both = what == BOTH
                side = None if both else Side(what)
            case "after" if item is not None:
                item.side, item.both, item.own_side = Side(what), False, True
            case _:
                if item is not None:
                    item.tags.append(tag)
    if item is not None:
        yield item


def _resolved(
    item: _Item, slots: tuple[Slot, ...], narration: Narration, read: ReadValue
) -> tuple[SlotValue, ...] | None:
    """The value of an item, or of both sides; None where nothing that is wanted is called so."""
    if item.slot:
        named = next((slot for slot in slots if slot.slot == item.slot), None)
        return (SlotValue(named.slot, read(named, _as_option(named, item.tags))),) if named is not None else None
    fitting = [slot for slot in slots if item.label in slot.labels and _fits(slot, item.tags)]
    if not fitting:
        return None
    chosen = _chosen(fitting, item, narration)
    if len(chosen) > 1:
        topics = dict(narration.topics)
        ways = tuple(topics[_step(slot)][0] for slot in chosen if topics.get(_step(slot)))
        return (SlotValue(chosen[0].slot, NeedsAsking(HowToSay.WHICH_ONE, ways), item.side),)
    slot = chosen[0]
    sides = slot.sides if isinstance(slot, NumberSlot | OptionSlot) else ()
    if sides and item.both and isinstance(slot, OptionSlot):
        return tuple(SlotValue(slot.slot, read(slot, _as_option(slot, item.tags)), side) for side in sides)
    side = item.side if sides or item.own_side else None
    if sides and side is None:
        # A measure is of one side, whatever was said of both.
        side = narration.side if narration.here == _step(slot) and not item.both else None
        if side is None:
            return (SlotValue(slot.slot, NeedsAsking(HowToSay.WHICH_SIDE)),)
    return (SlotValue(slot.slot, read(slot, _as_option(slot, item.tags)), side),)


def _rest(
    item: _Item, after: SlotValue | None, named: list[SlotValue], slots: tuple[Slot, ...], narration: Narration
) -> list[SlotValue] | None:
    """What "the rest intact" means: of the step that was spoken of, all that has no value and was not named.

    Args:
        item: What was said.
        after: The value before it in the breath, or None.
        named: All values of the breath that were named.
        slots: Everything that may be answered.
        narration: What is open.

    Returns:
        A value for each. Where one of them cannot have it, or nothing is left, a question; None where no step was
        spoken of.
    """
    step = item.topic if after is None else after.slot.partition(".")[0]
    step = step or narration.here
    own = [slot for slot in slots if _step(slot) == step and slot.labels]
    if not own:
        return None
    side = item.side or (after.side if after is not None else narration.side)
    left = [
        (slot, of)
        for slot in own
        for of in (slot.sides if isinstance(slot, NumberSlot | OptionSlot) and slot.sides else (None,))
        if (slot.slot, of) in narration.open
        and (item.both or of is None or of is side)
        and all(one.slot != slot.slot or one.side not in {None, of} for one in named)
    ]
    odd = next((slot for slot, _ in left if not _fits(slot, item.tags)), None)
    if odd is not None or not left:
        # Of a slot that was named the question would put the answer itself in doubt.
        unnamed = next((slot for slot in own if all(one.slot != slot.slot for one in named)), own[0])
        return [SlotValue((odd or unnamed).slot, NeedsAsking(HowToSay.EACH_BY_ITSELF), side)]
    return [
        SlotValue(slot.slot, Option(_as_option(slot, item.tags)[0].removeprefix("option:")), of, of_the_rest=True)
        for slot, of in left
    ]


def _chosen(fitting: list[Slot], item: _Item, narration: Narration) -> list[Slot]:
    """Of slots with one label, those of the topic that was named; else, of several, the one spoken of last."""
    of_topic = [slot for slot in fitting if _step(slot) == item.topic]
    if of_topic:
        return of_topic
    here = [slot for slot in fitting if _step(slot) == narration.here]
    return here if len(fitting) > 1 and here else fitting


def _step(slot: Slot) -> str:
    return slot.slot.partition(".")[0]


def _fits(slot: Slot, tags: list[str]) -> bool:
    """Whether an answer is one of a slot."""
    first = tags[0] if tags else ""
    match slot:
        case NumberSlot(unit=unit, allow_absent=absent):
            return first in {f"value:{unit}"} or first.startswith("refuse:") or (absent and first.startswith("absent:"))
        case OptionSlot(options=options, allow_absent=absent):
            said = any(first == f"said:{phrase}" for option in options for phrase in option.phrases)
            return said or first.startswith("refuse:") or (absent and first.startswith("absent:"))
        case IdentifierSlot():
            return first == "value:code"
        case DateSlot():
            return first == "value:date"


def _as_option(slot: Slot, tags: list[str]) -> tuple[str, ...]:
    """The tags of a value as the slot alone would have them."""
    first = tags[0] if tags else ""
    if isinstance(slot, OptionSlot) and first.startswith("said:"):
        said = first.removeprefix("said:")
        found = next(
            (one.value for one in slot.options if said in one.phrases or (not slot.labels and said == one.value)), ""
        )
        return (f"option:{found}",)
    return tuple(tags[1:]) if first.startswith("value:") else tuple(tags)
