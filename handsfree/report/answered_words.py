"""What somebody answered for besides holds, as summary and page say it: missing values, a zone left, an early end."""

from handsfree.model.facts import AnyFact, GapsAccepted, VisitEndedEarly, ZoneLeft
from handsfree.record.code_phrases import CodePhrases
from handsfree.record.contents import Record
from handsfree.record.display_values import zone_name


def answered_words(record: Record, fact: AnyFact, phrases: CodePhrases) -> str:
    """Who answered for what, and why; "" for other facts."""
    match fact:
        case ZoneLeft(zone=zone, role=role, reason=reason, code=code):
            who = f"{phrases.person(role, code)}: {phrases.override_reason(reason)}"
            return f"Left short of light, {zone_name(record, zone)}, by {who}"
        case GapsAccepted(role=role, reason=reason, gaps=gaps, code=code):
            listed = ", ".join(phrases.names.reading(gap.stage, gap.field) for gap in gaps)
            who = f"{phrases.person(role, code)}, {phrases.override_reason(reason)}"
            return f"Missing values accepted by {who}: {listed}"
        case VisitEndedEarly(role=role, reason=reason, code=code):
            return f"Visit ended early by {phrases.person(role, code)}: {phrases.override_reason(reason)}"
        case _:
            return ""
