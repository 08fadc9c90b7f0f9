"""The lamp-beep detector on made-up sound, and the comparison with spoken times.

Sound is computed from sines and a seeded generator, so the reference is the known time of each beep. Hit rates in noise
with real speech are measured by scripts/bench_tone.py.
"""

import random
from array import array
from math import pi, sin

import pytest

from handsfree.beeps import LampEar
from handsfree.exposure.agreement import Agreement, compare
from handsfree.exposure.guidance import Flag, GuidanceProfile, flags_of
from handsfree.exposure.ledger import Happened, Ledger, Run, RunEnd
from handsfree.exposure.profiles import ToneProfile, Zone
from handsfree.exposure.tone import ToneDetector
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
    assert compare(run_of(0, 12), beeps_s, PROFILE.interval_s, next_on_s=20) is expected


def test_without_a_known_interval_nothing_is_judged():
    assert compare(run_of(0, 12), [], None) is Agreement.NOT_JUDGED


@pytest.mark.parametrize(
    ("pitch_hz", "duration_s", "reason"),
    [(1500, 0.2, "overtones of voices"), (440, 0.5, "overtones of voices"), (2700, 0.15, "too short")],
)
def test_beeps_that_cannot_be_told_from_speech_are_refused(pitch_hz, duration_s, reason):
    # Measured by scripts/bench_tone.py; the figures stand at `ToneProfile`.
    with pytest.raises(ValueError, match=reason):
        ToneProfile(pitch_hz, duration_s, tolerance_hz=25, tolerance_s=0.05)


def lit_ledger(beeps_s):
    ledger = Ledger((Zone("a", "edge", target_s=12),), 50, beep_every_s=5)
    ledger.light_on("a", 0)
    for at_s in beeps_s:
        assert ledger.tone(at_s).happened is Happened.NOTHING
    return ledger


@pytest.mark.parametrize(("beeps_s", "flags"), [((5.2, 10.2), ()), ((5.2,), (Flag.BEEPS_MISSING,))])
def test_missing_beeps_flag_the_run_and_change_nothing(beeps_s, flags):
    # A lamp that beeps each 5 s gives two in 12 s. The spoken seconds stand, with and without.
    ledger = lit_ledger(beeps_s)
    run = ledger.light_off(12).run
    assert flags_of(ledger, run, GuidanceProfile()) == flags
    assert ledger.lit_s("a") == 12


def test_a_beep_after_light_off_is_named_and_counts_for_nothing():
    ledger = lit_ledger((5.2, 10.2))
    ledger.light_off(12)
    before = ledger.runs
    assert ledger.tone(12.8).happened is Happened.NOTHING
    outcome = ledger.tone(15.2)
    assert outcome.happened is Happened.BEEP_WHILE_DARK
    assert "Check that it is off" in outcome.message
    assert ledger.runs == before
    assert ledger.beeps_s == (5.2, 10.2)


def test_a_beep_before_any_light_contradicts_nothing():
    assert Ledger((Zone("a", "edge", target_s=12),), 50).tone(3).happened is Happened.NOTHING


def test_the_lamp_ear_tells_beeps_as_events():
    pcm = sound(2, [(0.5, 0.2, 2700, 1500)])
    events = LampEar(PROFILE).feed(AudioBlock(pcm, 40.0), 42.0, "2026-11-25T10:00:42.000Z")
    assert [(e.at_s, e.wall) for e in events] == [(42.0, "2026-11-25T10:00:42.000Z")]
    assert events[0].from_s == pytest.approx(40.5, abs=0.02)
    assert events[0].to_s == pytest.approx(40.7, abs=0.02)
    assert LampEar(None).feed(AudioBlock(pcm, 40.0), 42.0, "") == ()
