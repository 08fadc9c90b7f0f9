"""The mixer, the gate and the choice of devices, without any device."""

import sys
from types import SimpleNamespace

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("soxr")

from handsfree.audio import devices  # noqa: E402
from handsfree.audio.half_duplex_gate import HalfDuplexGate  # noqa: E402
from handsfree.audio.mixer import HELD_AT_MOST_S, PAUSED_AT_MOST_S, Mixer  # noqa: E402
from handsfree.errors import AudioDeviceError  # noqa: E402
from handsfree.model.audio import AudioBlock, Heard, Speech  # noqa: E402
from handsfree.model.effects import Priority  # noqa: E402

RATE_HZ = 16_000
FRAMES = 320


def sound(value: int, frames: int) -> Speech:
    return Speech(np.full(frames, value, dtype="<i2").tobytes(), RATE_HZ)


def played(mixer: Mixer, frames: int = FRAMES, at_s: float = 0.0) -> np.ndarray:
    return np.frombuffer(mixer.fill(frames, at_s), "<i2")


def test_speech_follows_speech_without_a_gap() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(100, 100), Priority.PROMPT)
    mixer.play(sound(200, 100), Priority.PROMPT)
    assert mixer.busy
    out = played(mixer)
    assert out.tolist() == [100] * 100 + [200] * 100 + [0] * 120
    assert not mixer.busy


def test_a_lower_priority_waits_and_a_higher_one_cuts_in() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(1000, 10_000), Priority.PROMPT)
    mixer.play(sound(500, 10_000), Priority.INFORMATION)
    assert set(played(mixer).tolist()) == {1000}
    mixer.play(sound(2000, 640), Priority.STOP)
    out = played(mixer)
    assert out[0] == 3000
    assert (np.diff(out[:80]) <= 0).all()
    assert set(out[80:].tolist()) == {2000}
    assert set(played(mixer).tolist()) == {2000}
    assert not mixer.busy


def test_an_earcon_lies_over_speech_and_sums_clip() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(30_000, 320), Priority.PROMPT)
    mixer.mix(sound(10_000, 100))
    assert played(mixer).tolist() == [32767] * 100 + [30_000] * 220


def test_stop_silences_everything_within_the_fade() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(1000, 10_000), Priority.STOP)
    mixer.play(sound(1000, 10_000), Priority.STOP)
    mixer.mix(sound(1000, 10_000))
    played(mixer)
    mixer.stop()
    out = played(mixer)
    assert out[0] == 2000
    assert not out[80:].any()
    assert not mixer.busy


def test_sound_of_another_rate_is_fitted() -> None:
    mixer = Mixer(48_000)
    mixer.play(sound(1000, 16_000), Priority.PROMPT)
    assert int(np.count_nonzero(played(mixer, 60_000) > 500)) == pytest.approx(48_000, abs=50)


def test_own_sound_is_remembered_by_session_time() -> None:
    mixer = Mixer(RATE_HZ)
    assert not mixer.sounded(0.0, 100.0)
    mixer.fill(FRAMES, 1.0)
    assert not mixer.sounded(0.0, 100.0)
    mixer.play(sound(1, 2 * FRAMES), Priority.PROMPT)
    mixer.fill(FRAMES, 5.0, 0.1)
    mixer.fill(FRAMES, 5.02, 0.1)
    mixer.fill(FRAMES, 5.04, 0.1)
    assert mixer.sounded(5.13, 5.2)
    assert mixer.sounded(0.0, 5.01)
    assert not mixer.sounded(5.14, 6.0)
    assert not mixer.sounded(4.0, 5.0)


def gated(gate: HalfDuplexGate, blocks: list[AudioBlock]) -> list[AudioBlock]:
    return [passed for block in blocks for passed in gate.take(block)]


BLOCKS = [AudioBlock(b"\x01\x02" * FRAMES, number * 0.02) for number in range(100)]


def test_the_gate_silences_own_sound_and_its_echo_only() -> None:
    gate = HalfDuplexGate(lambda from_s, to_s: from_s < 1.0 and to_s > 0.5, tail_s=0.35)
    out = gated(gate, BLOCKS)
    assert [block.start_s for block in out] == [block.start_s for block in BLOCKS]
    assert {len(block.pcm) for block in out} == {2 * FRAMES}
    silenced = [block for block in out if not any(block.pcm)]
    assert silenced[0].end_s == pytest.approx(0.52)
    assert silenced[-1].start_s == pytest.approx(1.34)
    assert gate.silenced_s == pytest.approx(len(silenced) * 0.02)


def test_the_gate_gives_back_what_somebody_said_over_a_prompt_that_was_cut() -> None:
    spans = [(0.5, 1.0)]
    gate = HalfDuplexGate(lambda from_s, to_s: any(start < to_s and end > from_s for start, end in spans))
    before = gated(gate, BLOCKS[:40])
    opened = gate.open(BLOCKS[40])
    spans[0] = (0.5, 0.94)
    after = gated(gate, BLOCKS[41:60])
    assert [block.start_s for block in (*before, *opened, *after)] == [block.start_s for block in BLOCKS[:60]]
    # Held back: 0.2 s; what is older was passed on as silence.
    assert opened == tuple(BLOCKS[20:41])[-len(opened) :]
    assert 0.15 <= opened[-1].end_s - opened[0].start_s <= 0.25
    assert all(any(block.pcm) for block in after)
    spans.append((1.3, 1.5))
    assert [any(block.pcm) for block in gated(gate, BLOCKS[60:65])] == [True] * 5
    assert not any(any(block.pcm) for block in gated(gate, BLOCKS[65:92]))


def test_speech_is_cut_below_a_priority_and_a_warning_is_not() -> None:
    mixer = Mixer(RATE_HZ)
    assert not mixer.cut(Priority.ATTENTION)
    mixer.play(sound(1000, 10_000), Priority.ATTENTION)
    mixer.play(sound(500, 10_000), Priority.PROMPT)
    assert not mixer.cut(Priority.ATTENTION)
    assert mixer.speaking
    mixer.play(sound(1000, 10_000), Priority.STOP)
    mixer.stop()
    played(mixer)
    mixer.play(sound(1000, 10_000), Priority.PROMPT)
    mixer.play(sound(500, 10_000), Priority.INFORMATION)
    assert mixer.cut(Priority.ATTENTION)
    assert not mixer.speaking
    assert not played(mixer)[80:].any()


def test_what_was_played_is_known_by_time() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(16_384, FRAMES), Priority.PROMPT)
    mixer.fill(FRAMES, 1.0, 0.1)
    mixer.fill(FRAMES, 1.02, 0.1)
    # Half of full scale is 20 log10(0.5) = -6.02 dB.
    assert mixer.played_dbfs(1.0, 1.05) == pytest.approx(-6.02, abs=0.01)
    assert mixer.played_dbfs(0.0, 0.9) == -90.0
    assert mixer.played_dbfs(1.125, 1.2) == -90.0


def test_without_portaudio_one_line_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(AudioDeviceError, match="apt-get install libportaudio2 libasound2-plugins") as caught:
        devices.portaudio()
    assert "\n" not in str(caught.value)


def test_devices_are_found_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    table = [
        {"name": "Desk mic", "max_input_channels": 1, "max_output_channels": 0},
        {"name": "Headset", "max_input_channels": 1, "max_output_channels": 2},
        {"name": "Headset pro", "max_input_channels": 1, "max_output_channels": 2},
    ]
    module = SimpleNamespace(query_devices=lambda index=None: table if index is None else table[index])
    monkeypatch.setitem(sys.modules, "sounddevice", module)
    assert devices.device_names("output") == ("Headset", "Headset pro")
    assert devices.find_device("input", "desk") == 0
    assert devices.find_device("output", "headset") == 1
    assert devices.find_device("output", None) is None
    with pytest.raises(AudioDeviceError, match="more than one microphone is named 'head'"):
        devices.find_device("input", "head")
    with pytest.raises(AudioDeviceError, match=r"no loudspeaker is named 'desk' .there are: Headset, Headset pro"):
        devices.find_device("output", "desk")
    table.clear()
    with pytest.raises(AudioDeviceError, match="this machine has no microphone"):
        devices.find_device("input", None)


def test_speech_that_is_held_back_begins_when_it_may() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.hold_back(held=True)
    mixer.play(sound(1000, 640), Priority.PROMPT)
    assert set(played(mixer).tolist()) == {0}
    assert mixer.speaking
    mixer.hold_back(held=False)
    assert set(played(mixer).tolist()) == {1000}


def test_speech_that_has_begun_and_warnings_are_not_held_back() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(1000, 640), Priority.PROMPT)
    played(mixer)
    mixer.hold_back(held=True)
    assert set(played(mixer).tolist()) == {1000}
    mixer.play(sound(2000, 320), Priority.ATTENTION)
    assert set(played(mixer).tolist()) == {2000}


def test_speech_is_not_held_back_for_ever() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.hold_back(held=True)
    mixer.play(sound(1000, 640), Priority.PROMPT)
    silent = 0
    while set(played(mixer).tolist()) == {0}:
        silent += 1
        assert silent < 1000
    assert silent * FRAMES / RATE_HZ == pytest.approx(HELD_AT_MOST_S, abs=FRAMES / RATE_HZ)


def test_what_must_be_heard_out_is_heard_before_the_question_after_it() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(100, 100), Priority.INFORMATION, heard_out=True)
    mixer.play(sound(200, 100), Priority.PROMPT)
    assert played(mixer).tolist() == [100] * 100 + [200] * 100 + [0] * 120


def test_what_is_urgent_drops_what_must_be_heard_out() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(100, 10_000), Priority.PROMPT, heard_out=True)
    mixer.play(sound(200, 320), Priority.ATTENTION)
    assert set(played(mixer)[100:].tolist()) == {200}


def test_only_the_last_question_is_broken_off() -> None:
    mixer = Mixer(RATE_HZ)
    assert not mixer.break_off(), "nothing is said"
    mixer.play(sound(100, 10_000), Priority.PROMPT, heard_out=True)
    mixer.play(sound(200, 10_000), Priority.PROMPT)
    played(mixer)
    assert not mixer.break_off(), "a read-back goes on"
    played(mixer, 10_000)
    assert mixer.break_off()
    assert not mixer.speaking
    mixer.play(sound(100, 10_000), Priority.ATTENTION)
    played(mixer)
    assert not mixer.break_off(), "a warning goes on"


def test_how_much_was_heard_goes_by_the_time_at_which_somebody_began() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(100, RATE_HZ // 2), Priority.PROMPT, heard_out=True)
    mixer.play(sound(100, RATE_HZ * 2), Priority.PROMPT)
    mixer.fill(FRAMES, 0.0)
    for number in range(1, 150):
        mixer.fill(FRAMES, number * 0.02)
    assert mixer.heard_at(0.1) is Heard.TOO_LITTLE, "the read-back"
    assert mixer.heard_at(0.8) is Heard.TOO_LITTLE, "the first half second of the question"
    assert mixer.heard_at(1.1) is Heard.ENOUGH
    assert mixer.heard_at(2.3) is Heard.ALL, "its last 0.3 s"
    assert mixer.heard_at(2.9) is Heard.ALL


def test_a_question_that_waits_to_begin_is_not_heard() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.hold_back(held=True)
    mixer.play(sound(100, RATE_HZ), Priority.PROMPT)
    mixer.fill(FRAMES, 0.0)
    assert mixer.heard_at(0.0) is Heard.TOO_LITTLE


def test_speech_pauses_and_goes_on_where_it_was() -> None:
    mixer = Mixer(RATE_HZ)
    steps = np.repeat(np.arange(1, 21, dtype="<i2") * 500, FRAMES)
    mixer.play(Speech(steps.tobytes(), RATE_HZ), Priority.PROMPT)
    assert set(played(mixer).tolist()) == {500}
    mixer.pause(paused=True)
    fading = played(mixer, at_s=1.0)
    assert (np.diff(fading) <= 0).all()
    assert fading[-1] == 0
    for number in range(10):
        assert not played(mixer, at_s=1.02 + number * 0.02).any()
    assert mixer.speaking
    assert not mixer.sounded(1.03, 1.2), "nothing was said meanwhile"
    mixer.pause(paused=False)
    coming = played(mixer)
    assert (np.diff(coming) >= 0).all()
    assert coming[-1] == 1500
    assert set(played(mixer).tolist()) == {2000}


def test_speech_pauses_for_so_long_in_all_and_then_goes_on() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(1000, 10 * RATE_HZ), Priority.PROMPT)
    played(mixer)
    silent = 0
    for number in range(200):
        mixer.pause(paused=number % 40 < 30)  # a lamp that beeps each 0.8 s
        silent += not played(mixer).any()
    assert silent * FRAMES / RATE_HZ == pytest.approx(PAUSED_AT_MOST_S, abs=FRAMES / RATE_HZ)


@pytest.mark.parametrize(("heard_out", "priority"), [(True, Priority.PROMPT), (False, Priority.ATTENTION)])
def test_what_must_be_heard_out_does_not_pause(heard_out: bool, priority: Priority) -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(10_000, RATE_HZ), priority, heard_out=heard_out)
    mixer.pause(paused=True)
    played(mixer)
    assert set(played(mixer).tolist()) == {10_000}


def test_what_is_broken_off_in_a_pause_leaves_no_sound() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(10_000, RATE_HZ), Priority.PROMPT)
    mixer.pause(paused=True)
    played(mixer)
    assert mixer.break_off()
    assert not played(mixer, at_s=2.0).any()
    assert not mixer.sounded(2.0, 3.0)


def between_silences(before_s: float, sound_s: float, after_s: float) -> Speech:
    parts = [
        np.zeros(round(before_s * RATE_HZ)),
        np.full(round(sound_s * RATE_HZ), 1000),
        np.zeros(round(after_s * RATE_HZ)),
    ]
    return Speech(np.concatenate(parts).astype("<i2").tobytes(), RATE_HZ)


def test_silence_at_the_end_of_what_is_said_need_not_be_waited_for() -> None:
    """Voices leave up to half a second of it; whoever affirms after the last word has heard all."""
    mixer = Mixer(RATE_HZ)
    mixer.play(between_silences(0.0, 1.0, 0.5), Priority.PROMPT, heard_out=True)
    for number in range(75):
        mixer.fill(FRAMES, number * 0.02)
    assert mixer.heard_at(0.98) is Heard.TOO_LITTLE
    assert mixer.heard_at(1.0) is Heard.TOO_LITTLE, "its last sound is still on its way to the loudspeaker"
    assert mixer.heard_at(1.1) is Heard.ALL
    assert not mixer.sounded(1.11, 2.0)


def test_silence_between_two_prompts_stays() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(between_silences(0.0, 0.2, 0.4), Priority.PROMPT, heard_out=True)
    mixer.play(sound(2000, 640), Priority.PROMPT)
    out = np.concatenate([played(mixer) for _ in range(32)])
    assert np.flatnonzero(out == 2000)[0] == round(0.6 * RATE_HZ)


def test_half_a_second_of_a_question_is_counted_from_its_first_sound() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(between_silences(0.3, 2.0, 0.5), Priority.PROMPT)
    for number in range(110):
        mixer.fill(FRAMES, number * 0.02)
    assert mixer.heard_at(0.7) is Heard.TOO_LITTLE
    assert mixer.heard_at(0.9) is Heard.ENOUGH
    assert mixer.heard_at(1.9) is Heard.ENOUGH
    assert mixer.heard_at(2.1) is Heard.ALL, "its last 0.3 s"


def test_the_reference_is_what_the_loudspeaker_was_given() -> None:
    mixer = Mixer(RATE_HZ)
    mixer.play(sound(10_000, RATE_HZ), Priority.PROMPT)
    for number in range(10):
        played(mixer, FRAMES, number * 0.02)
        mixer.pause(paused=True)
        found = mixer.played(number * 0.02, FRAMES)
    assert not found.any()
