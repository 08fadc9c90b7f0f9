"""Trials of `bench_duplex.py`: a room in which a prompt plays and somebody speaks, and what would be taken of it."""

import statistics
import time
from datetime import UTC, datetime

import numpy as np
from intervals import wilson

from handsfree.audio.echo_canceller import EchoCanceller
from handsfree.clock import ManualClock
from handsfree.model.audio import Heard, Speech
from handsfree.model.commands import (
    STOP_CONTROLS,
    Control,
    ControlCommand,
    GiveValues,
    OptionPhrases,
    OptionSlot,
    Wanted,
)
from handsfree.model.effects import Priority
from handsfree.recognition.port import Recognizer
from handsfree.recognition.speech_nearby import SpeechNearby
from handsfree.runner.listening_thread import LiveEars, UtteranceHeard
from handsfree.runner.talk_watch import Canceller
from handsfree.simulation.duplex_scene import Patience
from handsfree.simulation.echo_room import BLOCK_S, EchoPath, EchoRoom
from handsfree.simulation.mixing import Signal, active_level, signal_of
from handsfree.simulation.script import VoiceSpec
from handsfree.simulation.voices import render
from handsfree.understanding.acceptance import DecisionOutcome, decide
from handsfree.understanding.interpreter import interpret

START = datetime(2026, 11, 25, 9, tzinfo=UTC)
TOOL = VoiceSpec(engine="neural")
PEOPLE = (
    VoiceSpec(engine="espeak-ng", voice="en-us"),
    VoiceSpec(engine="espeak-ng", voice="en-us+f3"),
    VoiceSpec(engine="espeak-ng", voice="en-us+m3"),
    VoiceSpec(engine="espeak-ng", voice="en-gb"),
    VoiceSpec(engine="flite", voice="slt"),
    VoiceSpec(engine="flite", voice="rms"),
)
QUESTIONS = (
    "Sensation of the little finger, on the injured side. Say intact, reduced or absent.",
    "Look at the skin under the sleeve, all the way around. Is it intact, reduced or absent?",
    "Press the nail until it is white, and watch it. Say intact, reduced or absent.",
)
OPTIONS = ("intact", "reduced", "absent", "cool", "warm", "unchanged", "swollen", "blistered", "clear", "settled")
WANTED = Wanted(
    frozenset({Control.AFFIRM, Control.NEGATE, Control.NEXT_STEP, Control.WAIT, Control.SAY_AGAIN, Control.HELP}),
    (OptionSlot("state", ("state",), tuple(OptionPhrases(word, (word,)) for word in OPTIONS)),),
)
PATIENCE = {
    "half": Patience(),
    "full": Patience(),
    "impatient": Patience(share=0.6, reads_back=False, tail_s=0.1),
    "hasty": Patience(share=0.6, tail_s=0.1),
}
"""Who waits for the end of each prompt, and who does not; "hasty" also speaks into what must be heard out."""
SHARE = 0.02
"""Of its peak from which a word has begun."""


class Trial:
    """A room in which a prompt plays and somebody speaks.

    Args:
        recognizer: Listens.
        path: The echo.
        full: Whether the canceller runs.
    """

    def __init__(self, recognizer: Recognizer, path: EchoPath, *, full: bool) -> None:
        self.clock = ManualClock(START)
        self.room = EchoRoom(self.clock, path)
        self.messages: list[object] = []
        canceller = Canceller(EchoCanceller(self.room.played), SpeechNearby()) if full else None
        recognizer.reset()
        self.ears = LiveEars(self.room, lambda: recognizer, self.messages.append, canceller=canceller)
        self.ears.attend(WANTED, 1)
        self.ears.load()
        self.busy_s = 0.0
        self.last_computed_s = 0.0

    def listen(self, seconds: float) -> None:
        """Let time pass."""
        for _ in range(round(seconds / BLOCK_S)):
            block = self.room.next_block()
            begun_s, before = time.process_time(), len(self.messages)
            self.ears.hear(block)
            computed_s = time.process_time() - begun_s
            self.busy_s += computed_s
            if len(self.messages) > before:
                self.last_computed_s = computed_s

    def play(self, speech: Speech, *, heard_out: bool = False) -> None:
        """Say a prompt."""
        self.room.play(speech, Priority.PROMPT, heard_out=heard_out)

    def warm_up(self, speeches: list[Speech]) -> None:
        """Let the tool speak until gate and canceller know the room."""
        for speech in speeches:
            self.play(speech, heard_out=True)
            self.listen(speech.duration_s + 0.8)

    def say(self, signal: Signal) -> tuple[float | None, list[UtteranceHeard]]:
        """Say something now; when the loudspeaker was silent after its first sound, and what was heard."""
        before = len(self.messages)
        begun_s = self.room.now_s + np.flatnonzero(np.abs(signal) > SHARE * np.abs(signal).max())[0] / 16_000
        self.room.speak(signal)
        silent_s = None
        for _ in range(round((len(signal) / 16_000 + 2.5) / BLOCK_S)):
            self.listen(BLOCK_S)
            if silent_s is None and not self.room.speaking and self.room.silent_s < self.room.now_s:
                silent_s = self.room.silent_s - begun_s
        return silent_s, [one for one in self.messages[before:] if isinstance(one, UtteranceHeard)]

    def answered_s(self, signal: Signal) -> tuple[float, float] | None:
        """Say something now: from its last sound until it was heard, and of that the processor's share for the last.

        None where nothing was heard.
        """
        before = len(self.messages)
        ends_s = self.room.now_s + np.flatnonzero(np.abs(signal) > SHARE * np.abs(signal).max())[-1] / 16_000
        self.room.speak(signal)
        for _ in range(round((len(signal) / 16_000 + 2.5) / BLOCK_S)):
            self.listen(BLOCK_S)
            if any(isinstance(one, UtteranceHeard) for one in self.messages[before:]):
                return self.room.now_s - ends_s, self.last_computed_s
        return None


def taken(heard: list[UtteranceHeard]) -> list[str]:
    """What a session would take: an option, a stop; not what is spoilt, in doubt, or said before its question."""
    found = []
    for one in heard:
        command = interpret(one.hypothesis, WANTED)
        if command is None or decide(one.hypothesis, command, WANTED).outcome is not DecisionOutcome.ACCEPT:
            continue
        if isinstance(command, ControlCommand) and command.control in STOP_CONTROLS:
            found.append("stop")
        elif one.spoilt is not None or one.answers is Heard.TOO_LITTLE:
            continue
        elif not isinstance(command, ControlCommand) or one.answers is Heard.ALL:
            found.append(
                str(command.values[0].value.value) if isinstance(command, GiveValues) else command.control.value
            )
    return found


def told(heard: list[UtteranceHeard]) -> str:
    """What was heard, and why it was not taken."""
    found = []
    for one in heard:
        command = interpret(one.hypothesis, WANTED)
        decision = decide(one.hypothesis, command, WANTED) if command is not None else None
        sure = f"{decision.outcome.value} {decision.probability:.2f}" if decision is not None else "no meaning"
        found.append(f"{one.hypothesis.text!r} ({sure}{', spoilt' if one.spoilt else ''}, heard {one.answers.value})")
    return ", ".join(found) or "nothing"


def spread(values: list[float]) -> dict[str, float | int]:
    """Median, 95th percentile, highest and count, in whole milliseconds."""
    if not values:
        return {"n": 0}
    return {
        "median_ms": round(1000 * statistics.median(values)),
        "p95_ms": round(1000 * float(np.percentile(values, 95))),
        "most_ms": round(1000 * max(values)),
        "n": len(values),
    }


def counted(hits: int, of: int) -> str:
    """A share with its interval."""
    low, high = wilson(hits, of)
    return f"{hits} of {of} [{low:.2f} {high:.2f}]"


def at_level(who: VoiceSpec, words: str, level: float) -> Signal:
    """Words at an active level."""
    signal = signal_of(render(who, words))
    return signal * level / active_level(signal)
