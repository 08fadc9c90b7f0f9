"""Keys as they are pressed: any key, a pedal that types one or is set to one, a scanner that types a whole label."""

import importlib
import os
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress

from handsfree.clock import Clock
from handsfree.key_names import CONSOLE, SEQUENCES
from handsfree.understanding.identifiers import looks_scanned

NONE_NAMED: Mapping[str, Callable[[float], None]] = {}
SCANNER_GAP_S = 0.1
"""A scanner types its characters faster than this, one after the other; fingers and pedals are slower."""


HELD_S = 0.75
"""A key that comes again within this is the same press: keyboards repeat what is held down, first after up to 0.66 s
(the usual delay of X servers, `xset r rate`; from memory)."""
_LEADS = (b"\xe0", b"\x00")
_KNOWN = {**SEQUENCES, **{lead + code: name for lead in _LEADS for code, name in CONSOLE.items()}}
_LONGEST = max(map(len, _KNOWN))


class NamedKeys:
    """Tells keys that type no character by their names; one that is held down counts once."""

    def __init__(self) -> None:
        self._begun = b""
        self._begun_s = float("-inf")
        self._last: tuple[str, float] = ("", float("-inf"))

    def feed(self, typed: bytes, now_s: float) -> tuple[tuple[str, ...], bytes]:
        """Take what was typed.

        Args:
            typed: Bytes that came together; a key may come in two parts.
            now_s: When, seconds.

        Returns:
            The names of the keys that were pressed, and the bytes that are of none.
        """
        if now_s - self._begun_s <= SCANNER_GAP_S:
            typed = self._begun + typed
        self._begun = b""
        names: list[str] = []
        rest = b""
        while typed:
            size = next((size for size in range(_LONGEST, 0, -1) if typed[:size] in _KNOWN), 0)
            if size:
                names += self._pressed(_KNOWN[typed[:size]], now_s)
                typed = typed[size:]
            elif any(key.startswith(typed) for key in _KNOWN):
                self._begun, self._begun_s, typed = typed, now_s, b""
            else:
                rest, typed = rest + typed[:1], typed[1:]
        return tuple(names), rest

    def _pressed(self, name: str, now_s: float) -> tuple[str, ...]:
        last, self._last = self._last, (name, now_s)
        return () if last[0] == name and now_s - last[1] < HELD_S else (name,)


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
    pressed: Callable[[], None],
    scanned: Callable[[str, float], None],
    clock: Clock,
    named: Mapping[str, Callable[[float], None]] = NONE_NAMED,
) -> Iterator[None]:
    """Call back in a thread of its own, without waiting for Enter, until the block ends.

    Does nothing where standard input is no terminal. Ctrl-C still interrupts.

    Args:
        pressed: Called for each key, and once for a scan.
        scanned: Called with a label, as a scanner sends it, and the time at which it came.
        clock: Tells a scanner from fingers.
        named: By the name of a key, what is called in place of `pressed` with the time at which it was pressed.
    """
    if not sys.stdin.isatty():
        yield
        return
    with _single_keys() as next_keys:
        threading.Thread(
            target=_read, args=(next_keys, pressed, scanned, clock, named), name="keys", daemon=True
        ).start()
        yield


@contextmanager
def _single_keys() -> Iterator[Callable[[], bytes]]:
    """Set the terminal so that keys come as they are pressed; gives what waits for the next."""
    try:
        import termios
        import tty
    except ImportError:  # Windows: its console gives single keys without being set, and no Ctrl-C among them
        yield _console_keys(importlib.import_module("msvcrt").getch)
        return
    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)
    tty.setcbreak(handle)
    try:
        yield lambda: os.read(handle, 256)
    finally:
        termios.tcsetattr(handle, termios.TCSADRAIN, before)


def _console_keys(getch: Callable[[], bytes]) -> Callable[[], bytes]:
    """Keys of a console that gives a leading byte and a code one after the other."""

    def next_key() -> bytes:
        first = getch()
        return first + getch() if first in _LEADS else first

    return next_key


def _read(
    next_keys: Callable[[], bytes],
    pressed: Callable[[], None],
    scanned: Callable[[str, float], None],
    clock: Clock,
    named: Mapping[str, Callable[[float], None]],
) -> None:
    bursts, keys = KeyBursts(), NamedKeys()
    # A terminal that was closed ends it.
    with suppress(OSError):
        while typed := next_keys():
            now_s = clock.monotonic_s()
            names, rest = keys.feed(typed, now_s) if named else ((), typed)
            for name in names:
                call = named.get(name)
                if call is not None:
                    call(now_s)
                else:
                    pressed()
            if not rest:
                continue
            is_key, label = bursts.feed(rest, now_s)
            if is_key:
                pressed()
            if label is not None:
                scanned(label, now_s)
