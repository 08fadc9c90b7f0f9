"""How long the disk takes, as a diagnosis tells it. Time is turned by hand."""

import os
from datetime import UTC, datetime

from handsfree.clock import ManualClock
from handsfree.diagnostics.disk import syncing
from handsfree.diagnostics.faults import guarded


def test_it_tells_how_long_the_disk_takes(tmp_path, monkeypatch):
    clock = ManualClock(datetime(2026, 11, 25, tzinfo=UTC))
    sync, synced = os.fsync, []

    def slow_sync(handle):
        clock.sleep_until(clock.monotonic_s() + 1.25)
        sync(handle)
        synced.append(os.fstat(handle).st_size)

    monkeypatch.setattr(os, "fsync", slow_sync)
    assert syncing(tmp_path, clock) == {"folder": "records", "sync_ms": [1250.0] * 5}
    assert synced == [4096 * (count + 1) for count in range(5)]
    assert list(tmp_path.iterdir()) == []
    assert syncing(None, clock)["folder"] == "temporary"
    assert guarded(lambda: syncing(tmp_path / "none", clock))["fault"]["kind"] == "FileNotFoundError"
