"""How loud samples are."""

from typing import Any

import numpy as np
import numpy.typing as npt

SILENCE_DBFS = -90.0
"""What digital silence counts as."""
SOUNDING = 0.005
"""Of its peak from which a voice sounds; engines leave up to half a second of silence around what they say."""


def level_dbfs(samples: npt.NDArray[Any]) -> float:
    """Level of samples on the 16-bit scale, dB below full scale, at least `SILENCE_DBFS`."""
    if not len(samples):
        return SILENCE_DBFS
    values = samples.astype(np.float64)
    power = float(np.dot(values, values)) / len(values) / 32768.0**2
    return max(SILENCE_DBFS, 10 * float(np.log10(power))) if power else SILENCE_DBFS


def sounding(samples: npt.NDArray[Any]) -> tuple[int, int]:
    """From which sample on something is heard, and from which on nothing more; all of it where it is silent."""
    levels = np.abs(samples.astype(np.int32))
    loud = np.flatnonzero(levels > SOUNDING * levels.max(initial=0))
    return (int(loud[0]), int(loud[-1]) + 1) if len(loud) else (0, len(samples))
