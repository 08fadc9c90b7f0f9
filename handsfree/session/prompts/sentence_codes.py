"""The sentences of a visit, as codes with typed arguments. Their words stand in a catalogue for each language.

A sentence that needs no argument is a member of `Fixed`. The others are types of their own, whose code is the name of
the type in small letters. Words of the procedure file (prompts, labels, actions) come in as text.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from handsfree.model.effects import Priority
from handsfree.model.open_items import OpenItem
from handsfree.model.reasons import Grounds
from handsfree.model.refusals import RefusalReason
from handsfree.session.prompts.fixed import Consequence, Fixed, HoldAction
from handsfree.session.prompts.hints import AnyHint


@dataclass(frozen=True, slots=True)
class Sentence:
    """Base of sentences with arguments."""


@dataclass(frozen=True, slots=True)
class FileText(Sentence):
    """The procedure file's own words."""

    text: str


@dataclass(frozen=True, slots=True)
class RefusedBecause(Sentence):
    """Something was not taken, and why.

    Attributes:
        reason: Why.
        before: Of a step that must be done first, its prompt in the file's words; else "".
    """

    reason: RefusalReason
    before: str = ""


@dataclass(frozen=True, slots=True)
class DidYouSay(Sentence):
    """Words that were heard with doubt."""

    words: str


@dataclass(frozen=True, slots=True)
class InsistedOn(Sentence):
    """A number that cannot be was said again: it goes on record as refused, and the field has no value."""

    label: str
    said: Decimal


@dataclass(frozen=True, slots=True)
class WhatToSay(Sentence):
    """Help: the hint as a sentence of its own."""

    hint: AnyHint


@dataclass(frozen=True, slots=True)
class DeviceGone(Sentence):
    """A sound device went away."""

    device: str


@dataclass(frozen=True, slots=True)
class NoneRecorded(Sentence):
    """What was read back in parts and is not kept, all of it by name."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StillMissing(Sentence):
    """Fields of the step that have no value yet."""

    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MoreMissing(Sentence):
    """What is missing, the first of it, and how much more."""

    labels: tuple[str, ...]
    count: int


@dataclass(frozen=True, slots=True)
class ReadBack(Sentence):
    """Values said back, with the question whether they are right."""

    values: str


@dataclass(frozen=True, slots=True)
class SaidBack(Sentence):
    """Values that stand unless somebody objects, said in front of the next question."""

    values: str


@dataclass(frozen=True, slots=True)
class NowListening(Sentence):
    """In a narrated visit a phase begins, or is come back to."""

    phase: str


@dataclass(frozen=True, slots=True)
class Echo(Sentence):
    """Values said once."""

    values: str


@dataclass(frozen=True, slots=True)
class Correcting(Sentence):
    """A stage is opened to be answered again."""

    prompt: str


@dataclass(frozen=True, slots=True)
class EarlierStep(Sentence):
    """An earlier stage is looked at, with what is recorded for it."""

    recorded: str


@dataclass(frozen=True, slots=True)
class NothingButDone(Sentence):
    """A stage without values: its prompt and how it was done."""

    prompt: str
    done: str


@dataclass(frozen=True, slots=True)
class ScoreTaken(Sentence):
    """A pain score was taken."""

    score: int


@dataclass(frozen=True, slots=True)
class Flagged(Sentence):
    """A value is flagged."""

    grounds: Grounds


@dataclass(frozen=True, slots=True)
class SizeIs(Sentence):
    """The size that was read off the chart."""

    size: str
    mean: Decimal


@dataclass(frozen=True, slots=True)
class DueAt(Sentence):
    """When something is due, by the local clock, digit by digit."""

    clock: str


@dataclass(frozen=True, slots=True)
class DueAtOn(Sentence):
    """When something is due on another day."""

    clock: str
    day: date


@dataclass(frozen=True, slots=True)
class ComparedWith(Sentence):
    """The day of the baseline record."""

    day: date


@dataclass(frozen=True, slots=True)
class WasDue(Sentence):
    """How long ago the visit was due."""

    ago: str


@dataclass(frozen=True, slots=True)
class GoesOnAfter(Sentence):
    """The visit goes on after a break."""

    gap: str


@dataclass(frozen=True, slots=True)
class ReferenceIs(Sentence):
    """Whose visit it is, the reference spelled."""

    reference: str


@dataclass(frozen=True, slots=True)
class SideIs(Sentence):
    """The injured side."""

    side: str


@dataclass(frozen=True, slots=True)
class SizeChosenIs(Sentence):
    """The size, for who goes on after a break."""

    size: str


@dataclass(frozen=True, slots=True)
class RecordedLast(Sentence):
    """What was recorded last, for who goes on after a break."""

    values: str


@dataclass(frozen=True, slots=True)
class StepsDone(Sentence):
    """How many stages are done."""

    done: int
    total: int


@dataclass(frozen=True, slots=True)
class ZoneSoFar(Sentence):
    """The light of a zone in a status."""

    label: str
    lit_s: float
    target_s: float


@dataclass(frozen=True, slots=True)
class LightSoFar(Sentence):
    """The light of all zones in a status."""

    zones: tuple[ZoneSoFar, ...]


@dataclass(frozen=True, slots=True)
class TimerLeft(Sentence):
    """How long a timer still runs."""

    label: str
    left: str


@dataclass(frozen=True, slots=True)
class OneQuestionLeft(Sentence):
    """Only the late question about heat is left."""

    wait_s: int


@dataclass(frozen=True, slots=True)
class StillOpen(Sentence):
    """What keeps the visit from being closed: the first of it."""

    item: OpenItem


@dataclass(frozen=True, slots=True)
class ZoneIs(Sentence):
    """The zone that is to be lit."""

    label: str


@dataclass(frozen=True, slots=True)
class ZoneAgain(Sentence):
    """The same zone once more."""

    label: str


@dataclass(frozen=True, slots=True)
class ZoneShort(Sentence):
    """The sum of a zone that is short of its seconds."""

    label: str
    lit_s: float
    target_s: float


@dataclass(frozen=True, slots=True)
class ZoneFull(Sentence):
    """The sum of a zone that has had its seconds: the hand checks firmness, not the clock."""

    label: str
    lit_s: float
    target_s: float


@dataclass(frozen=True, slots=True)
class ZoneOver(Sentence):
    """The sum of a zone that is over its target."""

    label: str
    lit_s: float
    target_s: float


@dataclass(frozen=True, slots=True)
class NoHeatReport(Sentence):
    """The question about warmth where the patient cannot report heat; `sign` is the profile's word for what to do."""

    sign: str


@dataclass(frozen=True, slots=True)
class OffNotHeard(Sentence):
    """Light off was not heard for a zone."""

    label: str
    lit_s: float


@dataclass(frozen=True, slots=True)
class InShadow(Sentence):
    """The strap shades the zone that is lit."""

    label: str


@dataclass(frozen=True, slots=True)
class WordsApart(Sentence):
    """Words and lamp differ by some seconds."""

    apart_s: float


@dataclass(frozen=True, slots=True)
class CutWhileLit(Sentence):
    """The program went deaf, or ended, while a zone was lit."""

    label: str


@dataclass(frozen=True, slots=True)
class LabelDiffers(Sentence):
    """A scanned label tells another value than the record."""

    label: str


AnySentence = Fixed | HoldAction | Consequence | Sentence
"""What can be said."""


@dataclass(frozen=True, slots=True)
class Prompt:
    """One prompt: its sentences are said in one go, in their order.

    Attributes:
        priority: Who gives way.
        passing: Whether "say again" goes on repeating what was said before it.
    """

    sentences: tuple[AnySentence, ...]
    priority: Priority = Priority.PROMPT
    passing: bool = False

    @property
    def is_repeated(self) -> bool:
        """Whether "say again" repeats it."""
        return not self.passing and self.priority is not Priority.INFORMATION
