"""How long a report takes and how big it gets, for a record of a given number of entries; and how soon it is open.

Usage: python scripts/bench_report.py RECORD [RECORD ...]

Prints, for each record, its readings and lines, the seconds of three renderings (fold, draw, sound, template; without
starting Python), the size of the page, and the seconds until Chromium, where there is one, has loaded and laid it out
(five times, each in a new window of a browser that runs already).
"""

import shutil
import sys
import tempfile
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
        f"{len(page.encode()) / 1e6:.2f} MB, {len(sounds.clips)} clips, {sounds.left_out} left out; {opening(page)}"
    )


def opening(page: str) -> str:
    """How soon a browser has a page open."""
    program = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if program is None:
        return "no browser to open it in"
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as made, sync_playwright() as driver:
        file = Path(made) / "page.html"
        file.write_text(page, encoding="utf-8")
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        took = []
        for _ in range(5):
            window = browser.new_page()
            begun = time.perf_counter()
            window.goto(file.as_uri(), wait_until="load")
            window.evaluate("document.documentElement.offsetHeight")
            took.append(time.perf_counter() - begun)
            window.close()
        browser.close()
    return f"open in {', '.join(f'{one:.2f}' for one in sorted(took))} s"


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit("give one record folder or more")
    for argument in sys.argv[1:]:
        print(measure(Path(argument)))
