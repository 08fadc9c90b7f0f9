"""Bench of a slow disk: how soon a typed stop word is answered in a real visit, in a process of its own.

From when the light is on, each fsync of the visit takes as long as is asked for. Reaction: from the line being written
into the pipe to the prompt being read from it.

Use: python scripts/bench_slow_disk.py [--fsync-s SECONDS] [--times N] [--word WORD]
"""

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import IO

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "live"))

from live_files import write_short

from handsfree.clock import SystemClock

CHILD = """
import os, sys, time
slow, seconds = sys.argv.pop(1), float(sys.argv.pop(1))
sync = os.fsync
def fsync(handle):
    if os.path.exists(slow):
        time.sleep(seconds)
    sync(handle)
os.fsync = fsync
from handsfree.cli import main
main()
"""
TO_THE_LIGHT = {
    "practice session": "Distance",
    "five": "Correct?",
    "affirmative": "eyewear on",
    "affirmative ": "say light on",
    "light on": "accepted",
}
LIT_S = 2.5
"""How long the light is on before the word: signs of life wait for the disk by then."""


def main() -> None:
    """Measure and print."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--fsync-s", type=float, default=6.0)
    options.add_argument("--times", type=int, default=5)
    options.add_argument("--word", default="hot")
    asked = options.parse_args()
    reactions_s = [_reaction_s(asked.word, asked.fsync_s) for _ in range(asked.times)]
    print(f"{asked.word!r}, each fsync {asked.fsync_s:g} s, n={len(reactions_s)}:", end=" ")
    print(f"median {statistics.median(reactions_s):.3f} s, longest {max(reactions_s):.3f} s")


def _reaction_s(word: str, fsync_s: float) -> float:
    clock = SystemClock()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        slow = folder / "slow"
        command = (sys.executable, "-u", "-c", CHILD, slow, fsync_s, "run", write_short(folder), "--typed")
        process = subprocess.Popen(
            [*map(str, command), "--practice", "--record", str(folder / "record")],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, "COLUMNS": "200"},
        )
        typing, reading = process.stdin, process.stdout
        if typing is None or reading is None:
            raise SystemExit("the visit has no pipes")
        try:
            _read_until(reading, "Live or practice session?")
            for line, answer in TO_THE_LIGHT.items():
                _type(typing, line)
                _read_until(reading, answer)
            slow.touch()
            clock.sleep_until(clock.monotonic_s() + LIT_S)
            _type(typing, word)
            typed_s = clock.monotonic_s()
            # Nothing else is said so early in the light.
            _read_until(reading, " tool ")
            return clock.monotonic_s() - typed_s
        finally:
            process.kill()
            process.communicate()


def _type(into: IO[str], line: str) -> None:
    into.write(line + "\n")
    into.flush()


def _read_until(out: IO[str], words: str) -> None:
    for line in out:
        if words in line:
            return
    raise SystemExit(f"never said: {words}")


if __name__ == "__main__":
    main()
