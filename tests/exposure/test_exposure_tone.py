"""The lamp-beep detector on made-up sound, and the comparison with spoken times.

Sound is computed from sines and a seeded generator, so the reference is the known time of each beep. Hit rates in noise
with real speech are measured by scripts/bench_tone.py.
"""

import random
from array import array
from math import pi, sin

import pytest

from handsfree.exposure.ledger import Run, RunEnd
from handsfree.exposure.profiles import ToneProfile
from handsfree.exposure.tone import Agreement, Beep, ToneDetector, compare
from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock

PROFILE = ToneProfile(2700, 0.2, tolerance_hz=25, tolerance_s=0.07, interval_s=5)


def sound(seconds, tones, noise=300.0):
    """Noise with tones of (start s, length s, pitch Hz, amplitude)."""
    rng = random.Random(5)
    values = [rng.gauss(0, noise) for _ in range(int(seconds * SAMPLE_RATE_HZ))]
    for start_s, length_s, pitch_hz, amplitude in tones:
        first = int(start_s * SAMPLE_RATE_HZ)
        for n in range(int(length_s * SAMPLE_RATE_HZ)):
            values[first + n] += amplitude * sin(2 * pi * pitch_hz * n / SAMPLE_RATE_HZ)
    return array("h", [round(v) for v in values]).tobytes()


def hear(pcm, start_s=0.0, block_samples=320):
    detector = ToneDetector(PROFILE)
    beeps = []
    for at in range(0, len(pcm), 2 * block_samples):
        beeps += detector.feed(AudioBlock(pcm[at : at + 2 * block_samples], start_s + at / 2 / SAMPLE_RATE_HZ))
    return beeps


@pytest.mark.parametrize("pitch_hz", [2680, 2700, 2720])
def test_beeps_are_found_at_their_time(pitch_hz):
    beeps = hear(sound(3, [(0.5, 0.2, pitch_hz, 1500), (1.7, 0.2, pitch_hz, 1500)]), start_s=100.0)
    assert [b.from_s for b in beeps] == pytest.approx([100.5, 101.7], abs=0.02)
    assert [b.to_s for b in beeps] == pytest.approx([100.7, 101.9], abs=0.02)


@pytest.mark.parametrize(
    "tone",
    [
        (0.5, 0.2, 2950, 1500),
        (0.5, 0.2, 2500, 1500),
        (0.5, 0.2, 3200, 1500),
        (0.5, 0.08, 2700, 1500),
        (0.5, 0.5, 2700, 1500),
        (0.5, 0.2, 2700, 20),
    ],
    ids=["higher", "lower", "image of the thinned band", "too short", "too long", "too faint"],
)
def test_other_sounds_are_no_beep(tone):
    assert hear(sound(2, [tone])) == []


def test_a_louder_voice_like_sound_does_not_hide_it():
    # Overtones of a 140 Hz buzz, as in a voice, twice as strong as the beep and over its whole length.
    buzz = [(0.1, 1.6, 140 * k, 3000 / k) for k in range(1, 15)]
    beeps = hear(sound(2, [(0.8, 0.2, 2700, 1500), *buzz]))
    assert [b.from_s for b in beeps] == pytest.approx([0.8], abs=0.03)


def test_block_size_changes_nothing():
    pcm = sound(2, [(0.5, 0.2, 2700, 1500)])
    assert hear(pcm, block_samples=320) == hear(pcm, block_samples=1111) != []


def test_a_gap_in_the_sound_starts_afresh():
    pcm = sound(1.5, [(0.5, 0.2, 2700, 1500)])
    detector = ToneDetector(PROFILE)
    cut = int(0.6 * SAMPLE_RATE_HZ) * 2
    assert detector.feed(AudioBlock(pcm[:cut], 0.0)) == ()
    # The second half of the beep comes ten seconds late: two halves are not one beep.
    assert detector.feed(AudioBlock(pcm[cut:], 10.0)) == ()
    assert len(detector.feed(AudioBlock(pcm, 20.0))) == 1


def run_of(from_s, to_s):
    return Run("a", from_s, to_s, to_s, RunEnd.OFF_SAID)


@pytest.mark.parametrize(
    ("beeps_s", "expected"),
    [
        ((5, 10), Agreement.AGREES),
        ((5, 10, 15), Agreement.BEEP_AFTER_OFF),
        ((5,), Agreement.BEEPS_MISSING),
        ((), Agreement.BEEPS_MISSING),
        ((5, 10, 25), Agreement.AGREES),
    ],
)
def test_spoken_times_against_beeps(beeps_s, expected):
    # The light was said to be on from 0 to 12 s and went on again at 20 s; it beeps each 5 s.
    beeps = [Beep(at_s, at_s + 0.2) for at_s in beeps_s]
    assert compare(run_of(0, 12), beeps, PROFILE.interval_s, next_on_s=20) is expected


def test_without_a_known_interval_nothing_is_judged():
    assert compare(run_of(0, 12), [], None) is Agreement.NOT_JUDGED
