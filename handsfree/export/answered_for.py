"""What somebody answered for in a visit: a hold that was overridden, missing values, a zone that was left. Pure."""

from handsfree.export.export_words import ExportWords
from handsfree.model.facts import AnyFact, GapsAccepted, HoldLifted, ZoneLeft
from handsfree.record.display_text import plain


def answer_words(fact: AnyFact, words: ExportWords) -> str:
    """Who answered for what, and why; "" where a fact is of nothing that anybody answered for."""
    phrases = words.phrases
    match fact:
        case HoldLifted(role=str(role), grounds=grounds, code=code):
            who = f"{phrases.person(role, code)}: {phrases.lifted_because(fact)}"
            return f"lifted by {who} (it was held because {words.reason(grounds)})"
        case ZoneLeft(zone=zone, role=role, reason=reason, code=code):
            who = f"{phrases.person(role, code)}: {phrases.override_reason(reason)}"
            return f"left short of light, {plain(zone)}, by {who}"
        case GapsAccepted(role=role, reason=reason, code=code):
            return f"missing values accepted by {phrases.person(role, code)}: {phrases.override_reason(reason)}"
        case _:
            return ""
