"""Keys that a pedal or a pad may be set to, by name: those that type no character, because scanners type characters.

The byte sequences are those of terminals that follow ECMA-48 as xterm does (xterm control sequences, "PC-Style Function
Keys" and "VT220-Style Function Keys").
"""

from collections.abc import Mapping

SEQUENCES: Mapping[bytes, str] = {
    **{f"\x1b[{number}~".encode(): name for number, name in (
        (2, "insert"), (5, "page-up"), (6, "page-down"), (1, "home"), (4, "end"), (11, "f1"), (12, "f2"), (13, "f3"),
        (14, "f4"), (15, "f5"), (17, "f6"), (18, "f7"), (19, "f8"), (20, "f9"), (21, "f10"), (23, "f11"), (24, "f12"),
    )},
    **{f"\x1b{lead}{letter}".encode(): name for lead in ("[", "O") for letter, name in (
        ("A", "up"), ("B", "down"), ("C", "right"), ("D", "left"), ("H", "home"), ("F", "end"),
    )},
    **{f"\x1bO{letter}".encode(): f"f{number}" for number, letter in enumerate("PQRS", start=1)},
    **{f"\x1b[[{letter}".encode(): f"f{number}" for number, letter in enumerate("ABCDE", start=1)},
}  # fmt: skip
"""What a terminal sends for a key, to the key's name."""
CONSOLE: Mapping[bytes, str] = {
    b"H": "up", b"P": "down", b"K": "left", b"M": "right", b"G": "home", b"O": "end", b"I": "page-up",
    b"Q": "page-down", b"R": "insert", b"\x85": "f11", b"\x86": "f12",
    **{bytes([0x3B + number]): f"f{number + 1}" for number in range(10)},
}  # fmt: skip
"""The same of the console of Windows, after the byte that leads such a key."""
KEY_NAMES = tuple(sorted(set(SEQUENCES.values()) | set(CONSOLE.values()), key=lambda name: (len(name), name)))
"""All names."""
