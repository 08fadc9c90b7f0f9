"""Stand-ins for devices, voice, recogniser and screen around a real session, journal and gate."""

import json
import queue
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from live_files import write_short

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")

from handsfree.application.opening import kept_open, open_session  # noqa: E402
from handsfree.clock import SystemClock  # noqa: E402
from handsfree.definition.loader import load_bundle  # noqa: E402
from handsfree.errors import VoiceError  # noqa: E402
from handsfree.model.audio import AudioBlock, Heard, Speech  # noqa: E402
from handsfree.model.effects import Earcon, Priority  # noqa: E402
from handsfree.model.graph import WordGraph  # noqa: E402
from handsfree.model.hypotheses import Evidence, Hypothesis  # noqa: E402
from handsfree.recognition.port import Recognizer  # noqa: E402
from handsfree.runner.live_outputs import LiveOutputs  # noqa: E402
from handsfree.runner.live_session import Inbox, Live  # noqa: E402
from handsfree.runner.session_clock import SessionClock  # noqa: E402
from handsfree.session.session import Snapshot  # noqa: E402
from handsfree.understanding.graphs import match  # noqa: E402

LOUD = (np.tile([8_000, -8_000], 160)).astype("<i2").tobytes()


class FakeSound:
    """Blocks that the test sends; speech that plays until the test says that it is over."""

    def __init__(self) -> None:
        self.notice: Callable[[str, bool], None] = lambda what, there: None
        self.overflows = 0
        self.blocks: queue.Queue[AudioBlock | Callable[[], None] | None] = queue.Queue()
        self.played: list[tuple[str, Priority]] = []
        self.held: list[bool] = []
        self.mixed: list[Speech] = []
        self.stops = 0
        self.cuts = 0
        self.speaking = False
        self.spans: list[tuple[float, float]] = []
        self.now_s = 0.0

    def __iter__(self) -> Iterator[AudioBlock]:
        while (item := self.blocks.get(timeout=20)) is not None:
            if isinstance(item, AudioBlock):
                yield item
            else:
                item()

    def send(self, pcm: bytes = LOUD) -> float:
        """One block; returns when it begins."""
        start_s = self.now_s
        self.blocks.put(AudioBlock(pcm, start_s))
        self.now_s += len(pcm) / 2 / 16_000
        return start_s

    def close(self) -> None:
        self.blocks.put(None)

    @property
    def busy(self) -> bool:
        return self.speaking

    def play(self, speech: Speech, priority: Priority, *, heard_out: bool = False) -> None:
        self.played.append((speech.pcm.decode(), priority))

    def mix(self, sound: Speech) -> None:
        self.mixed.append(sound)

    def stop(self) -> None:
        self.stops += 1
        self.speaking = False

    def hold_back(self, *, held: bool) -> None:
        self.held.append(held)

    def cut(self, below: Priority) -> bool:
        self.cuts += 1
        return True

    def break_off(self) -> bool:
        return False

    def pause(self, *, paused: bool) -> None:
        pass

    def heard_at(self, at_s: float) -> Heard:
        return Heard.ALL

    def played(self, start_s: float, count: int) -> np.ndarray:
        return np.zeros(count, dtype=np.int16)

    def sounded(self, from_s: float, to_s: float) -> bool:
        return any(start < to_s and end > from_s for start, end in self.spans)

    def played_dbfs(self, from_s: float, to_s: float) -> float:
        return -30.0


class FakeVoice:
    """A text as its own sound."""

    name = "fake"

    def __init__(self) -> None:
        self.fails = False

    def render(self, text: str) -> Speech:
        if self.fails:
            raise VoiceError("the voice gave nothing within 5 s")
        return Speech(text.encode(), 16_000)


class FakeRecognizer:
    """Hears, at the block that begins at a time, the words that the test put there."""

    speaking = False
    goes_on = speaking = False

    def __init__(self) -> None:
        self.words: dict[float, str] = {}
        self.graph: WordGraph | None = None
        self.dictating = False
        self.silent: list[bool] = []
        self.resets = 0
        self.evidence = Evidence(-0.1, 0.0, 9.0, 0.5, 20.0)
        self.more_since_s: float | None = None
        """When the reading began that is gone on with; then what is heard is heard by the graph of then."""
        self.graph_of_then: WordGraph | None = None

    def listen_for(self, graph: WordGraph, is_unfinished: Callable[[Hypothesis], bool] | None = None) -> None:
        self.graph, self.dictating = graph, False

    def listen_for_dictation(self, commands: WordGraph | None = None) -> None:
        self.graph, self.dictating = commands, True

    def accept(self, block: AudioBlock) -> tuple[Hypothesis, ...]:
        self.silent.append(not any(block.pcm))
        text = self.words.get(block.start_s)
        if text is None or self.graph is None:
            return ()
        more = self.more_since_s is not None and self.graph_of_then is not None
        graph = self.graph_of_then if more and self.graph_of_then is not None else self.graph
        self.graph_of_then = graph
        found = match(graph, tuple(text.split()))
        tags = found.tags if found is not None else ()
        return (
            Hypothesis(
                tuple(text.split()) if found is not None or self.dictating else (),
                tags,
                block.start_s if self.more_since_s is None else self.more_since_s,
                block.end_s,
                "fake",
                replace(self.evidence, speech_s=0.35 * len(text.split())),
                free_text=text,
                goes_on=more,
            ),
        )

    def flush(self) -> tuple[Hypothesis, ...]:
        return ()

    def reset(self) -> None:
        self.resets += 1

    def transcribe(self, block: AudioBlock) -> str:
        return ""


class FakeView:
    """Keeps what was shown; does the test's next step at the end of each turn."""

    def __init__(self) -> None:
        self.shown: list[tuple[str, str]] = []
        self.snapshot: Snapshot | None = None
        self.steps: Iterator[object] = iter(())

    def tool(self, at_s: float, text: str, priority: Priority) -> None:
        self.shown.append(("tool", text))

    def heard(self, at_s: float, text: str, outcome: str, probability: float) -> None:
        self.shown.append((outcome, text))

    def sound(self, at_s: float, earcon: Earcon) -> None:
        self.shown.append(("sound", earcon.value))

    def notice(self, at_s: float, text: str) -> None:
        self.shown.append(("notice", text))

    def show(self, at_s: float, snapshot: Snapshot) -> None:
        self.snapshot = snapshot

    def levels(self, at_s: float, level_dbfs: float, floor_dbfs: float, *, deaf: bool) -> None:
        next(self.steps, None)

    def all(self, kind: str) -> list[str]:
        return [text for what, text in self.shown if what == kind]


class Visit:
    """A live session on stand-ins."""

    def __init__(self, folder: Path, phrase: tuple[str, ...] = ()) -> None:
        self.folder = folder / "record"
        self.sound, self.recognizer, self.view = FakeSound(), FakeRecognizer(), FakeView()
        self.inbox: Inbox = Inbox()
        clock = SessionClock(SystemClock())
        self.voice = FakeVoice()
        outputs = LiveOutputs(self.sound, self.voice, self.view, clock)
        bundle = load_bundle(str(write_short(folder)))
        self.runner, self.journal = open_session(
            bundle, self.folder, clock, outputs, practice=True, engine="fake", keep_clips=False, beside=True
        )
        recognizer: Recognizer = self.recognizer
        self.live = Live(self.runner, outputs, self.view, self.sound, lambda: recognizer, clock, self.inbox, phrase)

    def run(self, steps: Callable[["Visit"], Iterator[object]]) -> None:
        """Run; `steps` goes on at the end of each turn and ends the session by ending."""

        def script() -> Iterator[object]:
            # Past the span in which the first question was asked.
            self.sound.send(bytes(640))
            yield
            while not self.runner.settled:
                yield
            yield from steps(self)
            raise KeyboardInterrupt

        self.view.steps = script()
        with kept_open(self.runner, self.journal), pytest.raises(KeyboardInterrupt):
            self.live.run()

    def say(self, text: str) -> Iterator[object]:
        """Say something and wait until it was dealt with and answered."""
        before = len(self.view.shown)
        self.recognizer.words[self.sound.now_s] = text
        self.sound.send()
        outcomes = {"accepted", "doubted", "not taken", "not for me"}
        while not outcomes & {what for what, _ in self.view.shown[before:]} or not self.runner.settled:
            yield

    def facts(self, kind: str) -> list[dict[str, object]]:
        lines = [json.loads(line) for line in (self.folder / "record.jsonl").read_text().splitlines()]
        return [line["data"] for line in lines if line["kind"] == kind]


def to_the_light(visit: Visit) -> Iterator[object]:
    """Up to the light being on."""
    for text in ("practice session", "five", "affirmative", "affirmative", "light on"):
        yield from visit.say(text)
