"""Keys as they are pressed: any key, a pedal that types one, a scanner that types a whole label."""

import importlib
import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from handsfree.clock import Clock
from handsfree.understanding.identifiers import looks_scanned

SCANNER_GAP_S = 0.1
"""A scanner types its characters faster than this, one after the other; fingers and pedals are slower."""


class KeyBursts:
    """Tells a scanner's label from keys that are pressed one by one."""

    def __init__(self) -> None:
        self._burst = b""
        self._last_s = float("-inf")

    def feed(self, typed: bytes, now_s: float) -> tuple[bool, str | None]:
        """Take what was typed.

        Args:
            typed: Bytes that came together; one press of a special key sends several.
            now_s: When, seconds.

        Returns:
            Whether that counts as a key pressed, the first of a burst alone; and the label that a scanner has ended.
        """
        if now_s - self._last_s > SCANNER_GAP_S:
            self._burst = b""
        self._last_s = now_s
        pressed = not self._burst
        self._burst += typed
        line, ended, _ = self._burst.replace(b"\r", b"\n").partition(b"\n")
        if not ended:
            return pressed, None
        self._burst = b""
        text = line.decode("ascii", errors="replace").strip(" ")
        return pressed, text if looks_scanned(text) else None


@contextmanager
def listening_for_keys(
    pressed: Callable[[], None], scanned: Callable[[str, float], None], clock: Clock
) -> Iterator[None]:
    """Call back in a thread of its own, without waiting for Enter, until the block ends.

    Does nothing where standard input is no terminal. Ctrl-C still interrupts.

    Args:
        pressed: Called for each key, and once for a scan.
        scanned: Called with a label, as a scanner sends it, and the time at which it came.
        clock: Tells a scanner from fingers.
    """
    if not sys.stdin.isatty():
        yield
        return
    with _single_keys() as next_keys:
        threading.Thread(target=_read, args=(next_keys, pressed, scanned, clock), name="keys", daemon=True).start()
        yield


@contextmanager
def _single_keys() -> Iterator[Callable[[], bytes]]:
    """Set the terminal so that keys come as they are pressed; gives what waits for the next."""
    try:
        import termios
        import tty
    except ImportError:  # Windows: its console gives single keys without being set, and no Ctrl-C among them
        yield importlib.import_module("msvcrt").getch
        return
    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)
    tty.setcbreak(handle)
    try:
        yield lambda: os.read(handle, 256)
    finally:
        termios.tcsetattr(handle, termios.TCSADRAIN, before)


def _read(
    next_keys: Callable[[], bytes], pressed: Callable[[], None], scanned: Callable[[str, float], None], clock: Clock
) -> None:
    bursts = KeyBursts()
    # A terminal that was closed ends it.
    with suppress(OSError):
        while typed := next_keys():
            now_s = clock.monotonic_s()
            is_key, label = bursts.feed(typed, now_s)
            if is_key:
                pressed()
            if label is not None:
                scanned(label, now_s)
