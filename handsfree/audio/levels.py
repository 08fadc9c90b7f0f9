"""How loud samples are."""

from typing import Any

import numpy as np
import numpy.typing as npt

SILENCE_DBFS = -90.0
"""What digital silence counts as."""


def level_dbfs(samples: npt.NDArray[Any]) -> float:
    """Level of samples on the 16-bit scale, dB below full scale, at least `SILENCE_DBFS`."""
    if not len(samples):
        return SILENCE_DBFS
    values = samples.astype(np.float64)
    power = float(np.dot(values, values)) / len(values) / 32768.0**2
    return max(SILENCE_DBFS, 10 * float(np.log10(power))) if power else SILENCE_DBFS
