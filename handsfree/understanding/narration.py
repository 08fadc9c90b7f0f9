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
from handsfree.model.readings import HowToSay, NeedsAsking, Side, SpokenValue
from handsfree.understanding.narrated_graph import BOTH

ReadValue = Callable[[Slot, tuple[str, ...]], SpokenValue]
"""The value that the tags of an answer give to a slot."""


@dataclass
class _Item:
    """One value of a breath, as it was said.

    Attributes:
        label: Its label; "" where it was reported as done.
        slot: The slot, where the words name it; "" where the label must tell.
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
    return any(tag.startswith(("label:", "done:")) for tag in tags)


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
    values: list[SlotValue] = []
    for item in _items(tags):
        value = _resolved(item, wanted.slots, narration, read)
        if value is None:
            return None
        values += value
    lead: Literal["", "affirm", "correct"] = ""
    if tags[0] == "lead:affirm":
        lead = "affirm"
    elif tags[0] == "lead:correct":
        lead = "correct"
    return GiveValues(tuple(values), lead) if values else None


def _items(tags: tuple[str, ...]) -> Iterator[_Item]:
    side: Side | None = None
    both = False
    topic = ""
    item: _Item | None = None
    for tag in tags:
        kind, _, what = tag.partition(":")
        if kind in {"label", "done", "topic"} and item is not None and (item.tags or kind == "topic"):
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
