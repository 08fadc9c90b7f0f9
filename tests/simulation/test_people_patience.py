"""How long scripted people wait before they speak into a prompt. Behaviour of our own; no outside source."""

from datetime import UTC, datetime
from types import SimpleNamespace

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")

import live_rig  # noqa: E402
from duplex_trials import PATIENCE  # noqa: E402

from handsfree.clock import ManualClock  # noqa: E402
from handsfree.model.audio import Speech  # noqa: E402
from handsfree.model.effects import Priority, Say  # noqa: E402
from handsfree.session.modes import Mode  # noqa: E402
from handsfree.simulation.rehearsal import Rehearsal  # noqa: E402
from handsfree.simulation.script import ScriptLine  # noqa: E402

RATE_HZ = 1000


@pytest.mark.parametrize(
    ("way", "mode", "reactions", "objects", "share"),
    [
        ("impatient", Mode.ASKING, ["accepted"], False, 0.6),
        ("impatient", Mode.READING_BACK, ["accepted"], False, 1.0),
        ("impatient", Mode.READING_BACK, ["accepted"], True, 0.6),
        ("impatient", Mode.HELD, [], False, 1.0),
        ("impatient", Mode.ASKING, ["not taken"], False, 1.0),
        ("hasty", Mode.READING_BACK, ["accepted"], False, 0.6),
        ("hasty", Mode.READING_BACK, ["not taken"], True, 1.0),
        ("full", Mode.ASKING, [], True, 1.0),
    ],
)
def test_impatient_people_hear_out_what_they_confirm_and_nothing_else(way, mode, reactions, objects, share):
    assert PATIENCE[way].share_of(mode, reactions, objects=objects) == share


@pytest.mark.parametrize(
    ("read_back", "doubted", "wrong"),
    [
        ({"position.wrist": "18"}, None, False),
        ({"position.wrist": "80"}, None, True),
        ({"another.field": "80"}, None, False),
        ({}, "wrist one eight", False),
        ({}, "wrist eight zero", True),
    ],
)
def test_people_know_what_they_said(read_back, doubted, wrong):
    snapshot = SimpleNamespace(
        step_id="position", section="", prompt="", mode="asking", doubted=None, read_back={}, is_lit=False
    )
    session = SimpleNamespace(snapshot=snapshot, next_deadline_s=None)
    runner = SimpleNamespace(session=session, closed=False, outcome="completed", wanted=SimpleNamespace(slots=()))
    told = []

    def speak(who, text, note=""):
        snapshot.read_back, snapshot.doubted = read_back, doubted
        told.append(scene.objects())
        runner.closed = True
        return True

    scene = SimpleNamespace(
        runner=runner,
        speak=speak,
        listen_until_quiet=lambda: None,
        listen_s=lambda seconds: None,
        utterances=1,
        now_s=0.0,
        outputs=SimpleNamespace(spoken_s=0.0),
    )
    line = ScriptLine(after="position", who="a", say="wrist one eight", means={"position.wrist": "18"})
    Rehearsal(SimpleNamespace(lines=[line], whenever=[], voices={"a": None}), scene).run()
    assert told == [wrong]


class Voice:
    """A character takes 0.1 s, and half a second of silence comes after."""

    def render(self, text):
        sounds = np.full(round(0.1 * RATE_HZ) * len(text), 1000)
        return Speech(np.concatenate([sounds, np.zeros(RATE_HZ // 2)]).astype("<i2").tobytes(), RATE_HZ)


def test_people_at_the_sound_card_know_how_long_a_prompt_goes_on(monkeypatch):
    clock = ManualClock(datetime(2026, 11, 30, tzinfo=UTC))
    monkeypatch.setattr(live_rig, "CLOCK", clock)
    # What must be heard out, 2 s with the silence after it, and a question of 1 s.
    say = Say("o" * 15 + " " + "q" * 10, Priority.PROMPT, heard_out=16)
    shadow = SimpleNamespace(said=[])
    shadow.look = lambda: shadow.said.append(say) or []
    watch = live_rig.Watch(shadow, SimpleNamespace(last_s=float("-inf")), 0.0, voice=Voice())
    clock.sleep_until(10.0)
    assert watch.share_heard() == 1.0
    watch.look()
    clock.sleep_until(10.0 + live_rig.BEGINS_S + 1.9)
    assert watch.share_heard() == 0.0, "what must be heard out"
    clock.sleep_until(10.0 + live_rig.BEGINS_S + 2.5)
    assert watch.share_heard() == pytest.approx(0.5)
    clock.sleep_until(10.0 + live_rig.BEGINS_S + 3.0)
    assert watch.share_heard() == 1.0
