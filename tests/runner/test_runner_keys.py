"""Keys, pedals and scanners. Time is turned by hand.

The label is built after GS1 General Specifications 7.8: symbology identifier ]C1, then element strings, a separator
(ASCII 29) after one of variable length. GTIN 09506000134352 is the one of GS1's own examples (from memory).
"""

import os
import pty
import queue
import sys
import types
from datetime import UTC, datetime

import pytest

from handsfree.clock import ManualClock, SystemClock
from handsfree.key_names import KEY_NAMES
from handsfree.runner.keys import HELD_S, SCANNER_GAP_S, KeyBursts, NamedKeys, listening_for_keys

LABEL = "]C1010950600013435217281031" + "10A4B2"
WAIT_S = 10


def feed(bursts, text, every_s, from_s=0.0):
    """What comes of typing so fast."""
    found = [bursts.feed(character.encode(), from_s + every_s * number) for number, character in enumerate(text)]
    return sum(pressed for pressed, _ in found), [label for _, label in found if label is not None]


def test_a_scanner_presses_one_key_and_types_a_label():
    assert feed(KeyBursts(), LABEL + "\n", 0.005) == (1, [LABEL])
    assert feed(KeyBursts(), LABEL + "\r", 0.02) == (1, [LABEL])


def test_a_label_may_come_all_at_once_and_another_after_it():
    bursts = KeyBursts()
    assert bursts.feed(f"{LABEL}\n".encode(), 1.0) == (True, LABEL)
    assert bursts.feed(f"{LABEL}\n".encode(), 2.0) == (True, LABEL)


def test_fingers_type_no_label():
    slow = SCANNER_GAP_S * 1.5
    assert feed(KeyBursts(), LABEL + "\n", slow) == (len(LABEL) + 1, [])


@pytest.mark.parametrize("typed", [b"\n", b" ", b"\x1b[15~", b"b\r"])
def test_a_pedal_is_a_key_whatever_it_types(typed):
    bursts = KeyBursts()
    assert bursts.feed(typed, 1.0) == (True, None)
    assert bursts.feed(typed, 2.0) == (True, None)


def test_what_a_scanner_sends_of_other_codes_is_a_key_and_no_label():
    assert feed(KeyBursts(), "https://example.org/x\n", 0.005) == (1, [])


def test_a_terminal_gives_keys_and_labels(monkeypatch):
    master, slave = pty.openpty()
    told = queue.Queue()
    with os.fdopen(slave, "r") as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        with listening_for_keys(lambda: told.put("key"), lambda label, _: told.put(label), SystemClock()):
            os.write(master, b" ")
            assert told.get(timeout=WAIT_S) == "key"
            # Whether the blank still counts as the beginning of the burst depends on how busy this machine is.
            os.write(master, f"{LABEL}\n".encode())
            assert {"key", LABEL} >= {first := told.get(timeout=WAIT_S)}
            assert first == LABEL or told.get(timeout=WAIT_S) == LABEL
        os.write(master, b"\n")  # lets the thread read once more and go
    os.close(master)


def test_a_console_without_terminal_settings_gives_keys_and_labels(monkeypatch):
    typed = queue.Queue()
    told = queue.Queue()
    monkeypatch.setitem(sys.modules, "termios", None)  # as on Windows, where `msvcrt` stands in (Python's own manual)
    monkeypatch.setitem(sys.modules, "msvcrt", types.SimpleNamespace(getch=typed.get))
    monkeypatch.setattr(sys, "stdin", types.SimpleNamespace(isatty=lambda: True))
    clock = ManualClock(datetime(2026, 11, 25, tzinfo=UTC))
    clock.sleep_until(7.0)
    with listening_for_keys(lambda: told.put("key"), lambda *scanned: told.put(scanned), clock):
        for character in LABEL + "\r":
            typed.put(character.encode())
        assert [told.get(timeout=WAIT_S), told.get(timeout=WAIT_S)] == ["key", (LABEL, 7.0)]
    typed.put(b"")  # lets the thread go


def test_where_standard_input_is_no_terminal_nothing_is_read(monkeypatch):
    monkeypatch.setattr(sys, "stdin", types.SimpleNamespace(isatty=lambda: False))
    with listening_for_keys(pytest.fail, pytest.fail, SystemClock()):
        pass


@pytest.mark.parametrize(
    ("typed", "names"),
    [
        (b"\x1b[5~", ["page-up"]),
        (b"\x1b[15~", ["f5"]),
        (b"\x1bOP", ["f1"]),
        (b"\x1b[A", ["up"]),
        (b"\xe0I", ["page-up"]),
    ],
)
def test_a_key_that_types_no_character_has_a_name(typed, names):
    # xterm control sequences, "PC-Style Function Keys"; the last is Windows' console (from memory)
    assert NamedKeys().feed(typed, 1.0) == (tuple(names), b"")


def test_a_key_that_is_held_down_counts_once_and_pressed_again_once_more():
    keys = NamedKeys()
    held = [keys.feed(b"\x1b[6~", at_s)[0] for at_s in (1.0, 1.6, 1.63, 1.66, 1.69, 1.72)]
    assert held == [("page-down",), (), (), (), (), ()]
    assert keys.feed(b"\x1b[6~\x1b[6~", 1.72 + HELD_S + 0.01)[0] == ("page-down",)
    assert keys.feed(b"\x1b[5~", 1.72 + HELD_S + 0.02)[0] == ("page-up",), "another key is another press"


def test_a_key_in_two_parts_is_one_and_a_stray_beginning_is_none():
    keys = NamedKeys()
    assert keys.feed(b"\x1b[", 1.0) == ((), b"")
    assert keys.feed(b"6~", 1.01) == (("page-down",), b"")
    assert keys.feed(b"\x1b", 2.0) == ((), b"")
    assert keys.feed(b"x", 3.0) == ((), b"x")


def test_no_character_of_a_scanned_label_is_a_named_key():
    keys = NamedKeys()
    assert keys.feed(LABEL.encode() + b"\n", 1.0) == ((), LABEL.encode() + b"\n")
    assert not any(len(name) == 1 for name in KEY_NAMES)


def test_a_key_that_is_set_to_say_something_is_no_other_key(monkeypatch):
    typed, told = queue.Queue(), queue.Queue()
    monkeypatch.setitem(sys.modules, "termios", None)
    monkeypatch.setitem(sys.modules, "msvcrt", types.SimpleNamespace(getch=typed.get))
    monkeypatch.setattr(sys, "stdin", types.SimpleNamespace(isatty=lambda: True))
    clock = ManualClock(datetime(2026, 11, 25, tzinfo=UTC))
    clock.sleep_until(7.0)
    named = {"page-up": lambda at_s: told.put(("affirm", at_s))}
    with listening_for_keys(lambda: told.put("key"), lambda *scanned: told.put(scanned), clock, named):
        for part in (b"\xe0", b"I", b"\xe0", b"Q", *(character.encode() for character in LABEL + "\r")):
            typed.put(part)
        assert [told.get(timeout=WAIT_S) for _ in range(4)] == [("affirm", 7.0), "key", "key", (LABEL, 7.0)]
    typed.put(b"")
