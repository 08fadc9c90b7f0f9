"""What a live session is put together from: each setting reaches the part that it is for."""

import sys
from contextlib import contextmanager
from dataclasses import replace
from types import SimpleNamespace

import pytest
from rich.console import Console

pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")

from handsfree.application import equipment as built
from handsfree.application.echo_check import DuplexReason, DuplexWay, EchoChecked, keep
from handsfree.clock import SystemClock
from handsfree.config import Config, Duplex
from handsfree.display.room.room_screen import RoomScreen
from handsfree.model.commands import Control
from handsfree.runner.live_session import CommandPressed, KeyPressed

CONFIG = Config.model_validate(
    {
        "devices": {"microphone": "Headset", "loudspeaker": "Desk"},
        "voice": {"name": "system", "rate": 130},
        "listening": {"engine": "vosk", "attention": "Blue lantern", "talk_over": False, "duplex": "full"},
    }
)


@pytest.fixture
def asked(monkeypatch):
    """What was asked of each part."""
    seen = {}

    class Link:
        def __init__(self, clock, *names):
            seen["devices"] = names

        def __enter__(self):
            return self

        def __exit__(self, *_):
            seen["closed"] = True

    class Visit:
        def __init__(self, *arguments, **named):
            seen["live"] = (*arguments[-2:], named["talk_over"])

        def run(self):
            seen["ran"] = True

    @contextmanager
    def no_keys(*_):
        yield

    monkeypatch.setattr(built, "AudioLink", Link)
    monkeypatch.setattr(built, "Live", Visit)
    monkeypatch.setattr(built, "listening_for_keys", no_keys)
    monkeypatch.setattr(
        built, "choose_synthesizer", lambda name, cache, rate, standing, apart: seen.update(voice=(name, rate))
    )
    monkeypatch.setattr(built, "begin_loading", lambda name, settings: seen.update(engine=name))
    return seen


def test_each_setting_reaches_its_part(asked):
    with built.equipment(built.LiveSettings.of(CONFIG), SystemClock(), Console(quiet=True)) as live:
        live.run(SimpleNamespace(), SystemClock())
    assert asked == {
        "devices": ("Headset", "Desk"),
        "voice": ("system", 130),
        "engine": "vosk",
        "live": (("blue", "lantern"), "en-US", False),
        "ran": True,
        "closed": True,
    }


def test_an_empty_configuration_leaves_the_choice_to_the_parts(asked):
    settings = built.LiveSettings.of(Config())
    with built.equipment(replace(settings, microphone="Lapel"), SystemClock(), Console(quiet=True)):
        pass
    assert asked == {"devices": ("Lapel", None), "voice": (None, 150), "engine": None, "closed": True}


class View:
    def __init__(self):
        self.notices = []

    def notice(self, at_s, text):
        self.notices.append(text)


@pytest.fixture
def checked(monkeypatch, tmp_path):
    """What the sound checks of these devices found."""
    monkeypatch.setattr(built, "echo_checks", lambda: tmp_path / "checks.json")
    monkeypatch.setattr(built, "name_of", lambda kind, name: name or f"usual {kind}")
    return tmp_path / "checks.json"


DEVICES = ("Lapel", "usual output")


def canceller(duplex, **options):
    view = View()
    settings = replace(built.LiveSettings.of(Config()), microphone="Lapel", duplex=duplex, **options)
    return built.canceller_for(settings, SimpleNamespace(played=None), view), view.notices


def test_without_a_sound_check_only_stop_words_are_heard_over_prompts_and_that_is_said(checked):
    found, notices = canceller(Duplex.CHECKED)
    assert found is None
    assert notices == [
        "while the tool speaks only stop words are heard: no sound check of these devices yet (handsfree soundcheck)"
    ]


def test_a_run_goes_by_the_sound_check_of_its_devices(checked):
    pytest.importorskip("pywebrtc_audio", reason="pywebrtc-audio is not installed: pip install 'handsfree[speech]'")
    keep(EchoChecked(DuplexWay.FULL, DuplexReason.TAKEN_OUT), DEVICES, checked)
    found, notices = canceller(Duplex.CHECKED)
    assert found is not None
    assert notices == []
    keep(EchoChecked(DuplexWay.HALF, DuplexReason.CLIPPED), DEVICES, checked)
    found, notices = canceller(Duplex.CHECKED)
    assert found is None
    assert notices == ["while the tool speaks only stop words are heard: the sound check of these devices found so"]


def test_full_duplex_without_the_canceller_falls_back_and_says_so(checked, monkeypatch):
    monkeypatch.setitem(sys.modules, "pywebrtc_audio", None)
    found, notices = canceller(Duplex.FULL)
    assert found is None
    assert notices == [
        "while the tool speaks only stop words are heard: "
        "the echo canceller is missing: pip install 'handsfree[speech]'"
    ]


@pytest.mark.parametrize("options", [{"duplex": Duplex.HALF}, {"duplex": Duplex.FULL, "talk_over": False}])
def test_half_duplex_asks_for_nothing(checked, options):
    assert canceller(**options) == (None, [])


def test_a_screen_for_the_room_is_told_what_the_terminal_is_told(asked):
    room = RoomScreen(SystemClock(), "visit")
    quiet = Console(quiet=True)
    with built.equipment(built.LiveSettings.of(Config()), SystemClock(), quiet, room=room) as live:
        live.view.notice(1.0, "microphone lost: plug it in again")
        assert '"notice": "microphone lost: plug it in again"' in room.wait(-1)[1]


def test_keys_that_are_set_say_their_command_and_no_other_key_does(asked, monkeypatch):
    config = Config.model_validate({"keys": {"affirm": "page-down", "stop": "f5"}})
    heard = []

    @contextmanager
    def keys(pressed, scanned, clock, named):
        pressed()
        for name in ("page-down", "f5"):
            named[name](7.0)
        assert set(named) == {"page-down", "f5"}
        yield

    monkeypatch.setattr(built, "listening_for_keys", keys)
    with built.equipment(built.LiveSettings.of(config), SystemClock(), Console(quiet=True)) as live:
        monkeypatch.setattr(built, "Live", lambda *given, **_: SimpleNamespace(run=lambda: heard.append(given[6])))
        live.run(SimpleNamespace(), SystemClock())
    told = [heard[0].get_nowait() for _ in range(3)]
    assert told == [KeyPressed(), CommandPressed(Control.AFFIRM, 7.0), CommandPressed(Control.STOP, 7.0)]
