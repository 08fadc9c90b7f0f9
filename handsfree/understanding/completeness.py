"""Whether a reading that was heard is likely to go on: a pause inside it must not make a shorter one of it."""

from handsfree.model.commands import GiveValues, NumberSlot, Slot, SlotValue, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.model.readings import Ambiguous, Exact, NeedsAsking, Refused
from handsfree.understanding.interpreter import interpret


def is_unfinished(hypothesis: Hypothesis, wanted: Wanted) -> bool:
    """Whether more is likely to follow: "one seven" where tenths are asked for, "one" where at least ten is plausible.

    What cannot be taken as it stands may be half of what can; to wait for more of it costs nobody a reading.

    Args:
        hypothesis: What was heard so far.
        wanted: What it may answer.
    """
    command = interpret(hypothesis, wanted)
    slots = {slot.slot: slot for slot in wanted.slots}
    return isinstance(command, GiveValues) and any(_is_short(given, slots[given.slot]) for given in command.values)


def _is_short(given: SlotValue, slot: Slot) -> bool:
    match given.value:
        case Ambiguous() | NeedsAsking() | Refused():
            return True
        case Exact(decimals=decimals) if isinstance(slot, NumberSlot):
            return decimals < slot.decimals
        case _:
            return False
