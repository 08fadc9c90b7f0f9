"""The real command on a sound card made of software: real streams, server, voice and recogniser; a synthetic person.

One visit is played, and the tests look at a part of it: a light goes on, the sound server is killed and started anew,
and the visit goes on. The loudspeaker is heard by the microphone, 10 dB softer than it was played.
"""

from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TypeVar

import pytest
from live_files import need_rig, write_short

pytest.importorskip("numpy")
pytest.importorskip("soundfile")

from handsfree.model.device_facts import DeviceLost, DeviceReturned
from handsfree.model.events import CommandDoubted, CommandSpoken
from handsfree.model.fact_base import Fact
from handsfree.model.facts import AnyFact
from handsfree.model.light_facts import LightStillOn, LightTurnedOff
from handsfree.model.reading_facts import ReadingConfirmed
from handsfree.model.readings import Exact, Option
from handsfree.record.verify import verify

pytestmark = [pytest.mark.sound, pytest.mark.live]
F = TypeVar("F", bound=Fact)
PATIENCE_S = 25.0
LIMIT_S = 150.0
"""A visit that goes astray is broken off: a tool that asks for the light to be put off is never quiet."""


@dataclass
class Story:
    """What came of the visit."""

    folder: Path
    lines: list[str]
    trouble: list[str]
    facts: list[AnyFact]
    heard: list[str]
    said: list[str]
    lit_before_crash: bool
    lit_after_crash: bool

    def all(self, kind: type[F]) -> list[F]:
        return [fact for fact in self.facts if isinstance(fact, kind)]


@pytest.fixture(scope="module")
def story(tmp_path_factory: pytest.TempPathFactory) -> Story:
    need_rig()
    from live_card import Listener, Mouth, SoundCard
    from live_rig import LiveRoom, Shadow, Tool

    from handsfree.simulation.script import VoiceSpec

    folder = tmp_path_factory.mktemp("rig")
    procedure = str(write_short(folder))
    card = SoundCard(folder / "card", self_heard=True)
    card.start()
    mouth, listener = Mouth(card), Listener(card)
    tool = Tool(card, folder / "record", procedure, "--voice", "neural", "--expert")
    shadow = Shadow(folder / "record", procedure, expert=True)
    person = {"clinician": VoiceSpec(engine="neural")}
    said: list[str] = []
    try:
        scene = LiveRoom(person, shadow, mouth, listener, limit_s=LIMIT_S)
        scene.wait_until_asked()

        def say(text: str) -> None:
            # Like a person, say it again when it was not taken.
            for _ in range(3):
                said.append(text)
                if scene.speak("clinician", text):
                    return
            raise AssertionError(f"{text!r} was not taken: {tool.lines[-4:]}")

        # Eyewear is a step of its own; everything that is asked or read back before is affirmed, doubts too.
        for text in ("practice session", "five point zero", "affirmative", "light on"):
            say(text)
            while shadow.session.snapshot.mode in ("doubting", "reading_back"):
                say("affirmative")
        lit = shadow.session.snapshot.is_lit
        scene.listen_s(2.0)
        card.kill()
        mouth.close()
        listener.close()
        _wait_for(scene, lambda: any("microphone lost" in line for line in tool.lines))
        card.start()
        mouth, listener = Mouth(card), Listener(card)
        _wait_for(scene, lambda: any("microphone is back" in line for line in tool.lines))
        _wait_for(
            scene, lambda: sum("lost" in line for line in tool.lines) == sum("back" in line for line in tool.lines)
        )
        scene = LiveRoom(person, shadow, mouth, listener, limit_s=LIMIT_S)
        scene.watch.look()
        scene.listen_s(1.0)
        after = shadow.session.snapshot.is_lit
        scene.listen_until_quiet()
        say("stop")
        scene.listen_until_quiet()
    finally:
        mouth.close()
        listener.close()
        tool.close()
        card.stop()
    shadow.look()
    heard = [
        event.heard.text
        for event in shadow.events
        if isinstance(event, CommandSpoken | CommandDoubted) and event.heard is not None
    ]
    return Story(folder / "record", tool.lines, tool.trouble, shadow.facts, heard, said, lit, after)


def _wait_for(scene: object, there: object) -> None:
    from live_card import CLOCK

    until_s = CLOCK.monotonic_s() + PATIENCE_S
    while not there():  # type: ignore[operator]
        assert CLOCK.monotonic_s() < until_s, "what was waited for did not come"
        scene.listen_s(0.1)  # type: ignore[attr-defined]


def test_the_steps_are_done_by_voice_while_prompts_play(story: Story) -> None:
    confirmed = story.all(ReadingConfirmed)
    assert [one.value for one in confirmed] == [Option(value="practice"), Exact(Decimal(5), decimals=1)]
    assert story.lit_before_crash
    assert all(one.heard.engine in ("neural", "neural-both", "neural-three") for one in confirmed)


def test_the_tools_own_voice_is_never_taken_for_a_command(story: Story) -> None:
    # Words of the person that were spoilt, and said again, are no commands and not among these.
    assert len(story.heard) <= len(story.said)
    assert set(story.heard) <= set(story.said)


def test_a_killed_sound_server_is_shown_and_recorded_and_the_devices_come_back(story: Story) -> None:
    text = "\n".join(story.lines)
    assert "! microphone lost: plug it in again" in text
    assert "! microphone is back" in text
    lost = {one.what for one in story.all(DeviceLost)}
    assert "microphone" in lost
    assert {one.what for one in story.all(DeviceReturned)} == lost


def test_the_light_counts_up_to_the_last_sign_of_life_before_the_loss(story: Story) -> None:
    (off,) = story.all(LightTurnedOff)
    assert off.end == "interrupted"
    alive_s = max(one.at_s for one in story.all(LightStillOn))
    assert off.counted_to_s == pytest.approx(alive_s, abs=0.002)
    assert not story.lit_after_crash


def test_nothing_that_was_confirmed_is_lost_and_the_visit_goes_on(story: Story) -> None:
    found = verify(story.folder)
    assert [fault.what for fault in found.faults] == ["the record ends without being closed"], "the visit was left open"
    assert story.heard[-1] == "stop"
    kinds = [type(fact) for fact in story.facts]
    assert kinds.index(DeviceReturned) < len(kinds) - 1
    assert any("Stopped." in line for line in story.lines)
