"""What a recogniser, or a typed line, believes was said."""

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema

from handsfree.model.reasons import STRICT

PRESSED = "pressed"
"""What stands for the recogniser where a key was pressed that is set to say something."""
_INFINITE = {"Infinity": math.inf, "-Infinity": -math.inf}


def _read(score: object) -> object:
    return _INFINITE.get(score, score) if isinstance(score, str) else score


def _written(score: float) -> float | str:
    return next((name for name, value in _INFINITE.items() if value == score), score)


Score = Annotated[
    float,
    BeforeValidator(_read),
    PlainSerializer(_written),
    WithJsonSchema({"anyOf": [{"type": "number"}, {"enum": list(_INFINITE)}]}),
]
"""A log-probability; it may be infinite, which JSON has no number for: then it is the word."""
_LEFT_OUT = Field(exclude_if=lambda value: value is None)
"""A member that stands on a line only where it says something: earlier lines of this form do not have it."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """How sure the engine is, before any decision.

    Attributes:
        average_logprob: Natural-log probability per token of the best path inside the grammar, at most 0.
        free_gap: Log-probability of free decoding minus that of the constrained path, nats; large = not in the grammar.
        margin: Log-probability distance to the best path with another meaning, nats, at least 0; infinity if none.
        speech_s: Seconds of speech in the segment.
        signal_to_noise_db: Level of the speech over the noise floor, where measured.
        second_free_gap: The same by a second set of weights that was asked about the path, where one was; piece by
            piece, each against the likeliest in its place.
        second_end_gap: The share of that where the text ends: large where the second weights would have gone on.
        third_margin: How much likelier weights of another family find the text than the best other text that they were
            asked about, nats, below 0 where they find another likelier; infinity where there was no other; None where
            they were not asked.
        third_gap: As `second_free_gap`, by these, of the likeliest way to write the text.
        third_end_gap: The share of that where the text ends.
    """

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT

    average_logprob: Score
    free_gap: Score
    margin: Score
    speech_s: float
    signal_to_noise_db: Score | None = None
    second_free_gap: Score | None = None
    second_end_gap: Score | None = None
    third_margin: Annotated[Score | None, _LEFT_OUT] = None
    third_gap: Annotated[Score | None, _LEFT_OUT] = None
    third_end_gap: Annotated[Score | None, _LEFT_OUT] = None


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One utterance, as heard.

    Attributes:
        words: The words, lower case, in order.
        tags: Meaning tags met along the path, in order; they decide what the words mean.
        spoken_from_s: Session time when the first word began.
        spoken_to_s: Session time when the last word ended.
        engine: Which recogniser, "typed", or `PRESSED`.
        evidence: None for typed input and keys, which are taken at their word.
        runner_up: Words of the best path with another meaning, or None.
        free_text: What the engine would have written without a grammar, if it was asked.
        heat: Probability that a word of heat or pain was said anywhere, 0 … 1; None where nobody looked for one. Never
            written into a line.
        clip: The sound that was recognised, 16-bit mono PCM at 16 kHz, or None; never written into a line.
        goes_on: Whether it is a reading that was reported before and went on after a pause: both parts, heard as one.
            It begins when the first part began, and that is how a record shows it; not written into a line.
        is_part: Whether there was speech beside it, or what may be speech, that is not in its words: it may be part of
            something longer and is not taken without a question. Not written into a line.
    """

    __pydantic_config__: ClassVar[dict[str, object]] = STRICT

    words: tuple[str, ...]
    tags: tuple[str, ...]
    spoken_from_s: float
    spoken_to_s: float
    engine: str
    evidence: Evidence | None = None
    runner_up: tuple[str, ...] | None = None
    free_text: str | None = None
    heat: Annotated[float | None, Field(exclude=True)] = None
    clip: Annotated[bytes | None, Field(exclude=True)] = None
    goes_on: Annotated[bool, Field(exclude=True)] = False
    is_part: Annotated[bool, Field(exclude=True)] = False

    @property
    def text(self) -> str:
        """The words joined by blanks."""
        return " ".join(self.words)


def heard_text(hypothesis: Hypothesis | None, outcome: str) -> str:
    """What a person is shown of an utterance: the words that were taken, else what was written down, legal or not."""
    if hypothesis is None:
        return ""
    if outcome == "not taken":
        return (hypothesis.free_text or "").strip() or hypothesis.text
    return hypothesis.text
