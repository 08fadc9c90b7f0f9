"""The sound check: before the gloves go on, whether this person in this room will be understood."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict, dataclass
from decimal import Decimal
from enum import StrEnum

from handsfree.application.echo_check import EchoChecked
from handsfree.application.sound_levels import Levels, Measured, advice
from handsfree.model.audio import AudioBlock
from handsfree.model.commands import Control, NumberSlot, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.port import Recognizer
from handsfree.understanding.acceptance import DecisionOutcome, decide
from handsfree.understanding.graphs import match
from handsfree.understanding.interpreter import interpret
from handsfree.understanding.listening_graph import graph_for

PHRASES = ("next step", "say again", "affirmative", "negative", "light off", "status report")
READINGS = ("zero one two", "three four five", "six seven", "eight nine")
"""The ten digits, in groups as readings have them."""
DIGITS = 10
SENTENCES = (*PHRASES, *READINGS)
QUIET_S = 3.0
PATIENCE_S = 8.0
_SLOT = NumberSlot("digits", (), "", Decimal(0), Decimal(999), decimals=0, digit_by_digit=True)
WANTED = Wanted(frozenset(Control), (_SLOT,))
GOOD_PHRASES, GOOD_DIGITS = 5, 9
FAIR_PHRASES, FAIR_DIGITS = 4, 7
"""Least of 6 phrases and of 10 digits. Rules of our own."""


class Result(StrEnum):
    """What became of one sentence."""

    RIGHT = "right"
    ASKED = "asked"
    WRONG = "wrong"
    MISSED = "missed"


class CheckVerdict(StrEnum):
    """Whether this person will be understood."""

    WELL = "well"
    WITH_REPEATS = "with repeats"
    NOT_RELIABLY = "not reliably"


@dataclass(frozen=True, slots=True)
class CheckedUtterance:
    """One sentence of the check.

    Attributes:
        sentence: What was to be said.
        heard: What was heard, or "".
        result: What became of it.
        digits_right: Digits of it that were heard and taken, or would be after a question.
    """

    sentence: str
    heard: str
    result: Result
    digits_right: int = 0


def judge(sentence: str, hypothesis: Hypothesis | None) -> CheckedUtterance:
    """What the tool would have done with a sentence."""
    if hypothesis is None or not hypothesis.words:
        return CheckedUtterance(sentence, "", Result.MISSED)
    command = interpret(hypothesis, WANTED)
    if command is None:
        return CheckedUtterance(sentence, hypothesis.text, Result.MISSED)
    outcome = decide(hypothesis, command, WANTED).outcome
    if outcome is DecisionOutcome.IGNORE:
        return CheckedUtterance(sentence, hypothesis.text, Result.MISSED)
    meant = match(graph_for(WANTED), sentence.split())
    pairs = zip(meant.tags if meant is not None else (), hypothesis.tags, strict=False)
    digits = sum(one == other and one.startswith("digit:") for one, other in pairs)
    right = meant is not None and meant.tags == hypothesis.tags
    if outcome is DecisionOutcome.ASK:
        return CheckedUtterance(sentence, hypothesis.text, Result.ASKED, digits if right else 0)
    return CheckedUtterance(sentence, hypothesis.text, Result.RIGHT if right else Result.WRONG, digits)


def aligned(hypotheses: list[Hypothesis]) -> list[CheckedUtterance]:
    """The sentences of the check with what was heard of each, where some may be missing or something else between."""
    costs: list[list[tuple[float, int]]] = [[(0.0, 0)] * (len(hypotheses) + 1) for _ in range(len(SENTENCES) + 1)]
    for row in range(len(SENTENCES) + 1):
        for column in range(len(hypotheses) + 1):
            ways = [(0.0, 0)] if not row and not column else []
            if row and column:
                same = hypotheses[column - 1].text == SENTENCES[row - 1]
                ways.append((costs[row - 1][column - 1][0] + (0.0 if same else 1.2), 0))
            if row:
                ways.append((costs[row - 1][column][0] + 1.0, 1))
            if column:
                ways.append((costs[row][column - 1][0] + 1.0, 2))
            costs[row][column] = min(ways)
    found: list[CheckedUtterance] = []
    row, column = len(SENTENCES), len(hypotheses)
    while row:
        way = costs[row][column][1] if column else 1
        if way == 2:
            column -= 1
            continue
        found.append(judge(SENTENCES[row - 1], hypotheses[column - 1] if way == 0 else None))
        row, column = row - 1, column - (way == 0)
    return found[::-1]


def verdict_of(heard: Iterable[CheckedUtterance]) -> tuple[CheckVerdict, int, int]:
    """The verdict, phrases right and digits right."""
    items = list(heard)
    phrases = sum(one.result is Result.RIGHT for one in items if one.sentence in PHRASES)
    digits = sum(one.digits_right for one in items if one.sentence in READINGS and one.result is not Result.WRONG)
    wrong = sum(one.result is Result.WRONG for one in items)
    if phrases >= GOOD_PHRASES and digits >= GOOD_DIGITS and not wrong:
        return CheckVerdict.WELL, phrases, digits
    fair = phrases >= FAIR_PHRASES and digits >= FAIR_DIGITS and wrong <= 1
    return (CheckVerdict.WITH_REPEATS if fair else CheckVerdict.NOT_RELIABLY), phrases, digits


@dataclass(frozen=True, slots=True)
class SoundCheck:
    """What a check came to.

    Attributes:
        verdict: Whether this person will be understood.
        phrases_right: Of the phrases.
        digits_right: Of the ten digits.
        measured: What the sound was like.
        heard: What became of each sentence.
        advice: What to change, the most important first.
        echo: Whether what is said over the tool's voice is understood; None where no devices were at hand.
    """

    verdict: CheckVerdict
    phrases_right: int
    digits_right: int
    measured: Measured
    heard: tuple[CheckedUtterance, ...]
    advice: tuple[str, ...]
    echo: EchoChecked | None = None

    @classmethod
    def of(cls, heard: Iterable[CheckedUtterance], measured: Measured) -> "SoundCheck":
        """Judge what was heard."""
        items = tuple(heard)
        verdict, phrases, digits = verdict_of(items)
        hints = advice(measured, understood=verdict is CheckVerdict.WELL)
        return cls(verdict, phrases, digits, measured, items, hints)

    @property
    def data(self) -> dict[str, object]:
        """The check as JSON-ready data."""
        return {
            "understood": self.verdict.value,
            "phrases_right": self.phrases_right,
            "phrases": len(PHRASES),
            "digits_right": self.digits_right,
            "digits": DIGITS,
            "sound": asdict(self.measured),
            "sentences": [asdict(one) for one in self.heard],
            "advice": list(self.advice),
            **({"over_the_tool": self.echo.data} if self.echo is not None else {}),
        }

    @property
    def lines(self) -> list[str]:
        """The check in lines for people."""
        measured = self.measured
        lines = [
            f"understood: {self.verdict.value} ({self.phrases_right} of {len(PHRASES)} phrases, "
            f"{self.digits_right} of {DIGITS} digits)",
            f"speech {_number(measured.speech_dbfs, 'dBFS')}, noise floor {_number(measured.floor_dbfs, 'dBFS')}, "
            f"signal to noise {_number(measured.signal_to_noise_db, 'dB')}, "
            f"clipped {measured.clipped_share:.2%} of speech",
        ]
        for one in self.heard:
            if one.result is not Result.RIGHT:
                said = f"heard {one.heard!r}" if one.heard else "not heard"
                lines.append(f"  {one.sentence}: {one.result.value}, {said}")
        lines += [self.echo.line] if self.echo is not None else []
        return [*lines, *(f"- {hint}" for hint in self.advice)]


def _number(value: float | None, unit: str) -> str:
    return "not measured" if value is None else f"{value:.0f} {unit}"


def check_recording(blocks: Iterator[AudioBlock], recognizer: Recognizer) -> SoundCheck:
    """Check a recording: silence, then the sentences in their order with a pause after each.

    Raises:
        AudioDeviceError: The recording cannot be read.
    """
    levels = Levels()
    recognizer.listen_for(graph_for(WANTED))
    found = [hypothesis for block in levels.passing(blocks) for hypothesis in recognizer.accept(block)]
    found += recognizer.flush()
    for hypothesis in found:
        levels.spoken(hypothesis.spoken_from_s, hypothesis.spoken_to_s)
    return SoundCheck.of(aligned(found), levels.measured())


def check_person(source: Iterable[AudioBlock], recognizer: Recognizer, tell: Callable[[str], None]) -> SoundCheck:
    """Check a person at a microphone.

    Args:
        source: A live source.
        recognizer: Listens.
        tell: Tells the person what to say, and what became of it.

    Raises:
        AudioDeviceError: The microphone is lost.
    """
    levels = Levels()
    blocks = levels.passing(iter(source))
    recognizer.listen_for(graph_for(WANTED))
    tell(f"Be silent for {QUIET_S:.0f} seconds.")
    began: float | None = None
    for block in blocks:
        began = block.start_s if began is None else began
        if block.end_s - began >= QUIET_S:
            break
    found: list[CheckedUtterance] = []
    for sentence in SENTENCES:
        tell(f"Say: {sentence}")
        hypothesis = _one_utterance(blocks, recognizer)
        if hypothesis is not None:
            levels.spoken(hypothesis.spoken_from_s, hypothesis.spoken_to_s)
        found.append(judge(sentence, hypothesis))
        tell(f"     {found[-1].result.value}")
    return SoundCheck.of(found, levels.measured())


def _one_utterance(blocks: Iterator[AudioBlock], recognizer: Recognizer) -> Hypothesis | None:
    recognizer.reset()
    began: float | None = None
    for block in blocks:
        began = block.start_s if began is None else began
        heard = recognizer.accept(block)
        if heard:
            return heard[0]
        if block.end_s - began >= PATIENCE_S and not recognizer.speaking:
            return None
    return None
