"""A voice in a process of its own: the same sound, and what happens when that process fails."""

import errno
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from handsfree.errors import VoiceError
from handsfree.model.audio import Speech
from handsfree.voice import voice_process
from handsfree.voice.voice_process import VoiceApart


class Parrot:
    """Renders a text as its own letters; some words are too much for it."""

    name = "parrot 1"

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder

    def render(self, text: str) -> Speech:
        if text == "cough":
            raise VoiceError("the parrot coughs")
        if text == "die":
            os._exit(9)
        if text == "die once" and self._folder is not None and not (self._folder / "died").exists():
            (self._folder / "died").touch()
            os._exit(9)
        if text == "stumble":
            raise ValueError("two feet")
        if text == "who":
            return Speech(f"{os.getpid():08d}".encode(), 8_000)
        return Speech(text.encode() * 2, 8_000)


def pid(voice: VoiceApart) -> int:
    return int(voice.render("who").pcm)


def test_it_renders_what_the_voice_renders_in_another_process() -> None:
    voice = VoiceApart(Parrot)
    assert voice.name == Parrot.name
    assert voice.render("hello") == Parrot().render("hello")
    assert pid(voice) not in {os.getpid(), 0}
    assert pid(voice) == pid(voice)
    voice.close()


@pytest.mark.parametrize(("text", "why"), [("cough", "^the parrot coughs$"), ("stumble", "ValueError: two feet")])
def test_a_text_that_fails_says_why_and_the_next_is_rendered(text: str, why: str) -> None:
    voice = VoiceApart(Parrot)
    with pytest.raises(VoiceError, match=why):
        voice.render(text)
    assert voice.render("hello") == Parrot().render("hello")
    voice.close()


def test_a_process_that_died_is_started_once_more(tmp_path: Path) -> None:
    voice = VoiceApart(partial(Parrot, tmp_path))
    assert voice.render("die once") == Parrot().render("die once")
    with pytest.raises(VoiceError, match="exit status 9"):
        voice.render("die")
    assert when_ready(voice, "hello") == Parrot().render("hello")
    os.kill(pid(voice), signal.SIGKILL)
    assert when_ready(voice, "hello") == Parrot().render("hello")
    voice.close()


class Mute(Parrot):
    """Is there, but cannot say a word."""

    def render(self, text: str) -> Speech:
        raise ValueError("no beak")


class Slow(Parrot):
    """Takes its time."""

    def render(self, text: str) -> Speech:
        time.sleep(20)
        return super().render(text)


def test_a_voice_that_cannot_be_made_ready_says_so_each_time() -> None:
    voice = VoiceApart(Mute)
    for _ in range(2):
        with pytest.raises(VoiceError, match="ValueError: no beak"):
            voice.render("hello")
    voice.close()


def when_ready(voice: VoiceApart, text: str) -> Speech:
    """Render; a voice that is starting again says for a while that it is not ready."""
    for _ in range(20):
        try:
            return voice.render(text)
        except VoiceError as error:
            if str(error) != "the voice is not ready yet":
                raise
    raise AssertionError("it never became ready")


def test_a_process_that_hangs_costs_its_text_only(monkeypatch: pytest.MonkeyPatch) -> None:
    voice = VoiceApart(Parrot)
    hung = pid(voice)
    monkeypatch.setattr(voice_process, "TEXT_S", 1.0)
    # A stopped process does not hear SIGTERM.
    os.kill(hung, signal.SIGSTOP)
    with pytest.raises(VoiceError, match="nothing within 1 s"):
        voice.render("hello")
    assert when_ready(voice, "hello") == Parrot().render("hello")
    assert pid(voice) != hung
    voice.close()


def test_a_process_that_never_becomes_ready_is_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voice_process, "START_S", 0.2)
    voice = VoiceApart(Slow)
    first = voice._process.pid
    with pytest.raises(VoiceError, match="not ready yet"):
        voice.render("hello")
    assert voice._process.pid != first
    voice.close()


def test_the_answer_to_an_interrupted_text_is_not_given_to_the_next() -> None:
    voice = VoiceApart(Parrot)
    assert voice.render("hello")
    connection = voice._connection

    class Interrupted:
        send, close = connection.send, connection.close

        def poll(self, within_s: float) -> bool:
            raise KeyboardInterrupt

    voice._connection = Interrupted()
    with pytest.raises(KeyboardInterrupt):
        voice.render("one")
    assert when_ready(voice, "two") == Parrot().render("two")
    voice.close()


def test_no_process_to_be_had_is_a_fault_of_the_voice(monkeypatch: pytest.MonkeyPatch) -> None:
    class Full:
        Pipe = staticmethod(multiprocessing.Pipe)

        class Process:
            def __init__(self, **_: object) -> None:
                pass

            def start(self) -> None:
                raise OSError(errno.EAGAIN, os.strerror(errno.EAGAIN))

    monkeypatch.setattr(voice_process, "get_context", lambda _: Full)
    with pytest.raises(VoiceError, match="no process can be started for the voice: Resource temporarily unavailable"):
        VoiceApart(Parrot)


def test_an_interrupt_from_the_terminal_does_not_end_it() -> None:
    voice = VoiceApart(Parrot)
    before = pid(voice)
    os.kill(before, signal.SIGINT)
    assert pid(voice) == before
    voice.close()


def test_a_voice_that_is_not_installed_is_told_at_once() -> None:
    def missing() -> Parrot:
        raise VoiceError("install one")

    with pytest.raises(VoiceError, match="install one"):
        VoiceApart(missing)


def test_it_does_not_outlive_the_program() -> None:
    code = (
        "import os, sys; sys.path.insert(0, sys.argv[1]); from test_voice_apart import Parrot, VoiceApart\n"
        "voice = VoiceApart(Parrot); print(int(voice.render('who').pcm), flush=True); os.kill(os.getpid(), 9)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(Path(__file__).parent)], capture_output=True, timeout=60, text=True
    )
    left = int(done.stdout)
    for _ in range(200):
        try:
            os.kill(left, 0)
        except ProcessLookupError:
            return
        if "State:\tZ" in Path(f"/proc/{left}/status").read_text():
            return
        time.sleep(0.05)
    pytest.fail("the voice still runs")
