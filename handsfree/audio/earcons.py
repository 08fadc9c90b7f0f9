"""Short sounds, each with one meaning, that cannot be taken for a medical alarm.

IEC 60601-1-8:2006 + A1 + A2 (Tables 3 and 4) builds alarm bursts of 1, 2, 3 or 10 pulses of 75 to 250 ms on a
fundamental of 150 to 1000 Hz with at least four harmonics. These sounds do the opposite: pure tones and glides, all
above 1000 Hz, of which repeated ones are shorter than the shortest alarm pulse.

Of that standard the attention sound follows what holds for any pulse: it rises and falls within 10 to 40 % of its
length, and no part of it is more than 10 dB louder than another. It does not follow what makes an alarm: no burst of
pulses, no fundamental under 1000 Hz, no harmonics, no repetition until somebody acts. The tool is no alarm system, and
whoever hears it must not look for one. Figures of the standard are from memory.

All but the tick are equally loud within 3 dB, by the highest A-weighted level with time weighting F (IEC 61672-1). The
tick is 7 dB softer and more on purpose: it sounds every second beside words that end the light.
"""

from functools import cache

import numpy as np

from handsfree.audio.resample import Samples, to_pcm
from handsfree.model.audio import Speech
from handsfree.model.effects import Earcon

RATE_HZ = 24_000
LEVEL = 0.2
"""Peak of full scale: 14 dB below, near the level of speech."""
PEAKS = {
    Earcon.HEARD: 0.235,
    Earcon.NOT_UNDERSTOOD: 0.17,
    Earcon.ATTENTION: 0.17,
    Earcon.DEVICE_LOST: 0.17,
}
"""Where it is another: a short sound is heard softer than a long one of the same peak."""
RAMP_S = 0.005
"""Fade in and out, against clicks."""
RAMPS_S = {Earcon.ATTENTION: 0.08}
"""Where it is slower."""

_Stroke = tuple[float, float, float]
"""From Hz, to Hz, seconds; 0 Hz is a pause."""

STROKES: dict[Earcon, tuple[_Stroke, ...]] = {
    Earcon.HEARD: ((1320, 1320, 0.05),),
    Earcon.NOT_UNDERSTOOD: ((1500, 1150, 0.09), (1150, 1500, 0.09)),
    Earcon.REFUSED: ((1110, 1110, 0.06), (0, 0, 0.03), (1050, 1050, 0.06)),
    Earcon.RECORDED: ((1200, 1900, 0.12),),
    Earcon.ATTENTION: ((1200, 2000, 0.1), (2000, 1200, 0.1), (1200, 2000, 0.1), (2000, 1200, 0.1)),
    Earcon.DEVICE_LOST: ((1900, 1050, 0.35),),
    Earcon.TICK: ((2100, 2100, 0.015),),
}


@cache
def render_earcon(earcon: Earcon) -> Speech:
    """The sound of one earcon.

    *Unit*: 16-bit mono at `RATE_HZ`, peak `LEVEL` of full scale, or as `PEAKS` has it.
    """
    parts: list[Samples] = []
    run: list[_Stroke] = []
    for stroke in (*STROKES[earcon], (0.0, 0.0, 0.0)):
        if stroke[0]:
            run.append(stroke)
            continue
        parts.append(_tone(run, PEAKS.get(earcon, LEVEL), RAMPS_S.get(earcon, RAMP_S)))
        parts.append(np.zeros(round(stroke[2] * RATE_HZ), dtype=np.float32))
        run = []
    return Speech(to_pcm(np.concatenate(parts)), RATE_HZ)


def _tone(strokes: list[_Stroke], peak: float, ramp_s: float) -> Samples:
    """One unbroken sine whose pitch glides through the strokes."""
    pitch = np.concatenate([np.linspace(low, high, round(length * RATE_HZ)) for low, high, length in strokes])
    wave = peak * np.sin(2 * np.pi * np.cumsum(pitch) / RATE_HZ)
    ramp = np.sin(np.linspace(0, np.pi / 2, round(ramp_s * RATE_HZ))) ** 2
    wave[: len(ramp)] *= ramp
    wave[-len(ramp) :] *= ramp[::-1]
    tone: Samples = wave.astype(np.float32)
    return tone
