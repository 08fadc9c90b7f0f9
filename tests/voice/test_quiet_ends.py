"""Silence around sentences: left out, and no sound with it. Own rules of this project; no other source."""

import pytest

np = pytest.importorskip("numpy")

from handsfree.errors import VoiceError  # noqa: E402
from handsfree.voice.quiet_ends import AFTER_S, BEFORE_S, PAUSE_S, put_together, trimmed  # noqa: E402

RATE_HZ = 24_000


def tone(seconds, level=0.1):
    return (level * np.sin(2 * np.pi * 300 * np.arange(int(seconds * RATE_HZ)) / RATE_HZ)).astype(np.float32)


def quiet(seconds):
    return np.random.default_rng(1).normal(0, 1e-4, int(seconds * RATE_HZ)).astype(np.float32)


def test_what_is_quiet_around_it_goes_and_every_sample_of_it_stays():
    said = tone(0.5)
    kept = trimmed(np.concatenate([quiet(0.35), said, quiet(0.5)]), RATE_HZ)
    assert len(kept) / RATE_HZ == pytest.approx(0.5 + BEFORE_S + AFTER_S, abs=0.021)
    assert any(np.array_equal(kept[start : start + len(said)], said) for start in range(len(kept) - len(said) + 1))


def test_a_soft_end_counts_as_sound():
    soft = tone(0.2, level=0.006)
    kept = trimmed(np.concatenate([tone(0.2), soft, quiet(0.4)]), RATE_HZ)
    assert len(kept) / RATE_HZ >= 0.4


def test_pauses_inside_a_sentence_stay():
    sound = np.concatenate([tone(0.2), quiet(0.4), tone(0.2)])
    assert len(trimmed(sound, RATE_HZ)) == len(sound)


def test_silence_is_nothing():
    assert not len(trimmed(quiet(1.0), RATE_HZ))
    assert not len(trimmed(np.zeros(0, np.float32), RATE_HZ))


def test_sentences_follow_one_another_after_a_short_pause():
    one = np.concatenate([quiet(0.3), tone(0.4), quiet(0.5)])
    together = put_together([one, one], RATE_HZ)
    assert len(together) / RATE_HZ == pytest.approx(0.8 + PAUSE_S + BEFORE_S + AFTER_S, abs=0.05)


def test_the_neural_voice_begins_at_once():
    from handsfree.voice.neural_voice import NeuralVoice

    try:
        voice = NeuralVoice()
    except VoiceError as error:
        pytest.skip(str(error))
    speech = voice.render("Light off. Half.")
    samples = np.frombuffer(speech.pcm, "<i2") / 32768
    loud = np.flatnonzero(np.abs(samples) > 0.01) / speech.sample_rate_hz
    assert loud[0] < 0.1
    assert speech.duration_s - loud[-1] < 0.2
    assert speech.duration_s < 0.75 * voice.render_at("Light off. Half.", 1.0).duration_s
    assert not voice.render("").pcm
