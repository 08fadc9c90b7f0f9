"""The procedure's own phrases for the codes that a record keeps. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from handsfree.model.baseline import MEANT_FROM_THE_START, BaselineAnswer
from handsfree.model.step_names import NO_NAMES, StepNames
from handsfree.record.display_text import plain

_WENT_AWAY = {
    "answered_again": "another answer took its place",
    "misheard": "the first value had been misheard",
    "step_left_out": "its step was left out",
    "held_against_another_value": "what it comes from, or is held against, was corrected",
    BaselineAnswer.MEANT: "the earlier record was meant",
    BaselineAnswer.LEFT_OUT: "nothing was compared with the earlier record",
    MEANT_FROM_THE_START: "the earlier record was given as meant",
}
"""How a hold went away without an override, by the code that a session keeps."""


class LiftedHold(Protocol):
    """What lifted a hold, as a fact or an account tells it."""

    @property
    def role(self) -> str | None:
        """Who answered for it; None where its cause went away."""

    @property
    def reason(self) -> str:
        """Identifier of the reason in the file, or of how the cause went away."""

    @property
    def code(self) -> str | None:
        """Code of the person, where another than the operator answered."""


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

    def lifted_by(self, lifted: LiftedHold) -> str:
        """Who lifted a hold, in words."""
        if lifted.role is not None:
            return self.person(lifted.role, lifted.code)
        return "whoever began it" if lifted.reason == MEANT_FROM_THE_START else "whoever answered"

    def lifted_because(self, lifted: LiftedHold) -> str:
        """Why a hold went away, in words: the reason of the file only where a person answered for it."""
        if lifted.role is not None:
            return self.override_reason(lifted.reason)
        return _WENT_AWAY.get(lifted.reason.replace(" ", "_")) or plain(lifted.reason)


CODES_ALONE = CodePhrases()
"""Where no procedure is at hand."""
