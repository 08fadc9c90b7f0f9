"""What all facts share."""

from dataclasses import dataclass
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from handsfree.model.hypotheses import PRESSED
from handsfree.model.readings import Absent, Between, Beyond, Exact, Option, SpelledText, SpokenDate
from handsfree.model.reasons import STRICT

Phase = Literal["before", "during", "after"]
KeptValue = Exact | Between | Beyond | Absent | Option | SpelledText | SpokenDate
"""A value that may stand in the record."""
StatedSeconds = Annotated[float | None, Field(exclude_if=lambda seconds: seconds is None)]
"""Seconds that a line may leave out: None is not written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """Base of all facts."""

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT


@dataclass(frozen=True, slots=True, kw_only=True)
class Utterance:
    """Words as they were heard, kept beside whatever came of them.

    Attributes:
        text: The words.
        probability: Estimated probability that the meaning is right, 0 … 1; 1 for typed words and keys.
        runner_up: What else it may have been, or None.
        engine: Which recogniser, "typed", or "pressed" for a key that is set to say these words.
        spoken_from_s: Session time when the first word began, seconds.
        spoken_to_s: Session time when the last word ended, seconds.
    """

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT

    text: str
    probability: float
    runner_up: str | None
    engine: str
    spoken_from_s: float
    spoken_to_s: float

    @property
    def typed(self) -> bool:
        """Whether it was typed; a typed line has no score."""
        return self.engine == "typed"

    @property
    def pressed(self) -> bool:
        """Whether a key was pressed that is set to say it; nobody said it."""
        return self.engine == PRESSED
