"""Whether a reading that was heard is likely to go on: a pause inside it must not make a shorter one of it."""

from decimal import Decimal

from handsfree.model.commands import GiveValues, IdentifierSlot, NumberSlot, Slot, SlotValue, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Ambiguous, Exact, NeedsAsking, Refused, SpelledText
from handsfree.understanding.interpreter import interpret


def is_unfinished(hypothesis: Hypothesis, wanted: Wanted) -> bool:
    """Whether more is likely to follow: "one seven" where tenths are asked for, "one" where at least ten is plausible.

    What cannot be taken as it stands may be half of what can; to wait for more of it costs nobody a reading. Digits to
    which another may be added are waited for as well, because most pauses in a number lie between its digits.

    Args:
        hypothesis: What was heard so far.
        wanted: What it may answer.
    """
    command = interpret(hypothesis, wanted)
    slots = {slot.slot: slot for slot in wanted.all_slots}
    if not isinstance(command, GiveValues):
        return False
    *_, last = hypothesis.tags
    return any(_is_short(given, slots[given.slot], ends_in_digit=last.startswith("digit:")) for given in command.values)


def _is_short(given: SlotValue, slot: Slot, *, ends_in_digit: bool) -> bool:
    match given.value:
        case Ambiguous() | NeedsAsking() | Refused():
            return True
        case Exact(value=value, decimals=decimals) if isinstance(slot, NumberSlot):
            return decimals < slot.decimals or (ends_in_digit and not decimals and _takes_digit(value, slot))
        case SpelledText(text=text) if isinstance(slot, IdentifierSlot):
            return len(text) < slot.max_length
        case _:
            return False


def _takes_digit(value: Decimal, slot: NumberSlot) -> bool:
    """Whether a whole number is plausible with another digit behind it."""
    longer = sorted(10 * value + (digit if value >= 0 else -digit) for digit in (0, 9))
    return value != 0 and longer[0] <= slot.high and longer[1] >= slot.low
