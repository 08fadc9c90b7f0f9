"""Earcons against alarm bursts: IEC 60601-1-8:2006 + A1 + A2, Tables 3 and 4 (figures from memory of the standard)."""

from itertools import combinations

import numpy as np
import pytest

pytest.importorskip("numpy")

from handsfree.audio.earcons import render_earcon
from handsfree.model.effects import Earcon

ALARM_PITCH_HZ = (150, 1000)
SHORTEST_ALARM_PULSE_S = 0.075
HARMONICS_NEEDED = 4


def samples_of(earcon: Earcon) -> tuple[np.ndarray, int]:
    sound = render_earcon(earcon)
    return np.frombuffer(sound.pcm, dtype="<i2") / 32768, sound.sample_rate_hz


def pulses_of(earcon: Earcon) -> list[float]:
    """Lengths in seconds of the runs in which the 5 ms level is above a tenth of the peak."""
    samples, rate = samples_of(earcon)
    size = rate // 200
    levels = [float(np.abs(samples[at : at + size]).max()) for at in range(0, len(samples), size)]
    runs: list[float] = []
    loud_before = False
    for level in levels:
        loud = level > 0.1 * max(levels)
        if loud and loud_before:
            runs[-1] += 0.005
        elif loud:
            runs.append(0.005)
        loud_before = loud
    return runs


@pytest.mark.parametrize("earcon", list(Earcon))
def test_energy_lies_outside_the_fundamentals_of_alarms(earcon: Earcon) -> None:
    samples, rate = samples_of(earcon)
    power = np.abs(np.fft.rfft(samples, 1 << 16)) ** 2
    pitch = np.fft.rfftfreq(1 << 16, 1 / rate)
    inside = power[(pitch >= ALARM_PITCH_HZ[0]) & (pitch <= ALARM_PITCH_HZ[1])].sum()
    assert inside / power.sum() < 0.15
    assert pitch[int(np.argmax(power))] > ALARM_PITCH_HZ[1]


@pytest.mark.parametrize("earcon", list(Earcon))
def test_there_are_too_few_harmonics_for_an_alarm(earcon: Earcon) -> None:
    samples, rate = samples_of(earcon)
    frame = samples[: rate // 100]
    power = np.abs(np.fft.rfft(frame * np.hanning(len(frame)), 1 << 14)) ** 2
    pitch = np.fft.rfftfreq(1 << 14, 1 / rate)
    fundamental = pitch[int(np.argmax(power))]
    within = 0
    for harmonic in range(1, 6):
        near = np.abs(pitch - harmonic * fundamental) < 0.25 * fundamental
        within += bool(power[near].max() > power.max() * 10**-1.5)
    assert within < HARMONICS_NEEDED


@pytest.mark.parametrize("earcon", list(Earcon))
def test_no_row_of_pulses_of_alarm_length(earcon: Earcon) -> None:
    pulses = pulses_of(earcon)
    assert len(pulses) <= 2
    if len(pulses) > 1:
        assert max(pulses) < SHORTEST_ALARM_PULSE_S


@pytest.mark.parametrize("earcon", list(Earcon))
def test_short_soft_and_free_of_clicks(earcon: Earcon) -> None:
    samples, _ = samples_of(earcon)
    assert len(samples) > 0
    assert render_earcon(earcon).duration_s <= 0.5
    assert 0.1 < float(np.abs(samples).max()) <= 0.24
    assert abs(samples[0]) < 0.01
    assert abs(samples[-1]) < 0.01


@pytest.mark.parametrize(("first", "second"), list(combinations(Earcon, 2)))
def test_each_is_unlike_every_other(first: Earcon, second: Earcon) -> None:
    one, rate = samples_of(first)
    other, _ = samples_of(second)
    differs_in_length = abs(len(one) - len(other)) / rate > 0.025
    size = min(len(one), len(other))
    alike = np.abs(np.correlate(one[:size], other[:size], "full")).max()
    alike /= np.sqrt((one[:size] ** 2).sum() * (other[:size] ** 2).sum())
    assert differs_in_length or alike < 0.6


MESSAGES = tuple(earcon for earcon in Earcon if earcon is not Earcon.TICK)
WITHIN_DB = 3.0
FAST_S = 0.125
"""Time weighting F of IEC 61672-1."""
LISTENINGS = 20
"""Of each sound, in other rooms and other noise."""


def weighting_a(pitch_hz: np.ndarray) -> np.ndarray:
    """Frequency weighting A as a factor on amplitude, IEC 61672-1:2013, annex E; 1 at 1 kHz."""
    square = pitch_hz**2
    gain = 12194.217**2 * square**2 / (square + 20.599**2) / (square + 12194.217**2)
    return gain / np.sqrt((square + 107.653**2) * (square + 737.862**2)) * 10 ** (2.0 / 20)


def loudest_db(earcon: Earcon) -> float:
    """Highest A-weighted level with time weighting F, dB of full scale."""
    samples, rate = samples_of(earcon)
    samples = np.concatenate([samples, np.zeros(rate // 2)])
    weighted = np.fft.irfft(np.fft.rfft(samples) * weighting_a(np.fft.rfftfreq(len(samples), 1 / rate)), len(samples))
    mean, most = 0.0, 0.0
    step = rate // 1000
    for at in range(0, len(weighted), step):
        mean += (np.mean(weighted[at : at + step] ** 2) - mean) * (1 - np.exp(-0.001 / FAST_S))
        most = max(most, mean)
    return 10 * np.log10(most)


def test_the_weighting_is_that_of_the_standard() -> None:
    # IEC 61672-1:2013, table 3: -19.1 dB at 100 Hz, 0 at 1 kHz, +1.2 at 2 kHz, +1.0 at 4 kHz.
    found = 20 * np.log10(weighting_a(np.array([100.0, 1000.0, 2000.0, 4000.0])))
    assert found == pytest.approx([-19.1, 0.0, 1.2, 1.0], abs=0.1)


def test_all_messages_are_equally_loud_within_3_db_and_the_tick_is_softer() -> None:
    levels = [loudest_db(earcon) for earcon in MESSAGES]
    assert max(levels) - min(levels) <= WITHIN_DB
    assert loudest_db(Earcon.TICK) < min(levels) - 5


def map_of(samples: np.ndarray, rate: int) -> np.ndarray:
    """Where the energy of half a second lies: pitch in steps of half an ERB (Glasberg and Moore 1990), time in 20 ms.

    It begins where the sound does, and its loudness does not count: so it must be told by its pitch and course alone.
    """
    loud = np.flatnonzero(np.abs(samples) > 0.3 * np.abs(samples).max())
    samples = np.concatenate([samples[int(loud[0]) :], np.zeros(rate)])
    size, frames = rate // 50, 25
    pitch = np.fft.rfftfreq(size, 1 / rate)
    band = np.floor(2 * 21.4 * np.log10(1 + 0.00437 * pitch)).astype(int)
    found = np.zeros((frames, band.max() + 1))
    for frame in range(frames):
        power = np.abs(np.fft.rfft(samples[frame * size : (frame + 1) * size] * np.hanning(size))) ** 2
        np.add.at(found[frame], band, power)
    found = np.sqrt(found)
    return found / np.linalg.norm(found)


def apart(one: np.ndarray, other: np.ndarray) -> float:
    """1 less the cosine of two maps, the second up to 40 ms earlier or later: 0 for the same, 1 for nothing alike."""
    return 1.0 - max(float((one * np.roll(other, shift, axis=0)).sum()) for shift in (-2, -1, 0, 1, 2))


@pytest.mark.parametrize(("first", "second"), list(combinations(MESSAGES, 2)))
def test_spectra_and_their_courses_are_apart(first: Earcon, second: Earcon) -> None:
    assert apart(map_of(*samples_of(first)), map_of(*samples_of(second))) > 0.3


def test_each_is_told_blind_in_echoing_rooms_and_noise() -> None:
    """Who knows the sounds, and hears one through a room at 5 dB over noise, names it by the nearest map.

    A listener of a computer: no person was tried. Room: exponential tail of 0.3 s.
    """
    random = np.random.default_rng(5)
    known = {earcon: map_of(*samples_of(earcon)) for earcon in MESSAGES}
    wrong = []
    for earcon in MESSAGES:
        samples, rate = samples_of(earcon)
        for _ in range(LISTENINGS):
            tail = random.standard_normal(round(0.3 * rate)) * np.exp(-6.91 * np.arange(round(0.3 * rate)) / 0.3 / rate)
            tail *= 0.5 / np.sqrt((tail**2).sum())
            tail[0] = 1.0
            size = len(samples) + len(tail)
            heard = np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(tail, size), size)
            spectrum = np.fft.rfft(random.standard_normal(size))
            spectrum /= np.sqrt(np.maximum(np.arange(len(spectrum)), 1))
            noise = np.fft.irfft(spectrum, size)
            noise *= np.sqrt(np.mean(samples**2)) * 10 ** (-5 / 20) / np.sqrt(np.mean(noise**2))
            likeness = {one: apart(known[one], map_of(heard + noise, rate)) for one in known}
            named = min(likeness, key=likeness.__getitem__)
            wrong += [(earcon, named)] * (named is not earcon)
    assert wrong == []


def test_the_attention_sound_rises_and_falls_as_a_pulse_of_the_standard_does() -> None:
    # IEC 60601-1-8, table 3 (from memory): rise time 10 to 40 % of the pulse, from 10 to 90 % of the amplitude; no more
    # than 10 dB between the pulses of a burst.
    samples, rate = samples_of(Earcon.ATTENTION)
    size = rate // 500
    peaks = np.array([np.abs(samples[at : at + size]).max() for at in range(0, len(samples), size)])
    share = peaks / peaks.max()
    rise = (np.flatnonzero(share > 0.9)[0] - np.flatnonzero(share > 0.1)[0]) / len(share)
    fall = (np.flatnonzero(share > 0.1)[-1] - np.flatnonzero(share > 0.9)[-1]) / len(share)
    assert 0.1 <= rise <= 0.4
    assert 0.1 <= fall <= 0.4
    middle = share[len(share) // 5 : -len(share) // 5]
    assert 20 * np.log10(middle.max() / middle.min()) < 10
