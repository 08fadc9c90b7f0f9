"""`handsfree soundcheck`: before the gloves go on, whether this person in this room will be understood."""

import json
import sys
from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from dataclasses import asdict, dataclass
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING

import click

from handsfree.clock import SystemClock
from handsfree.errors import AudioDeviceError
from handsfree.model.audio import AudioBlock
from handsfree.model.commands import Control, NumberSlot, Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.understanding.decision import DecisionOutcome, decide
from handsfree.understanding.graphs import match
from handsfree.understanding.interpreter import interpret
from handsfree.understanding.listening_graph import graph_for

if TYPE_CHECKING:
    from handsfree.application.sound_levels import Levels, Measured
    from handsfree.recognition.port import Recognizer

PHRASES = ("next step", "say again", "affirmative", "negative", "light off", "status report")
READINGS = ("zero one two", "three four five", "six seven", "eight nine")
"""The ten digits, in groups as readings have them."""
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


@click.command()
@click.option("--listen", type=click.Path(path_type=Path), help="A recording of the check instead of the microphone.")
@click.option("--microphone", help="Device name or a part of it; see: handsfree devices")
@click.option("--engine", help="Recogniser: neural (default), neural-base, neural-tuned, pocketsphinx or vosk.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def soundcheck(listen: Path | None, microphone: str | None, engine: str | None, *, as_json: bool) -> None:
    """Check, before the gloves go on, whether you will be understood in this room.

    Measures level, clipping, noise floor and signal-to-noise, then asks for six short phrases and the ten digits, and
    says what to change. A recording for --listen holds three seconds of silence, then the phrases and the digits in
    the order in which this command asks for them, with a pause of a second after each.

    Exit code 6 if you would not be understood reliably.
    """
    from handsfree.application.sound_levels import Levels, advice
    from handsfree.recognition.choose import make_recognizer

    recognizer = make_recognizer(engine)
    levels = Levels()
    with ExitStack() as stack:
        if listen is not None:
            from handsfree.audio.wav import read_wav

            heard = _from_file(levels.passing(read_wav(listen)), recognizer, levels)
        else:
            from handsfree.audio.microphone import Microphone

            source = stack.enter_context(Microphone(SystemClock(), microphone))
            heard = _from_person(levels.passing(iter(source)), recognizer, levels)
    verdict, phrases, digits = verdict_of(heard)
    measured = levels.measured()
    hints = advice(measured, understood=verdict is CheckVerdict.WELL)
    if as_json:
        click.echo(json.dumps(_as_json(verdict, phrases, digits, measured, heard, hints), indent=2))
    else:
        _show(verdict, phrases, digits, measured, heard, hints)
    if verdict is CheckVerdict.NOT_RELIABLY:
        sys.exit(AudioDeviceError.exit_code)


def _from_file(blocks: Iterator[AudioBlock], recognizer: "Recognizer", levels: "Levels") -> list[CheckedUtterance]:
    recognizer.listen_for(graph_for(WANTED))
    found = [hypothesis for block in blocks for hypothesis in recognizer.accept(block)]
    found += recognizer.flush()
    for hypothesis in found:
        levels.spoken(hypothesis.spoken_from_s, hypothesis.spoken_to_s)
    return aligned(found)


def _from_person(blocks: Iterator[AudioBlock], recognizer: "Recognizer", levels: "Levels") -> list[CheckedUtterance]:
    recognizer.listen_for(graph_for(WANTED))
    click.echo(f"Be silent for {QUIET_S:.0f} seconds.", err=True)
    began: float | None = None
    for block in blocks:
        began = block.start_s if began is None else began
        if block.end_s - began >= QUIET_S:
            break
    found: list[CheckedUtterance] = []
    for sentence in SENTENCES:
        click.echo(f"Say: {sentence}", err=True)
        hypothesis = _one_utterance(blocks, recognizer)
        if hypothesis is not None:
            levels.spoken(hypothesis.spoken_from_s, hypothesis.spoken_to_s)
        found.append(judge(sentence, hypothesis))
        click.echo(f"     {found[-1].result.value}", err=True)
    return found


def _one_utterance(blocks: Iterator[AudioBlock], recognizer: "Recognizer") -> Hypothesis | None:
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


def _as_json(
    verdict: CheckVerdict,
    phrases: int,
    digits: int,
    measured: "Measured",
    heard: list[CheckedUtterance],
    hints: tuple[str, ...],
) -> dict[str, object]:
    return {
        "understood": verdict.value,
        "phrases_right": phrases,
        "phrases": len(PHRASES),
        "digits_right": digits,
        "digits": 10,
        "sound": asdict(measured),
        "sentences": [asdict(one) for one in heard],
        "advice": list(hints),
    }


def _show(
    verdict: CheckVerdict,
    phrases: int,
    digits: int,
    measured: "Measured",
    heard: list[CheckedUtterance],
    hints: tuple[str, ...],
) -> None:
    def number(value: float | None, unit: str) -> str:
        return "not measured" if value is None else f"{value:.0f} {unit}"

    click.echo(f"understood: {verdict.value} ({phrases} of {len(PHRASES)} phrases, {digits} of 10 digits)")
    click.echo(
        f"speech {number(measured.speech_dbfs, 'dBFS')}, noise floor {number(measured.floor_dbfs, 'dBFS')}, "
        f"signal to noise {number(measured.signal_to_noise_db, 'dB')}, clipped {measured.clipped_share:.2%} of speech"
    )
    for one in heard:
        if one.result is not Result.RIGHT:
            said = f"heard {one.heard!r}" if one.heard else "not heard"
            click.echo(f"  {one.sentence}: {one.result.value}, {said}")
    for hint in hints:
        click.echo(f"- {hint}")
