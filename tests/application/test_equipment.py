"""What a live session is put together from: each setting reaches the part that it is for."""

from contextlib import contextmanager
from dataclasses import replace
from types import SimpleNamespace

import pytest
from rich.console import Console

pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")

from handsfree.application import equipment as built
from handsfree.clock import SystemClock
from handsfree.config import Config
from handsfree.display.room.room_screen import RoomScreen
from handsfree.model.commands import Control
from handsfree.runner.live_session import CommandPressed, KeyPressed

CONFIG = Config.model_validate(
    {
        "devices": {"microphone": "Headset", "loudspeaker": "Desk"},
        "voice": {"name": "system", "rate": 130},
        "listening": {"engine": "vosk", "attention": "Blue lantern", "talk_over": False},
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
