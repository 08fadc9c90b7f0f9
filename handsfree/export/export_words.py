"""The words that an export is given for the codes of a record: neither sentences nor procedures are known here."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from handsfree.model.open_items import OpenItem
from handsfree.model.reasons import Grounds
from handsfree.record.code_phrases import CODES_ALONE, CodePhrases

ReasonWords = Callable[[Grounds | OpenItem], str]
"""Puts a reason into words."""


@dataclass(frozen=True, slots=True)
class ExportWords:
    """What codes of a record are in words.

    Attributes:
        reason: Puts reasons and what was left open into words.
        phrases: What the procedure calls roles and reasons.
        told: What the tool told to do at a hold, by its line; missing where only a procedure that is not at hand tells.
    """

    reason: ReasonWords
    phrases: CodePhrases = CODES_ALONE
    told: Mapping[int, str] = field(default_factory=dict)
