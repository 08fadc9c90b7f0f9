"""Who lifted a hold, in words. Pure."""

from handsfree.model.baseline import MEANT_FROM_THE_START
from handsfree.model.facts import HoldLifted
from handsfree.record.code_phrases import CodePhrases


def lifted_by(lifted: HoldLifted, phrases: CodePhrases) -> str:
    """Who lifted a hold, in words."""
    if lifted.role is not None:
        return phrases.person(lifted.role, lifted.code)
    return "whoever began it" if lifted.reason == MEANT_FROM_THE_START else "whoever answered"
