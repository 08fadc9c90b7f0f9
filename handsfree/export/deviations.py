"""Where a visit did not go as its procedure says: stops, holds, skips, overrides, an early end, in words. Pure."""

from collections.abc import Iterator

from handsfree.export.answered_for import answer_words
from handsfree.export.export_words import ExportWords
from handsfree.model.facts import (
    AnyFact,
    HoldKept,
    HoldLifted,
    HoldSet,
    MoreLightAsked,
    StepOverridden,
    StepSkipped,
    StopWordHeard,
    VisitEndedEarly,
)
from handsfree.record.contents import Record, RecordedFact
from handsfree.record.display_text import plain

NOT_AT_HAND = "what its procedure says, which is not at hand."


def deviations(record: Record, words: ExportWords) -> Iterator[tuple[RecordedFact[AnyFact], str]]:
    """Every such fact with its words, in order."""
    for one in record.facts:
        told = deviation_words(one, words)
        if told:
            yield one, told


def deviation_words(recorded: RecordedFact[AnyFact], words: ExportWords) -> str:
    """What one fact says of it; "" where it is of nothing of the kind."""
    fact, phrases = recorded.fact, words.phrases
    match fact:
        case HoldSet(hold=hold, stage=stage, grounds=grounds):
            told = words.told.get(recorded.seq, NOT_AT_HAND)
            held = "red flag" if hold == "red" else "held"
            return f"{held} at {phrases.names.stage(stage)}: {words.reason(grounds.unnumbered)}. Told: {told}"
        case HoldLifted(role=None, grounds=grounds):
            by = f"lifted by {phrases.lifted_by(fact)}: {phrases.lifted_because(fact)}"
            return f"{by} (it was held because {words.reason(grounds)})"
        case StopWordHeard(word=word, while_lit=while_lit):
            return f"stop word {word}" + (" in the light" if while_lit else "")
        case StepSkipped(stage=stage, reason=reason):
            return f"skipped {phrases.names.stage(stage)}: {phrases.skip_reason(reason)}"
        case StepOverridden(stage=stage, role=role, reason=reason):
            return f"overridden {phrases.names.stage(stage)} by {phrases.role(role)}: {phrases.override_reason(reason)}"
        case HoldKept(grounds=grounds):
            return f"held still, the value had not been misheard: {words.reason(grounds)}"
        case MoreLightAsked(zone=zone):
            return f"more light was asked for: {plain(zone)}"
        case VisitEndedEarly(stage=stage, role=role, reason=reason, code=code):
            who = f"{phrases.person(role, code)}: {phrases.override_reason(reason)}"
            return f"visit ended early at {phrases.names.stage(stage)} by {who}"
        case _:
            return answer_words(fact, words)
