"""The procedure's own phrases for the codes that a record keeps. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from handsfree.model.facts import HoldLifted
from handsfree.model.step_names import NO_NAMES, StepNames
from handsfree.record.display_text import plain


@dataclass(frozen=True, slots=True)
class CodePhrases:
    """What a procedure calls the roles and reasons of whoever answers for something, and its steps.

    A code without a phrase is shown as an identifier in words: so they all are where the very version of the procedure
    is not at hand, because another version may mean something else by them.

    Attributes:
        roles: First phrase of each role, by its code.
        override_reasons: First phrase of each reason to lift, to accept or to end, by its code.
        skip_reasons: First phrase of each reason to leave something out, by its code.
        names: What its steps and their fields are called.
    """

    roles: Mapping[str, str] = field(default_factory=dict)
    override_reasons: Mapping[str, str] = field(default_factory=dict)
    skip_reasons: Mapping[str, str] = field(default_factory=dict)
    names: StepNames = NO_NAMES

    def role(self, code: str) -> str:
        """A role in words."""
        return self.roles.get(code) or plain(code)

    def override_reason(self, code: str) -> str:
        """The reason of an override in words."""
        return self.override_reasons.get(code) or plain(code)

    def skip_reason(self, code: str) -> str:
        """Why a step was left out, in words."""
        return self.skip_reasons.get(code) or plain(code)

    def person(self, role: str, code: str | None) -> str:
        """Who answered for something: the role, with a code where another than the operator did."""
        return f"{self.role(role)}, code {code}" if code is not None else self.role(role)

    def lifted_because(self, lifted: HoldLifted) -> str:
        """Why a hold went away, in words: the reason of the file only where a person answered for it."""
        return self.override_reason(lifted.reason) if lifted.role is not None else plain(lifted.reason)


CODES_ALONE = CodePhrases()
"""Where no procedure is at hand."""
