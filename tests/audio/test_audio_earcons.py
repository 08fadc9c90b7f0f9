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
    assert 0.1 < float(np.abs(samples).max()) <= 0.201
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
