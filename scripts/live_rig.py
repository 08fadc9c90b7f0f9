"""A room made of software: the tool as a process on the virtual sound card, and a person who follows a script.

The tool runs as the real command in a process of its own. What it has understood is read from its record, replayed into
a second session, so that the scripted person knows no more than what is on disk.
"""

import json
import math
import os
import subprocess
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime
from io import StringIO
from pathlib import Path

import numpy as np
from live_card import BLOCK_S, CLOCK, Listener, Mouth, Samples, SoundCard, pipe
from rich.console import Console

from handsfree.audio.levels import sounding
from handsfree.definition.loader import load_bundle
from handsfree.display import ConversationView
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ
from handsfree.model.commands import Wanted
from handsfree.model.effects import Close, Say
from handsfree.model.events import ClockTicked, CommandDoubted, CommandSpoken, SessionEvent, SpeechRejected
from handsfree.model.facts import AnyFact
from handsfree.model.working import Working
from handsfree.record.codec import decode_event, decode_fact
from handsfree.record.own_lines import EVENT, OWN_KINDS
from handsfree.session.modes import Mode
from handsfree.session.session import Session
from handsfree.simulation.duplex_scene import Patience
from handsfree.simulation.mixing import SimulatedRoom, samples_of, signal_of
from handsfree.simulation.scene import Scene
from handsfree.simulation.script import VoiceSpec
from handsfree.simulation.voices import render
from handsfree.voice.port import Synthesizer

GAP_S = 0.8
"""Pauses inside a prompt are shorter than this, on a busy machine too."""
LIT_GAP_S = 0.3
"""While the light is on, a tick sounds every second, and what is said is too short for pauses."""
REACTION_S = 0.5
"""After something was understood, an answer starts within this."""
BEGINS_S = 0.2
"""A prompt is rendered and sounds so long after it is on record."""


PROGRAM = ("-m", "handsfree")


class Tool:
    """`handsfree run` on the sound card.

    Args:
        card: Running.
        folder: Record to be made.
        procedure: Bundled identifier or file.
        options: More of the command line.
        program: What is run with that command line.
    """

    def __init__(
        self, card: SoundCard, folder: Path, procedure: str, *options: str, program: tuple[str, ...] = PROGRAM
    ) -> None:
        self.started_s = CLOCK.monotonic_s()
        self.process = subprocess.Popen(
            [sys.executable, *program, "run", procedure, "--record", str(folder), *options],
            env={**card.environment, "COLUMNS": "200", "NO_COLOR": "1"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.lines: list[str] = []
        self.trouble: list[str] = []
        self._threads = [
            threading.Thread(target=self._read, args=pair, daemon=True)
            for pair in ((pipe(self.process.stdout), self.lines), (pipe(self.process.stderr), self.trouble))
        ]
        for thread in self._threads:
            thread.start()

    def _read(self, stream: Iterator[str], lines: list[str]) -> None:
        lines.extend(line.rstrip() for line in stream)

    def cpu_s(self) -> float:
        """Seconds of processor time so far, its helpers included."""
        fields = [text.rpartition(")")[2].split() for text in self._of_each("stat")]
        return sum(int(of[11]) + int(of[12]) for of in fields) / os.sysconf("SC_CLK_TCK")

    def memory_mb(self) -> float:
        """Resident memory now, that of its helpers included."""
        pages = sum(int(text.split()[1]) for text in self._of_each("statm"))
        return pages * os.sysconf("SC_PAGE_SIZE") / 1e6

    def _of_each(self, file: str) -> list[str]:
        """A file of the kernel for each of its processes; nothing for one that has just ended."""
        texts = []
        with suppress(FileNotFoundError, ProcessLookupError):
            started = Path(f"/proc/{self.process.pid}/task").glob("*/children")
            pids = [str(self.process.pid), *(pid for children in started for pid in children.read_text().split())]
            texts.extend(Path(f"/proc/{pid}/{file}").read_text() for pid in pids)
        return texts

    def close(self, wait_s: float = 0.0) -> int:
        """End it, after waiting for it to end by itself; its exit status."""
        try:
            status = self.process.wait(wait_s)
        except subprocess.TimeoutExpired:
            self.process.terminate()
            status = self.process.wait(10)
        for thread in self._threads:
            thread.join(2)
        pipe(self.process.stdout).close()
        pipe(self.process.stderr).close()
        return status


class Shadow:
    """The session as its record tells it. Stands in for a `SessionRunner` in a rehearsal.

    Args:
        folder: Record of the tool.
        procedure: As given to the tool.
        expert: Whether the tool was asked for short prompts.
        working: Who leads when the visit begins.
    """

    def __init__(
        self, folder: Path, procedure: str, *, expert: bool = False, working: Working = Working.GUIDED
    ) -> None:
        self._path = folder / "record.jsonl"
        self._read = 0
        self._rest = b""
        self.session = Session(load_bundle(procedure), expert=expert, working=working, going_on=True)
        self.outcome: str | None = None
        self.events: list[SessionEvent] = []
        self.facts: list[AnyFact] = []
        self.said: list[Say] = []

    @property
    def closed(self) -> bool:
        """Whether the session has ended."""
        return self.outcome is not None

    @property
    def wanted(self) -> Wanted:
        """What it listens for."""
        return self.session.wanted

    def look(self) -> list[SessionEvent]:
        """Read on; the events that came."""
        if not self._path.exists():
            return []
        with self._path.open("rb") as file:
            file.seek(self._read)
            self._rest += file.read()
            self._read = file.tell()
        *whole, self._rest = self._rest.split(b"\n")
        came: list[SessionEvent] = []
        for raw in whole:
            line = json.loads(raw)
            if line["kind"] not in OWN_KINDS:
                self.facts.append(decode_fact(line["kind"], line["data"]))
            if line["kind"] != EVENT:
                continue
            if line["data"]["event"] is None:
                continue
            event = decode_event(line["data"]["event"])
            came.append(event)
            for effect in self.session.handle(event):
                if isinstance(effect, Say):
                    self.said.append(effect)
                elif isinstance(effect, Close):
                    self.outcome = effect.outcome
        self.events += came
        return came


_REACTIONS = {CommandSpoken: "accepted", CommandDoubted: "doubted", SpeechRejected: "not taken"}


def spoken_in(event: CommandSpoken | CommandDoubted | SpeechRejected) -> tuple[float, float]:
    """From when to when what an event heard was spoken, on the machine's monotonic clock; it has heard something."""
    assert event.heard is not None  # noqa: S101 - see above
    zero_s = (
        datetime.fromisoformat(event.wall).timestamp() + CLOCK.monotonic_s() - CLOCK.wall().timestamp() - event.at_s
    )
    return event.heard.spoken_from_s + zero_s, event.heard.spoken_to_s + zero_s


@dataclass
class Watch:
    """What the person hears of the tool. Stands in for the outputs of a rehearsal."""

    shadow: Shadow
    listener: Listener
    zero_s: float
    view: ConversationView = field(default_factory=lambda: ConversationView(Console(file=StringIO())))
    spoken_s: float = 0.0
    prompts: int = 0
    reactions: list[str] = field(default_factory=list)
    said_since_turn: str = ""
    reacted_s: float = float("-inf")
    voice: Synthesizer | None = None
    begun_s: float = 0.0
    ends_s: float = 0.0
    uttered_s: float = float("-inf")

    def look(self) -> None:
        """Take in what the record tells."""
        before = len(self.shadow.said)
        for event in self.shadow.look():
            match event:
                case CommandSpoken() | CommandDoubted() | SpeechRejected():
                    # Whoever spoke last knows what an answer to something before that is of.
                    if event.heard is None or spoken_in(event)[1] > self.uttered_s:
                        self.reactions.append(_REACTIONS[type(event)])
                case ClockTicked():
                    # It ticks every second while the light is on; what is said of it is heard.
                    continue
                case _:
                    pass
            self.reacted_s = CLOCK.monotonic_s()
        for say in self.shadow.said[before:]:
            self.said_since_turn += f" {say.text}"
            self.prompts += 1
            self._expect(say)

    def _expect(self, say: Say) -> None:
        """How long a prompt takes, as people know who have heard its like."""
        if self.voice is None:
            return
        parts = [part for part in (say.text[: say.heard_out].strip(), say.text[say.heard_out :].strip()) if part]
        spoken = [self.voice.render(part) for part in parts]
        last = np.frombuffer(spoken[-1].pcm, "<i2")
        now_s = CLOCK.monotonic_s()
        if now_s >= self.ends_s or now_s - self.listener.last_s > LIT_GAP_S:
            self.ends_s = now_s + BEGINS_S
        self.begun_s = self.ends_s + sum(speech.duration_s for speech in spoken[:-1])
        self.ends_s = self.begun_s + sounding(last)[1] / spoken[-1].sample_rate_hz

    def share_heard(self) -> float:
        """How much was heard of the last thing that the tool is saying; 1 while it is silent."""
        now_s = CLOCK.monotonic_s()
        if now_s >= self.ends_s or self.ends_s == self.begun_s:
            return 1.0
        return max(0.0, (now_s - self.begun_s) / (self.ends_s - self.begun_s))

    @property
    def busy_until_s(self) -> float:
        """Session time until which the tool speaks, as far as heard."""
        gap_s = LIT_GAP_S if self.shadow.session.snapshot.is_lit else GAP_S
        return max(self.listener.last_s + gap_s, self.reacted_s + REACTION_S) - self.zero_s


@dataclass(frozen=True)
class Spoken:
    """One utterance of the person.

    Attributes:
        from_s: When it was given to the mouth, on the machine's monotonic clock; it is heard up to half a second later.
        to_s: When its last sound was due.
    """

    from_s: float
    to_s: float


class _RealTime:
    """The machine's clock, from 0."""

    def __init__(self) -> None:
        self.zero_s = CLOCK.monotonic_s()

    def monotonic_s(self) -> float:
        return CLOCK.monotonic_s() - self.zero_s

    def sleep_until(self, deadline_s: float) -> None:
        CLOCK.sleep_until(deadline_s + self.zero_s)


class LiveRoom(Scene):
    """A running tool on the sound card as the scene of a `Rehearsal`.

    Args:
        voices: The people.
        shadow: Session as the record tells it.
        mouth: Where speech goes.
        listener: At the loudspeaker.
        background: Noise of the room.
        limit_s: After so many seconds it is broken off.
        patience: How long people wait; None waits for a longer pause than any inside a prompt.
        voice: Of the tool, by which people with `patience` know how long its prompts are.
    """

    def __init__(
        self,
        voices: Mapping[str, VoiceSpec],
        shadow: Shadow,
        mouth: Mouth,
        listener: Listener,
        background: SimulatedRoom | None = None,
        *,
        limit_s: float = math.inf,
        patience: Patience | None = None,
        voice: Synthesizer | None = None,
    ) -> None:
        clock = _RealTime()
        self.watch = Watch(shadow, listener, clock.zero_s, voice=voice)
        self._patience = patience
        self.spoken: list[Spoken] = []
        self._voices = voices
        self._mouth = mouth
        self._background = background or SimulatedRoom()
        self._speech: dict[tuple[str, str], Samples] = {}
        self._limit_s = limit_s
        super().__init__(shadow, self.watch, clock)  # type: ignore[arg-type]

    def wait_until_asked(self, longest_s: float = 30.0) -> None:
        """Listen until the tool has asked its first question.

        Raises:
            TimeoutError: It did not.
        """
        until_s = self.now_s + longest_s
        # Kept prompts sound at once; the first one of all waits for its voice.
        while not self.watch.prompts or self.watch.listener.last_s < self._clock.zero_s:
            if self.now_s > until_s:
                raise TimeoutError("the tool asked nothing")
            self._pass_on()
        self.listen_until_quiet()

    @property
    def tool_is_quiet(self) -> bool:
        """Whether people may speak now, as they hear it."""
        if self._patience is None or super().tool_is_quiet:
            return super().tool_is_quiet
        now_s, watch = CLOCK.monotonic_s(), self.watch
        if now_s >= max(watch.ends_s, watch.listener.last_s + self._patience.tail_s):
            return True
        mode = Mode(self.runner.session.snapshot.mode)
        share = self._patience.share_of(mode, watch.reactions, objects=self.objects())
        return share <= watch.share_heard() < 1.0

    def speech(self, who: str, text: str) -> Samples:
        """What somebody says, rendered once: a long sentence takes a voice some seconds."""
        if (who, text) not in self._speech:
            self._speech[who, text] = samples_of(signal_of(render(self._voices[who], text)))
        return self._speech[who, text]

    def _utter(self, who: str, text: str) -> None:
        self.utter(self.speech(who, text))

    def utter(self, speech: Samples) -> None:
        """Speak, and wait until it is said."""
        # All at once, so that a busy machine does not tear the words apart.
        begun_s = self.watch.uttered_s = CLOCK.monotonic_s()
        self._mouth.say(self._background.add_to(speech))
        loud = np.flatnonzero(np.abs(speech.astype(int)) > 0.02 * np.abs(speech.astype(int)).max())
        self._clock.sleep_until(self.now_s + len(speech) / SAMPLE_RATE_HZ)
        self.spoken.append(Spoken(begun_s, begun_s + int(loud[-1]) / SAMPLE_RATE_HZ))

    def _pass_on(self, *, deaf: bool = False) -> None:
        silence = np.zeros(BLOCK_SAMPLES, dtype=np.int16)
        hum = silence if deaf else self._background.add_to(silence)
        if hum.any():
            self._mouth.put(hum.astype("<i2").tobytes())
        self._clock.sleep_until(self.now_s + BLOCK_S)
        if self.now_s > self._limit_s:
            raise TimeoutError(f"broken off after {self._limit_s:.0f} s")
        self.watch.look()


@contextmanager
def room(folder: Path, *, self_heard: bool = False) -> Iterator[tuple[SoundCard, Mouth, Listener]]:
    """Card, mouth and listener, ended at the end."""
    card = SoundCard(folder, self_heard=self_heard)
    card.start()
    try:
        mouth, listener = Mouth(card), Listener(card)
        try:
            yield card, mouth, listener
        finally:
            mouth.close()
            listener.close()
    finally:
        card.stop()
