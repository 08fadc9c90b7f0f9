"""The words that an export is given for the codes of a record: neither sentences nor procedures are known here."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from handsfree.record.account_words import ReasonWords
from handsfree.record.code_phrases import CODES_ALONE, CodePhrases


@dataclass(frozen=True, slots=True)
class PublishedCode:
    """What a field is called in a published system, as the author of the procedure states it.

    Attributes:
        system: Address of the system.
        code: The code.
        display: What the system calls it.
    """

    system: str
    code: str
    display: str


@dataclass(frozen=True, slots=True)
class ExportWords:
    """What codes of a record are in words.

    Attributes:
        reason: Puts reasons and what was left open into words.
        phrases: What the procedure calls roles and reasons.
        told: What the tool told to do at a hold, by its line; missing where only a procedure that is not at hand tells.
        codes: Published codes of fields, by step and field; none where its very version is not at hand.
    """

    reason: ReasonWords
    phrases: CodePhrases = CODES_ALONE
    told: Mapping[int, str] = field(default_factory=dict)
    codes: Mapping[tuple[str, str], PublishedCode] = field(default_factory=dict)
