"""A voice in a process of its own: the same sound, and what happens when that process fails."""

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
from handsfree.voice.apart import VoiceApart


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


def test_a_text_that_fails_says_why_and_the_next_is_rendered() -> None:
    voice = VoiceApart(Parrot)
    with pytest.raises(VoiceError, match="the parrot coughs"):
        voice.render("cough")
    assert voice.render("hello") == Parrot().render("hello")
    voice.close()


def test_a_process_that_died_is_started_once_more(tmp_path: Path) -> None:
    voice = VoiceApart(partial(Parrot, tmp_path))
    assert voice.render("die once") == Parrot().render("die once")
    with pytest.raises(VoiceError, match="exit status 9"):
        voice.render("die")
    assert voice.render("hello") == Parrot().render("hello")
    os.kill(pid(voice), signal.SIGKILL)
    assert voice.render("hello") == Parrot().render("hello")
    voice.close()


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
