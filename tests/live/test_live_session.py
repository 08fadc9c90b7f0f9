"""A live session with stand-ins for devices and recogniser, and the real session, journal, gate and voice cache."""

import json
import queue
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from live_files import write_short

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")

from handsfree.audio.earcons import render_earcon  # noqa: E402
from handsfree.clock import SystemClock  # noqa: E402
from handsfree.commands.opening import open_session  # noqa: E402
from handsfree.errors import VoiceError  # noqa: E402
from handsfree.model.audio import AudioBlock, Speech  # noqa: E402
from handsfree.model.effects import Earcon, Priority  # noqa: E402
from handsfree.model.graph import WordGraph  # noqa: E402
from handsfree.model.hypotheses import Evidence, Hypothesis  # noqa: E402
from handsfree.procedure.loader import load_bundle  # noqa: E402
from handsfree.procedure.session import Snapshot  # noqa: E402
from handsfree.recognition.port import Recognizer  # noqa: E402
from handsfree.runner.live import Inbox, KeyPressed, LabelScanned, Live  # noqa: E402
from handsfree.runner.live_outputs import LiveOutputs  # noqa: E402
from handsfree.runner.resumed import ResumedClock  # noqa: E402
from handsfree.understanding.graphs import match  # noqa: E402

LOUD = (np.tile([8_000, -8_000], 160)).astype("<i2").tobytes()


class FakeSound:
    """Blocks that the test sends; speech that plays until the test says that it is over."""

    def __init__(self) -> None:
        self.notice: Callable[[str, bool], None] = lambda what, there: None
        self.overflows = 0
        self.blocks: queue.Queue[AudioBlock | Callable[[], None] | None] = queue.Queue()
        self.played: list[tuple[str, Priority]] = []
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

    def play(self, speech: Speech, priority: Priority) -> None:
        self.played.append((speech.pcm.decode(), priority))

    def mix(self, sound: Speech) -> None:
        self.mixed.append(sound)

    def stop(self) -> None:
        self.stops += 1
        self.speaking = False

    def cut(self, below: Priority) -> bool:
        self.cuts += 1
        return True

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

    def __init__(self) -> None:
        self.words: dict[float, str] = {}
        self.graph: WordGraph | None = None
        self.dictating = False
        self.silent: list[bool] = []
        self.resets = 0
        self.evidence = Evidence(-0.1, 0.0, 9.0, 0.5, 20.0)

    def listen_for(self, graph: WordGraph) -> None:
        self.graph, self.dictating = graph, False

    def listen_for_dictation(self, commands: WordGraph | None = None) -> None:
        self.graph, self.dictating = commands, True

    def accept(self, block: AudioBlock) -> tuple[Hypothesis, ...]:
        self.silent.append(not any(block.pcm))
        text = self.words.get(block.start_s)
        if text is None or self.graph is None:
            return ()
        found = match(self.graph, tuple(text.split()))
        tags = found.tags if found is not None else ()
        return (
            Hypothesis(
                tuple(text.split()) if found is not None or self.dictating else (),
                tags,
                block.start_s,
                block.end_s,
                "fake",
                replace(self.evidence, speech_s=0.35 * len(text.split())),
                free_text=text,
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
        clock = ResumedClock(SystemClock())
        self.voice = FakeVoice()
        outputs = LiveOutputs(self.sound, self.voice, self.view, clock)
        bundle = load_bundle(str(write_short(folder)))
        self.conductor, self.journal = open_session(
            bundle, self.folder, clock, outputs, practice=True, engine="fake", keep_clips=False
        )
        recognizer: Recognizer = self.recognizer
        self.live = Live(self.conductor, outputs, self.view, self.sound, recognizer, clock, self.inbox, phrase)

    def run(self, steps: Callable[["Visit"], Iterator[object]]) -> None:
        """Run; `steps` goes on at the end of each turn and ends the session by ending."""

        def script() -> Iterator[object]:
            # Past the span in which the first question was asked.
            self.sound.send(bytes(640))
            yield
            yield from steps(self)
            raise KeyboardInterrupt

        self.view.steps = script()
        with self.journal, pytest.raises(KeyboardInterrupt):
            self.live.run()

    def say(self, text: str) -> Iterator[object]:
        """Say something and wait until it was dealt with."""
        before = len(self.view.shown)
        self.recognizer.words[self.sound.now_s] = text
        self.sound.send()
        outcomes = {"accepted", "doubted", "not taken", "not for me"}
        while not outcomes & {what for what, _ in self.view.shown[before:]}:
            yield

    def facts(self, kind: str) -> list[dict[str, object]]:
        lines = [json.loads(line) for line in (self.folder / "record.jsonl").read_text().splitlines()]
        return [line["data"] for line in lines if line["kind"] == kind]


def to_the_light(visit: Visit) -> Iterator[object]:
    """Up to the light being on."""
    for text in ("practice session", "five", "affirmative", "affirmative", "light on"):
        yield from visit.say(text)


def test_answers_are_heard_read_back_and_recorded(tmp_path: Path) -> None:
    visit = Visit(tmp_path)
    visit.run(to_the_light)
    assert [one["value"] for one in visit.facts("reading_confirmed")] == ["practice", "5"]
    assert ("distance five, centimeters. Correct?", Priority.PROMPT) in visit.sound.played
    assert visit.view.snapshot is not None
    assert visit.view.snapshot.is_lit


def test_what_cannot_be_spoken_is_shown_and_the_session_goes_on(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        yield from to_the_light(visit)
        visit.voice.fails = True
        visit.sound.mixed.clear()
        yield from visit.say("light off")
        assert render_earcon(Earcon.ATTENTION) in visit.sound.mixed

    visit.run(steps)
    assert "not spoken, read the screen: the voice gave nothing within 5 s" in visit.view.all("notice")
    assert [fact["zone"] for fact in visit.facts("light_turned_off")]


def test_nobody_begins_with_a_tool_that_is_mute(tmp_path: Path) -> None:
    voice = FakeVoice()
    voice.fails = True
    outputs = LiveOutputs(FakeSound(), voice, FakeView(), ResumedClock(SystemClock()))
    with pytest.raises(VoiceError, match="gave nothing"):
        outputs.say("Who is here?", Priority.PROMPT)


def test_an_answer_is_acknowledged_by_a_sound_before_its_read_back(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        yield from visit.say("practice session")
        visit.sound.mixed.clear()
        yield from visit.say("five")

    visit.run(steps)
    assert len(visit.sound.mixed) == 1


def test_a_label_that_nothing_asks_for_is_not_taken_and_changes_nothing(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        visit.inbox.put(LabelScanned("]C10109506000134352172810311010A4B2"))
        while not visit.inbox.empty():
            yield
        yield from visit.say("practice session")

    visit.run(steps)
    assert [one["value"] for one in visit.facts("reading_confirmed")] == ["practice"]
    assert not visit.facts("label_scanned")


def test_a_key_cuts_a_prompt_short_and_is_recorded_only_then(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        visit.inbox.put(KeyPressed())
        yield
        visit.sound.speaking = True
        visit.inbox.put(KeyPressed())
        while visit.sound.speaking:
            yield

    visit.run(steps)
    assert visit.sound.stops == 1
    assert [one["by"] for one in visit.facts("prompt_cut_short")] == ["key"]


def test_a_lost_microphone_is_said_once_shown_recorded_and_stops_the_light_count(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        yield from to_the_light(visit)
        said = len(visit.sound.played)
        visit.sound.blocks.put(lambda: visit.sound.notice("microphone", False))
        while not visit.view.all("notice"):
            yield
        words = " ".join(text for text, _ in visit.sound.played[said:])
        assert words.count("microphone") == 1
        visit.sound.blocks.put(lambda: visit.sound.notice("microphone", True))
        while len(visit.view.all("notice")) < 2:
            yield
        assert visit.sound.played[-2][0] == "The microphone is back."
        assert visit.sound.played[-1][0], "the question is asked again"

    visit.run(steps)
    assert visit.view.all("notice") == ["microphone lost: plug it in again", "microphone is back"]
    assert [one["what"] for one in visit.facts("sound_lost")] == ["microphone"]
    assert [one["what"] for one in visit.facts("sound_returned")] == ["microphone"]
    assert [one["end"] for one in visit.facts("light_turned_off")] == ["interrupted"]
    assert [one["value"] for one in visit.facts("reading_confirmed")] == ["practice", "5"]
    assert visit.recognizer.resets == 2
    assert visit.view.snapshot is not None
    assert not visit.view.snapshot.is_lit


def test_lost_sound_is_shown_counted_and_spoils_what_was_being_said(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        visit.sound.blocks.put(lambda: setattr(visit.sound, "overflows", 3))
        yield from visit.say("practice session")
        yield from visit.say("practice session")

    visit.run(steps)
    assert [one["count"] for one in visit.facts("sound_overflowed")] == [3]
    assert "some sound was lost: this machine is too busy" in visit.view.all("notice")
    assert visit.view.all("not taken") == ["practice session"]
    assert visit.view.all("accepted") == ["practice session"]


@pytest.mark.parametrize(("text", "outcome", "ended"), [("stop", "accepted", 1), ("light on", "not taken", 0)])
def test_somebody_louder_than_the_echo_cuts_a_prompt_short_and_only_a_stop_word_counts(
    tmp_path: Path, text: str, outcome: str, ended: int
) -> None:
    visit = Visit(tmp_path)
    soft = (np.tile([300, -300], 160)).astype("<i2").tobytes()

    def steps(visit: Visit) -> Iterator[object]:
        yield from to_the_light(visit)
        visit.sound.spans.append((visit.sound.now_s, visit.sound.now_s + 100))
        for _ in range(200):
            visit.sound.send(soft)
        for _ in range(3):
            last_s = visit.sound.send()
        # The stand-in is asked to cut, and its speech ends there.
        visit.sound.blocks.put(lambda: visit.sound.spans.__setitem__(0, (0.0, last_s + 0.1)))
        yield from visit.say(text)

    visit.run(steps)
    assert visit.sound.cuts == 1
    assert [one["by"] for one in visit.facts("prompt_cut_short")] == ["voice"]
    assert visit.view.all(outcome)[-1] == text
    assert len(visit.facts("light_turned_off")) == ended


def test_a_question_is_not_answered_by_words_that_began_before_it(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        yield from visit.say("practice session")
        yield from visit.say("five")
        # "affirmative" confirms the five; a second one, begun before eyewear is asked about, confirms nothing.
        start_s = visit.sound.now_s
        visit.recognizer.words[start_s] = visit.recognizer.words[start_s + 0.02] = "affirmative"
        visit.sound.send()
        visit.sound.send()
        while len(visit.view.all("accepted")) + len(visit.view.all("not taken")) < 4:
            yield

    visit.run(steps)
    assert visit.view.all("not taken") == ["affirmative"]
    assert visit.view.snapshot is not None
    assert visit.view.snapshot.step_id == "eyewear"


def test_with_an_attention_phrase_only_what_begins_with_it_is_taken_and_stop_words_always(tmp_path: Path) -> None:
    visit = Visit(tmp_path, phrase=("blue", "lantern"))

    def steps(visit: Visit) -> Iterator[object]:
        yield from visit.say("practice session")
        yield from visit.say("blue lantern practice session")
        yield from visit.say("stop")

    before = len(visit.sound.mixed)
    visit.run(steps)
    assert visit.view.all("not for me") == [""]
    assert visit.view.all("accepted") == ["blue lantern practice session", "stop"]
    assert visit.facts("utterance_not_taken") == [], "talk of the room is neither answered nor kept"
    assert len(visit.sound.mixed) > before


def test_a_room_too_loud_is_said_and_recorded_and_not_said_again_at_once(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    def steps(visit: Visit) -> Iterator[object]:
        # -12 dB below full scale, steady, for 12 s: far above the level that speech should have.
        for _ in range(600):
            visit.sound.send()
        while "too noisy to hear you" not in visit.view.all("notice"):
            yield
        yield from visit.say("practice session")

    visit.run(steps)
    assert visit.view.all("notice") == ["too noisy to hear you"]
    assert [one["reason"] for one in visit.facts("utterance_not_taken")] == ["too_noisy", "too_noisy"]
    assert visit.facts("reading_confirmed") == []


def test_the_recogniser_that_fails_ends_the_session_with_its_own_error(tmp_path: Path) -> None:
    visit = Visit(tmp_path)

    class BrokenError(Exception):
        pass

    def fail() -> None:
        raise BrokenError

    visit.sound.blocks.put(fail)
    with visit.journal, pytest.raises(BrokenError):
        visit.live.run()
