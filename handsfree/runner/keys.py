"""Any key, or a pedal that types one, as it is pressed."""

import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress


@contextmanager
def listening_for_keys(pressed: Callable[[], None]) -> Iterator[None]:
    """Call `pressed` in a thread of its own for each key, without waiting for Enter, until the block ends.

    Does nothing where standard input is no terminal or the system has no such terminals. Ctrl-C still interrupts.
    """
    try:
        import termios
        import tty
    except ImportError:  # Windows
        yield
        return
    if not sys.stdin.isatty():
        yield
        return
    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)
    tty.setcbreak(handle)
    threading.Thread(target=_read, args=(handle, pressed), name="keys", daemon=True).start()
    try:
        yield
    finally:
        termios.tcsetattr(handle, termios.TCSADRAIN, before)


def _read(handle: int, pressed: Callable[[], None]) -> None:
    # One press of a special key sends several bytes at once: they count as one. A terminal that was closed ends it.
    with suppress(OSError):
        while os.read(handle, 64):
            pressed()
