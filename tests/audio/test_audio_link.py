"""Devices that go away and come back, with stand-ins for both."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime

import pytest

pytest.importorskip("numpy")
pytest.importorskip("soxr")

from handsfree.audio import audio_link as link_module
from handsfree.audio.audio_link import LOUDSPEAKER, MICROPHONE, AudioLink
from handsfree.clock import ManualClock
from handsfree.errors import AudioDeviceError
from handsfree.model.audio import AudioBlock, Speech
from handsfree.model.effects import Priority


@dataclass
class World:
    """What is plugged in, and what happened."""

    microphone: bool = True
    loudspeaker: bool = True
    open: set[str] = field(default_factory=set)
    relisted: int = 0
    at_block: dict[int, Callable[[], None]] = field(default_factory=dict)
    blocks: int = 0
    played: list[Speech] = field(default_factory=list)
    speaking: bool = False

    def device(self, kind: str) -> type:
        world = self

        class Device:
            overflows = 2

            def __init__(self, clock: object, name: str | None) -> None:
                if not getattr(world, kind):
                    raise AudioDeviceError(f"no {kind}")

            def __enter__(self) -> "Device":
                world.open.add(kind)
                return self

            def __exit__(self, *_: object) -> None:
                world.open.discard(kind)

            @property
            def alive(self) -> bool:
                return world.loudspeaker

            @property
            def speaking(self) -> bool:
                return world.speaking

            busy = speaking

            def play(self, speech: Speech, priority: Priority) -> None:
                world.played.append(speech)

            def cut(self, below: Priority) -> bool:
                return True

            def played_dbfs(self, from_s: float, to_s: float) -> float:
                return -20.0

            def sounded(self, from_s: float, to_s: float) -> bool:
                return True

            def __iter__(self) -> Iterator[AudioBlock]:
                while world.microphone:
                    world.blocks += 1
                    yield AudioBlock(bytes(640), world.blocks * 0.02)
                    world.at_block.pop(world.blocks, lambda: None)()
                raise AudioDeviceError("no frames for 500 ms")

        return Device

    def refresh(self) -> None:
        assert not self.open, "PortAudio lists devices anew only while every stream is closed"
        self.relisted += 1


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> World:
    made = World()
    monkeypatch.setattr(link_module, "Microphone", made.device("microphone"))
    monkeypatch.setattr(link_module, "Loudspeaker", made.device("loudspeaker"))
    monkeypatch.setattr(link_module, "refresh_devices", made.refresh)
    monkeypatch.setattr(link_module, "RETRY_S", 0.0)
    return made


def sound_link() -> AudioLink:
    return AudioLink(ManualClock(datetime(2026, 11, 25, tzinfo=UTC)))


def listen(link: AudioLink, world: World, blocks: int) -> list[tuple[str, bool]]:
    """Take so many blocks; what was told meanwhile."""
    told: list[tuple[str, bool]] = []

    def note(what: str, there: bool) -> None:
        told.append((what, there))
        # A lost device is plugged in again as soon as its loss is told.
        if not there and what == MICROPHONE:
            world.microphone = True

    link.notice = note
    for number, _ in enumerate(link, start=1):
        if number == blocks:
            link.close()
    return told


def test_a_lost_microphone_is_told_and_taken_up_again(world: World) -> None:
    link = sound_link()
    world.at_block[3] = lambda: setattr(world, "microphone", False)
    assert listen(link, world, 6) == [(MICROPHONE, False), (MICROPHONE, True)]
    assert world.relisted == 1
    assert world.open == set(), "at the end both devices are free"
    assert link.overflows == 4, "what was lost before the loss is not forgotten"


def test_devices_that_nobody_listened_to_are_freed_at_the_end(world: World, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level("INFO", "handsfree")
    with sound_link() as link:
        assert world.open == {"microphone", "loudspeaker"}
    assert world.open == set()
    assert caplog.messages == ["devices_opened", "devices_closed overflows=2"]
    assert list(link) == []


def test_a_loudspeaker_that_is_gone_is_told_and_nothing_said_into_it_fails(world: World) -> None:
    link = sound_link()
    world.at_block[2] = lambda: setattr(world, "loudspeaker", False)
    assert listen(link, world, 10) == [(LOUDSPEAKER, False)]
    link.play(Speech(b"", 16_000), Priority.STOP)
    link.mix(Speech(b"", 16_000))
    link.stop()
    assert world.played == []
    assert (link.busy, link.speaking, link.sounded(0, 1), link.cut(Priority.STOP)) == (False, False, False, False)
    assert link.played_dbfs(0, 1) == -90.0


def test_a_loudspeaker_that_comes_back_is_used_again(world: World) -> None:
    link = sound_link()
    world.at_block[2] = lambda: setattr(world, "loudspeaker", False)
    world.at_block[5] = lambda: setattr(world, "loudspeaker", True)
    assert listen(link, world, 10) == [(LOUDSPEAKER, False), (LOUDSPEAKER, True)]


def test_while_the_loudspeaker_is_missing_the_list_of_devices_is_read_ever_more_seldom(world: World) -> None:
    link = sound_link()
    world.at_block[1] = lambda: setattr(world, "loudspeaker", False)
    # Ten minutes of blocks: after 3, 6, 12, 24, 48 s, then every minute.
    listen(link, world, 30_000)
    assert 10 <= world.relisted <= 15


def test_both_lost_in_the_middle_of_a_prompt_are_both_told_and_opened_at_once(world: World) -> None:
    link = sound_link()

    def crash() -> None:
        world.microphone = world.loudspeaker = False
        world.speaking = True

    world.at_block[3] = crash
    told: list[tuple[str, bool]] = []

    def note(what: str, there: bool) -> None:
        told.append((what, there))
        if (what, there) == (LOUDSPEAKER, False):
            world.microphone = world.loudspeaker = True

    link.notice = note
    for number, _ in enumerate(link, start=1):
        if number == 6:
            link.close()
    assert told[:2] == [(MICROPHONE, False), (LOUDSPEAKER, False)]
    assert set(told[2:]) == {(MICROPHONE, True), (LOUDSPEAKER, True)}
    assert world.relisted == 1, "a loudspeaker that is gone does not speak on"


def test_at_the_start_a_missing_device_is_an_error_and_frees_the_other(world: World) -> None:
    world.loudspeaker = False
    with pytest.raises(AudioDeviceError, match="no loudspeaker"):
        sound_link()
    assert world.open == set()
    world.microphone = False
    with pytest.raises(AudioDeviceError, match="no microphone"):
        sound_link()
