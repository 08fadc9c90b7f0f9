"""Reasons in words."""

from handsfree.model.open_items import OpenHold, OpenItem, OpenLateQuestion, OpenReading, OpenStep, OpenZone
from handsfree.model.reasons import AsWritten, FlaggedAnswer, Ground, Grounds, HeatWordSaid
from handsfree.model.refusals import RefusalReason


def reason_words(reason: Ground | Grounds | RefusalReason | OpenItem) -> str:
    """A reason as a fragment of a sentence."""
    match reason:
        case AsWritten(text=text):
            return text
        case HeatWordSaid(word=word):
            return f"the word {word} was said"
        case FlaggedAnswer(label=label, phrase=phrase):
            return f"{label} {phrase}"
        case Grounds(ground=ground, repeated=repeated):
            return f"{reason_words(ground)}{', repeated' if repeated else ''}"
        case OpenHold(grounds=grounds):
            return f"hold: {reason_words(grounds)}"
        case OpenReading(stage=stage, field=field):
            return f"no value: {stage}.{field}"
        case OpenStep(stage=stage):
            return f"step: {stage}"
        case OpenZone(label=label):
            return f"zone: {label}"
        case OpenLateQuestion():
            return "late heat question"
        case _:
            return reason.type.replace("_", " ")
