"""Sessions whose time is counted in samples or lines: files, pipes, typed input, rehearsals."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import partial
from io import TextIOBase

from handsfree.audio.lamp_listener import LampEar
from handsfree.clock import Clock
from handsfree.model.audio import AudioBlock
from handsfree.model.commands import Wanted
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.port import Recognizer
from handsfree.runner.line_inbox import LineInbox, TypedLine
from handsfree.runner.session_runner import SessionRunner
from handsfree.understanding.completeness import is_unfinished
from handsfree.understanding.listening_graph import graph_for


class Ears:
    """Feeds blocks to a recogniser that always listens for just what the session wants, and to the ear for the lamp.

    Args:
        runner: Whose session decides what is legal, and who takes what is heard.
        recognizer: The engine.
    """

    def __init__(self, runner: SessionRunner, recognizer: Recognizer) -> None:
        self._runner = runner
        self._recognizer = recognizer
        self._listening_for: Wanted | None = None
        self._lamp = LampEar(runner.session.lamp_tone)
        self._attend()

    def _attend(self) -> None:
        wanted = self._runner.wanted
        if wanted == self._listening_for:
            return
        self._listening_for = wanted
        graph = graph_for(wanted)
        if wanted.dictation:
            self._recognizer.listen_for_dictation(graph)
        else:
            self._recognizer.listen_for(graph, partial(is_unfinished, wanted=wanted))

    def feed(self, block: AudioBlock, ungated: AudioBlock | None = None) -> None:
        """Recognise one block and let the session act on what ended in it.

        Args:
            block: What the recogniser hears: silence while the tool itself speaks.
            ungated: The same stretch as the microphone took it, for the lamp's beep; `block` where nothing was gated.
        """
        for beep in self._lamp.feed(ungated or block):
            self._runner.lamp_beeped(beep)
        self._take(self._recognizer.accept(block))

    def finish(self) -> None:
        """Take what is still being said when the sound ends."""
        self._take(self._recognizer.flush())

    def _take(self, hypotheses: Iterable[Hypothesis]) -> None:
        for hypothesis in hypotheses:
            if self._runner.closed:
                return
            self._runner.hear(hypothesis)
        self._runner.tick()
        self._attend()


def run_blocks(runner: SessionRunner, recognizer: Recognizer, blocks: Iterator[AudioBlock], clock: Clock) -> None:
    """Run a session on sound whose samples are its clock: WAV files and pipes.

    Returns when the session closes or the sound ends.
    """
    ears = Ears(runner, recognizer)
    begun_s = clock.monotonic_s()
    for block in blocks:
        heard = replace(block, start_s=begun_s + block.start_s)
        clock.sleep_until(heard.end_s)
        ears.feed(heard)
        if runner.closed:
            return
    ears.finish()


def run_typed(runner: SessionRunner, lines: Iterable[str]) -> None:
    """Run a session on typed lines. Returns when the session closes or the lines end, and all of it is on the disk.

    While a person thinks, the session's deadlines are kept: cues while lit, the sign of life, the late question.

    Args:
        runner: The session, already started.
        lines: Lines at hand, or a stream that somebody types into.

    Raises:
        RecordError: The record cannot be written.
    """
    for line in LineInbox(runner, lines) if isinstance(lines, TextIOBase) else _at_hand(runner, lines):
        runner.type(line.text, line.at_s)
        if runner.ending:
            break
    runner.finish()


def _at_hand(runner: SessionRunner, lines: Iterable[str]) -> Iterator[TypedLine]:
    """One line after the other, each as if it were typed when it is taken."""
    for line in lines:
        runner.tick()
        if line.strip():
            yield TypedLine(line.strip(), runner.now_s)
