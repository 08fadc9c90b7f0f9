"""How long the disk takes to keep what a visit writes."""

import os
import tempfile
from pathlib import Path

from handsfree.clock import Clock
from handsfree.model.effects import Json

TIMES = 5
BATCH = bytes(4096)
"""As much as an event and its facts, some lines of a record. Chosen here, no source."""


def syncing(folder: Path | None, clock: Clock) -> dict[str, Json]:
    """Write and sync a few times into a file that has no name and is gone afterwards.

    Args:
        folder: Where records are kept; the folder for temporary files where it is None.
        clock: Times it.

    Raises:
        OSError: Nothing can be written there.
    """
    took_ms: list[float] = []
    with tempfile.TemporaryFile(dir=folder) as file:
        for _ in range(TIMES):
            begun_s = clock.monotonic_s()
            file.write(BATCH)
            file.flush()
            os.fsync(file.fileno())
            took_ms.append(round((clock.monotonic_s() - begun_s) * 1000, 1))
    return {"folder": "records" if folder is not None else "temporary", "sync_ms": list(took_ms)}
