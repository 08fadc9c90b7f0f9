"""The sentences about what follows from answers: computed values, and steps that are left out. See `sentence_codes`."""

from dataclasses import dataclass

from handsfree.session.prompts.sentence_codes import Sentence


@dataclass(frozen=True, slots=True)
class ComputedIs(Sentence):
    """A value that follows from others."""

    label: str
    value: str


@dataclass(frozen=True, slots=True)
class InputMissing(Sentence):
    """A value is missing from which another follows: a part of a sentence."""

    name: str


@dataclass(frozen=True, slots=True)
class NoSingleNumber(Sentence):
    """A value from which another follows is a range or a bound: a part of a sentence."""

    name: str


@dataclass(frozen=True, slots=True)
class NotComputed(Sentence):
    """A value that follows from others cannot be computed, and why."""

    label: str
    why: tuple[InputMissing | NoSingleNumber, ...]


@dataclass(frozen=True, slots=True)
class AnswerIs(Sentence):
    """An answer, as a part of a sentence."""

    label: str
    value: str


@dataclass(frozen=True, slots=True)
class AlsoLeftOut(Sentence):
    """A field that nobody is asked for, because its step is left out: a part of a sentence."""

    label: str


@dataclass(frozen=True, slots=True)
class NowLeftOut(Sentence):
    """A stage that was asked or answered is left out, because what its condition hangs on was corrected.

    Attributes:
        why: The answers by which its condition fails.
        prompt: Its prompt.
    """

    why: tuple[AnswerIs | AlsoLeftOut, ...]
    prompt: str
