"""The lamp-beep detector on made-up sound, and the comparison with spoken times.

Sound is computed from sines and a seeded generator, so the reference is the known time of each beep. Hit rates in noise
with real speech are measured by scripts/bench_tone.py.
"""

import random
from array import array
from math import pi, sin

import pytest

from handsfree.audio.lamp_listener import LampEar
from handsfree.exposure.agreement import compare
from handsfree.exposure.ledger import Ledger
from handsfree.exposure.light_cues import beeps_beside, flags_of
from handsfree.exposure.profiles import EndMark, ToneProfile, ZoneProfile
from handsfree.exposure.runs import LedgerChange, LightRun
from handsfree.exposure.tone import ToneDetector
from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock
from handsfree.model.light import LampAgreement, LightFlag, RunEnd

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


def hear(pcm, start_s=0.0, block_samples=320, profile=PROFILE):
    detector = ToneDetector(profile)
    beeps = []
    for at in range(0, len(pcm), 2 * block_samples):
        beeps += detector.feed(AudioBlock(pcm[at : at + 2 * block_samples], start_s + at / 2 / SAMPLE_RATE_HZ))
    return beeps


@pytest.mark.parametrize("pitch_hz", [2680, 2700, 2720])
def test_beeps_are_found_at_their_time(pitch_hz):
    beeps = hear(sound(3, [(0.5, 0.2, pitch_hz, 1500), (1.7, 0.2, pitch_hz, 1500)]), start_s=100.0)
    # The thinned band has a value each 2 ms; an edge is found to less than one of them.
    assert [b.from_s for b in beeps] == pytest.approx([100.5, 101.7], abs=0.0015)
    assert [b.to_s for b in beeps] == pytest.approx([100.7, 101.9], abs=0.0015)


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


def test_a_far_louder_whistle_at_another_pitch_does_not_hide_it():
    # A Hann window keeps what lies 1 kHz beside its middle more than 50 dB below (its side lobes fall by 18 dB an
    # octave from -31 dB): F. J. Harris, Proc. IEEE 66 (1978) 51, from memory.
    beeps = hear(sound(2, [(0.8, 0.2, 2700, 300), (0.0, 2.0, 3760, 12_000)], noise=10))
    assert [b.from_s for b in beeps] == pytest.approx([0.8], abs=0.03)


@pytest.mark.parametrize("tolerance_hz", [7.6, 26.8])
@pytest.mark.parametrize("side", [-1, 1])
def test_a_beep_at_the_very_edge_of_its_pitch_is_heard(tolerance_hz, side):
    profile = ToneProfile(2700, 0.2, tolerance_hz=tolerance_hz, tolerance_s=0.07)
    beeps = hear(sound(2, [(0.5, 0.2, 2700 + side * tolerance_hz, 1500)]), profile=profile)
    assert [b.from_s for b in beeps] == pytest.approx([0.5], abs=0.005)


@pytest.mark.parametrize(("length_s", "heard"), [(1.0, 1), (1.3, 1), (1.45, 0), (2.5, 0)])
def test_the_widest_tolerance_of_length_lets_no_longer_sound_pass(length_s, heard):
    profile = ToneProfile(2700, 1.0, tolerance_hz=5, tolerance_s=0.35)
    assert len(hear(sound(5, [(0.5, length_s, 2700, 1500)]), profile=profile)) == heard


def test_block_size_changes_nothing():
    pcm = sound(2, [(0.5, 0.2, 2700, 1500)])
    (one,), (other,) = hear(pcm, block_samples=320), hear(pcm, block_samples=1111)
    assert (one.from_s, one.to_s) == pytest.approx((other.from_s, other.to_s), abs=1e-9)


def test_a_gap_in_the_sound_starts_afresh():
    pcm = sound(1.5, [(0.5, 0.2, 2700, 1500)])
    detector = ToneDetector(PROFILE)
    cut = int(0.6 * SAMPLE_RATE_HZ) * 2
    assert detector.feed(AudioBlock(pcm[:cut], 0.0)) == ()
    # The second half of the beep comes ten seconds late: two halves are not one beep.
    assert detector.feed(AudioBlock(pcm[cut:], 10.0)) == ()
    assert len(detector.feed(AudioBlock(pcm, 20.0))) == 1


def test_a_clock_that_is_corrected_bit_by_bit_is_no_gap():
    # A microphone's block times are held to the session's clock, by up to 1 ms a block of 20 ms.
    pcm = sound(3, [(1.5, 0.2, 2700, 1500)])
    detector, beeps, start_s = ToneDetector(PROFILE), [], 0.0
    for at in range(0, len(pcm), 640):
        beeps += detector.feed(AudioBlock(pcm[at : at + 640], start_s))
        start_s += 0.0203
    assert [b.from_s for b in beeps] == pytest.approx([1.5 * 0.0203 / 0.02], abs=0.03)


def run_of(from_s, to_s):
    return LightRun("a", from_s, to_s, to_s, RunEnd.OFF_SAID)


@pytest.mark.parametrize(
    ("beeps_s", "expected"),
    [
        ((5, 10), LampAgreement.AGREES),
        ((5, 10, 15), LampAgreement.BEEP_AFTER_OFF),
        ((5,), LampAgreement.BEEPS_MISSING),
        ((), LampAgreement.BEEPS_MISSING),
        ((5, 10, 25), LampAgreement.AGREES),
    ],
)
def test_spoken_times_against_beeps(beeps_s, expected):
    # The light was said to be on from 0 to 12 s and went on again at 20 s; it beeps each 5 s.
    assert compare(run_of(0, 12), beeps_s, PROFILE.interval_s, next_on_s=20) is expected


def test_without_a_known_interval_nothing_is_judged():
    ledger = Ledger((ZoneProfile("a", "edge", target_s=12),), 50)
    ledger.light_on("a", 0)
    ledger.tone(5.0, 5.2)
    assert beeps_beside(ledger, ledger.light_off(12).run) is LampAgreement.NOT_JUDGED


@pytest.mark.parametrize(
    ("pitch_hz", "duration_s", "reason"),
    [(1500, 0.2, "overtones of voices"), (440, 0.5, "overtones of voices"), (2700, 0.15, "too short")],
)
def test_beeps_that_cannot_be_told_from_speech_are_refused(pitch_hz, duration_s, reason):
    # Measured by scripts/bench_tone.py; the figures stand at `ToneProfile`.
    with pytest.raises(ValueError, match=reason):
        ToneProfile(pitch_hz, duration_s, tolerance_hz=25, tolerance_s=0.05)


@pytest.mark.parametrize(("duration_s", "tolerance_s"), [(0.2, 0.15), (0.2, 0.08), (1.0, 0.36)])
def test_a_tolerance_that_takes_noise_for_beeps_is_refused(duration_s, tolerance_s):
    # The figures at `ToneProfile` were measured with 0.35 of the length, by scripts/bench_tone.py.
    with pytest.raises(ValueError, match=f"tolerance_s is {tolerance_s:g}; .* at most {0.35 * duration_s:g}"):
        ToneProfile(2700, duration_s, tolerance_hz=25, tolerance_s=tolerance_s)


def lit_ledger(beeps_s):
    ledger = Ledger((ZoneProfile("a", "edge", target_s=12),), 50, beep_every_s=5)
    ledger.light_on("a", 0)
    for at_s in beeps_s:
        assert ledger.tone(at_s - 0.2, at_s).happened is LedgerChange.NOTHING
    return ledger


@pytest.mark.parametrize(("beeps_s", "flags"), [((5.2, 10.2), ()), ((5.2,), (LightFlag.BEEPS_MISSING,))])
def test_missing_beeps_flag_the_run_and_change_nothing(beeps_s, flags):
    # A lamp that beeps each 5 s gives two in 12 s. The spoken seconds stand, with and without.
    ledger = lit_ledger(beeps_s)
    run = ledger.light_off(12).run
    assert flags_of(ledger, run) == flags
    assert ledger.lit_s("a") == 12


def test_a_beep_after_light_off_is_named_and_counts_for_nothing():
    ledger = lit_ledger((5.2, 10.2))
    ledger.light_off(12)
    before = ledger.runs
    assert ledger.tone(12.6, 12.8).happened is LedgerChange.NOTHING
    outcome = ledger.tone(15.0, 15.2)
    assert outcome.happened is LedgerChange.BEEP_WHILE_DARK
    assert ledger.runs == before
    assert ledger.beeps_s == (5.2, 10.2)


def test_a_beep_before_any_light_contradicts_nothing():
    assert Ledger((ZoneProfile("a", "edge", target_s=12),), 50).tone(2.8, 3).happened is LedgerChange.NOTHING


def test_where_no_beep_was_ever_heard_nothing_is_missing():
    # No microphone, or a lamp too far from it, says nothing about the words.
    ledger = lit_ledger(())
    assert flags_of(ledger, ledger.light_off(12).run) == ()


def test_a_beep_long_after_a_late_light_off_flags_the_run():
    ledger = lit_ledger((5.2, 10.2, 15.2))
    assert flags_of(ledger, ledger.light_off(12).run) == (LightFlag.BEEP_AFTER_OFF,)


def sounding(ends_by, interval_s=None):
    ledger = Ledger((ZoneProfile("a", "edge", target_s=12),), 50, beep_every_s=interval_s, ends_by=ends_by)
    ledger.light_on("a", 100)
    return ledger


def test_one_beep_ends_the_run_when_it_begins():
    ledger = sounding(EndMark.BEEP)
    assert ledger.tone(100.3, 100.5).happened is LedgerChange.NOTHING  # switching on
    outcome = ledger.tone(112.0, 112.2)
    assert outcome.happened is LedgerChange.DARKENED_BY_SOUND
    assert outcome.run == LightRun("a", 100, 112.0, 112.0, RunEnd.BEEP_HEARD)
    assert ledger.lit_s("a") == pytest.approx(12.0)
    assert ledger.light_off(112.4).happened is LedgerChange.OFF_AGREES
    assert ledger.lit_s("a") == pytest.approx(12.0)
    # Only the first words are set beside it.
    assert ledger.light_off(113.0).happened is LedgerChange.REFUSED_NOT_LIT


@pytest.mark.parametrize(("off_s", "lit_s", "possible_s"), [(115, 12, 15), (109, 9, 12)])
def test_words_that_differ_from_the_beep_settle_nothing(off_s, lit_s, possible_s):
    # Credited to the earlier of the two, possible to the later.
    ledger = sounding(EndMark.BEEP)
    ledger.tone(112.0, 112.2)
    outcome = ledger.light_off(off_s)
    assert outcome.happened is LedgerChange.OFF_DIFFERS
    assert outcome.apart_s == pytest.approx(3.0)
    assert (ledger.lit_s("a"), ledger.possible_s("a")) == (lit_s, possible_s)


def test_beeps_that_cease_end_the_run():
    ledger = sounding(EndMark.SILENCE, interval_s=5)
    assert ledger.silence_due_s is None
    assert ledger.listen_for_silence(130).happened is LedgerChange.NOTHING  # never heard: it may be out of hearing
    ledger.tone(105.0, 105.2)
    ledger.tone(110.0, 110.2)
    assert ledger.silence_due_s == pytest.approx(116.2)
    assert ledger.listen_for_silence(116.1).run is None
    run = ledger.listen_for_silence(116.2).run
    assert (run.known_to_s, run.to_s) == (110.2, pytest.approx(115.2))
    assert run.end is RunEnd.FELL_SILENT
    # Words between the last beep and the missing one agree with both, so they count.
    assert ledger.light_off(112.0).happened is LedgerChange.OFF_AGREES
    assert ledger.lit_s("a") == pytest.approx(12.0)


@pytest.mark.parametrize(
    ("ends_run", "interval_s", "reason"), [(EndMark.SILENCE, None, "needs interval_s"), (EndMark.BEEP, 5, "takes no")]
)
def test_ends_that_cannot_be_told_are_refused(ends_run, interval_s, reason):
    with pytest.raises(ValueError, match=reason):
        ToneProfile(2700, 0.2, 25, 0.07, interval_s=interval_s, ends_run=ends_run)


def test_the_lamp_ear_hears_what_the_detector_hears():
    pcm = sound(2, [(0.5, 0.2, 2700, 1500)])
    (beep,) = LampEar(PROFILE).feed(AudioBlock(pcm, 40.0))
    assert (beep.from_s, beep.to_s) == pytest.approx((40.5, 40.7), abs=0.02)
    assert LampEar(None).feed(AudioBlock(pcm, 40.0)) == ()
