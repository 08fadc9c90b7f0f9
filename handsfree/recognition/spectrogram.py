"""Sound to the logarithmic mel spectrogram that the third weights read: 80 bands, one column for every 10 ms."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from handsfree.model.audio import SAMPLE_RATE_HZ

Floats = NDArray[np.float32]

BANDS = 80
WINDOW = 400
STEP = 160
"""Samples of a window, and from one to the next."""
_LINEAR_HZ = 200.0 / 3
_BREAK_HZ = 1000.0
_BREAK = _BREAK_HZ / _LINEAR_HZ
_LOG_STEP = np.log(6.4) / 27.0
"""The mel scale of Slaney's Auditory Toolbox (1998): straight below 1 kHz, logarithmic above."""


def spectrogram(samples: Floats, columns: int) -> Floats:
    """The spectrogram of sound, with silence after it or cut to fit.

    Args:
        samples: Mono at 16 kHz, -1 to 1.
        columns: How many columns of 10 ms.

    Returns:
        Shape (80, columns).
    """
    sound = np.zeros(columns * STEP, dtype=np.float32)
    kept = samples[: len(sound)]
    sound[: len(kept)] = kept
    padded = np.pad(sound, WINDOW // 2, mode="reflect")
    frames = np.lib.stride_tricks.sliding_window_view(padded, WINDOW)[: columns * STEP : STEP]
    # A periodic Hann window.
    window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(WINDOW) / WINDOW)
    power = np.abs(np.fft.rfft(frames * window, axis=1)) ** 2
    levels = np.log10(np.maximum(mel_filters() @ power.T, 1e-10))
    levels = np.maximum(levels, levels.max() - 8.0)
    result: Floats = ((levels + 4.0) / 4.0).astype(np.float32)
    return result


@cache
def mel_filters() -> NDArray[np.float64]:
    """Triangles of equal area on the mel scale, (bands, frequencies of the window)."""
    frequencies = np.linspace(0, SAMPLE_RATE_HZ / 2, WINDOW // 2 + 1)
    edges = _hertz(np.linspace(0.0, _mel(SAMPLE_RATE_HZ / 2), BANDS + 2))
    widths = np.diff(edges)
    slopes = edges[:, None] - frequencies[None, :]
    rising, falling = -slopes[:-2] / widths[:-1, None], slopes[2:] / widths[1:, None]
    result: NDArray[np.float64] = (
        np.maximum(0.0, np.minimum(rising, falling)) * (2.0 / (edges[2:] - edges[:-2]))[:, None]
    )
    return result


def _mel(hertz: float) -> float:
    return float(_BREAK + np.log(hertz / _BREAK_HZ) / _LOG_STEP)


def _hertz(mel: NDArray[np.float64]) -> NDArray[np.float64]:
    result: NDArray[np.float64] = np.where(
        mel < _BREAK, mel * _LINEAR_HZ, _BREAK_HZ * np.exp(_LOG_STEP * (mel - _BREAK))
    )
    return result
