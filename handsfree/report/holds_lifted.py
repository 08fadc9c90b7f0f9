"""Each hold of a visit with what lifted it. Pure."""

from handsfree.model.baseline import MEANT_FROM_THE_START
from handsfree.model.facts import HoldLifted, HoldSet
from handsfree.record.code_phrases import CodePhrases
from handsfree.record.contents import Record, RecordedFact

HoldPair = tuple[RecordedFact[HoldSet], RecordedFact[HoldLifted] | None]


def holds(record: Record) -> tuple[HoldPair, ...]:
    """Every hold in order, with the first later lifting of the same grounds; None where nobody lifted it."""
    liftings = list(record.of(HoldLifted))
    found: list[HoldPair] = []
    for held in record.of(HoldSet):
        lifted = next((one for one in liftings if one.fact.grounds == held.fact.grounds and one.seq > held.seq), None)
        if lifted is not None:
            liftings.remove(lifted)
        found.append((held, lifted))
    return tuple(found)


def standing_holds(record: Record) -> tuple[RecordedFact[HoldSet], ...]:
    """The holds that nobody lifted."""
    return tuple(held for held, lifted in holds(record) if lifted is None)


def lifted_by(lifted: HoldLifted, phrases: CodePhrases) -> str:
    """Who lifted a hold, in words."""
    if lifted.role is not None:
        return phrases.person(lifted.role, lifted.code)
    return "whoever began it" if lifted.reason == MEANT_FROM_THE_START else "whoever answered"
