"""How long a report takes and how big it gets, for a record of a given number of entries.

Usage: python scripts/bench_report.py RECORD [RECORD ...]

Prints, for each record, its readings and lines, the seconds of three renderings (fold, draw, sound, template; without
starting Python) and the size of the page.
"""

import sys
import time
from pathlib import Path

from handsfree.report.record_page import make_report, readable


def measure(folder: Path) -> str:
    """One line of figures."""
    _, record = readable(folder)
    seconds = []
    for _ in range(3):
        begun = time.perf_counter()
        page, sounds = make_report(folder)
        seconds.append(time.perf_counter() - begun)
    shown = ", ".join(f"{one:.2f}" for one in seconds)
    return (
        f"{folder}: {len(record.readings)} readings, {len(record.facts)} entries, {record.lines} lines: {shown} s; "
        f"{len(page.encode()) / 1e6:.2f} MB, {len(sounds.clips)} clips, {sounds.left_out} left out"
    )


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit("give one record folder or more")
    for argument in sys.argv[1:]:
        print(measure(Path(argument)))
