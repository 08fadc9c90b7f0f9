"""The screen for the room beside a running tool: how soon a browser shows what happened, and whose time that is.

    scripts/live_screen.py LOG run ...    `handsfree run ...`, with a line in LOG for each picture that is left and sent

Times are those of the machine's wall clock, in milliseconds, which tool and browser share.
"""

import shutil
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any

from handsfree.clock import SystemClock
from handsfree.display.room.room_screen import RoomScreen

CLOCK = SystemClock()
WATCH = """() => {
  // What stands already is no news: beats set it again.
  window.shown = { [document.body.dataset.version]: [null, null] };
  new MutationObserver(() => {
    const version = document.body.dataset.version;
    if (version in window.shown) return;
    const now = () => performance.timeOrigin + performance.now();
    const times = window.shown[version] = [now(), null];
    const drawn = () => { times[1] = now(); };
    requestAnimationFrame(() => requestAnimationFrame(drawn));
  }).observe(document.body, { attributes: true, attributeFilter: ["data-version"] });
}"""


def now_ms() -> float:
    """Wall clock, milliseconds."""
    return CLOCK.wall().timestamp() * 1000


def program() -> str | None:
    """Chromium of this machine."""
    return next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)


@dataclass
class Timed:
    """When each picture was left by the session, and when it was handed to a browser.

    Attributes:
        left: Number of a picture to when the session left it.
        sent: The same to when it had been put into words for a browser.
    """

    left: dict[int, float] = field(default_factory=dict)
    sent: dict[int, float] = field(default_factory=dict)

    @classmethod
    def read(cls, path: Path) -> "Timed":
        """As it was written down; a last line that is not whole counts as none."""
        times = cls()
        for line in path.read_text(encoding="utf-8").split("\n")[:-1]:
            what, version, at_ms = line.split()
            (times.left if what == "left" else times.sent)[int(version)] = float(at_ms)
        return times


@contextmanager
def timed(file: IO[str] | None = None) -> Iterator[Timed]:
    """Time every picture of every screen of this process, and write it down line by line where a file is given."""
    times, lock = Timed(), threading.Lock()

    def note(what: str, version: int, at_ms: float) -> None:
        with lock:
            into = times.left if what == "left" else times.sent
            if version not in into:
                into[version] = at_ms
                if file is not None:
                    print(what, version, f"{at_ms:.2f}", file=file, flush=True)

    leave, wait = RoomScreen._leave, RoomScreen.wait

    def left(screen: RoomScreen, at_s: float) -> None:
        at_ms = now_ms()
        leave(screen, at_s)
        note("left", screen.version, at_ms)

    def waited(screen: RoomScreen, seen: int) -> tuple[int, str]:
        version, state = wait(screen, seen)
        note("sent", version, now_ms())
        return version, state

    RoomScreen._leave, RoomScreen.wait = left, waited  # type: ignore[method-assign]
    try:
        yield times
    finally:
        RoomScreen._leave, RoomScreen.wait = leave, wait  # type: ignore[method-assign]


def account(times: Timed, shown: dict[str, Sequence[float | None]]) -> dict[str, Any]:
    """From event to pixels, and of that what is before the browser has it, and what after.

    Args:
        times: Of the tool.
        shown: Number of a picture to when the page had it, and when the second frame after it was drawn.
    """
    rows = []
    for name, (had_ms, drawn_ms) in shown.items():
        left_ms = times.left.get(int(name))
        if left_ms is not None and had_ms is not None and drawn_ms is not None:
            words_ms = times.sent[int(name)] - left_ms
            rows.append((drawn_ms - left_ms, words_ms, had_ms - left_ms - words_ms, drawn_ms - had_ms))
    rows.sort()
    if not rows:
        return {"n": 0}
    parts = ("whole", "until_sent", "until_the_page_has_it", "until_drawn")

    def named(row: tuple[float, ...]) -> dict[str, float]:
        return dict(zip(parts, (round(part, 1) for part in row), strict=True))

    def at(share: float) -> dict[str, float]:
        return named(rows[min(len(rows) - 1, int(share * len(rows)))])

    return {
        "n": len(rows),
        "of": len(times.left),
        "median_ms": at(0.5),
        "p95_ms": at(0.95),
        "most_ms": at(1.0),
        "over_50_ms": [named(row) for row in rows if row[0] > 50],
    }


@contextmanager
def browser(address: str) -> Iterator[Any]:
    """A headless Chromium that shows the screen; gives its page."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=program(), args=["--no-sandbox", "--js-flags=--expose-gc"])
        page = chromium.new_page(viewport={"width": 1280, "height": 800})
        page.goto(address, wait_until="domcontentloaded")
        page.wait_for_function("() => !document.body.classList.contains('waiting')")
        page.evaluate(WATCH)
        yield page
        chromium.close()


def main() -> None:
    """Run the command with every picture timed."""
    from handsfree.cli import main as run

    path, sys.argv = Path(sys.argv[1]), ["handsfree", *sys.argv[2:]]
    with path.open("w", encoding="utf-8") as file, timed(file):
        run()


if __name__ == "__main__":
    main()
