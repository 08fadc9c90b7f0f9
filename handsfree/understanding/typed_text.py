"""A typed line in the words that the grammars know: digits one by one, signs and short forms spelled out."""

import re
from collections import defaultdict
from dataclasses import replace
from functools import cache

from handsfree.model.commands import Control, DateSlot, IdentifierSlot, NumberSlot, OwnWords, Wanted
from handsfree.model.graph import Arc
from handsfree.understanding.dates import MONTHS
from handsfree.understanding.listening_graph import graph_for

_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_RESPELLED = {"wun": "one", "ait": "eight", "tousand": "thousand"}
"""ICAO respellings that are only ever written: said, they are the plain word."""
_SYMBOLS = {
    "<": ("less", "than"),
    ">": ("more", "than"),
    "~": ("about",),
    "%": ("percent",),
    "°": ("degrees",),
    "½": ("half",),
}
_NUMBER = re.compile(r"(?P<sign>[-−+]?)(?P<whole>\d*)(?P<point>[.,]?)(?P<fraction>\d*)")
_PARTS = re.compile(r"(?<![\w.])[-−]?\d*[.,]?\d+|[<>~%°½]|[^\s<>~%°½\d]+|\d+")
_SHORT_IS = re.compile(r"'s(?= )")
"""Written for "is", which sounds the same after most words."""
_ISO_DATE = re.compile(r"\b(\d{4})-(\d{2})(?:-(\d{2}))?\b")
_PAUSES = re.compile(r"[,;:](?=\s|$)")
_INITIALS = 2
"""Letters of a code that may be typed in small ones without a digit. Chosen here, no source: longer ones are words."""
_RANGE = re.compile(r"(?<=\d)\s*[-–]\s*(?=\d)")


def is_command(text: str) -> bool:
    """Whether a line, its gaps aside, says a command or an answer of the tool: such a line is no code as printed.

    A code of the same letters can still be spelled, one character at a time.
    """
    words = text.lower().rstrip(".!?").split()
    return max(map(len, words), default=0) > 1 and "".join(words) in _command_lines()


@cache
def _command_lines() -> frozenset[str]:
    words = frozenset(OwnWords)
    graph = graph_for(Wanted(frozenset(Control) - {Control.CRY}, yes_or_no=True, own_words=words))
    onward: dict[int, list[Arc]] = defaultdict(list)
    for arc in graph.arcs:
        onward[arc.source].append(arc)
    lines: set[str] = set()
    begun = [(graph.start, "")]
    while begun:
        state, line = begun.pop()
        if state in graph.finals:
            lines.add(line)
        begun += [(arc.target, line + (arc.word or "")) for arc in onward[state]]
    return frozenset(lines)


def without_codes(wanted: Wanted) -> Wanted:
    """What is legal now besides codes."""
    return replace(wanted, slots=tuple(slot for slot in wanted.slots if not isinstance(slot, IdentifierSlot)))


def spoken_forms(text: str, wanted: Wanted) -> tuple[tuple[str, ...], ...]:
    """The ways to read a typed line, the most literal first.

    Args:
        text: The line.
        wanted: What is legal now; a date is read as one only where a date is asked for.
    """
    written = _PAUSES.sub("", " ".join(text.replace("’", "'").split())).rstrip(".!?")
    line = written.lower()
    forms = [tuple(_RESPELLED.get(word, word) for word in line.split())]
    if _SHORT_IS.search(line):
        forms.append(tuple(_SHORT_IS.sub(" is", line).split()))
    if any(isinstance(slot, DateSlot) for slot in wanted.slots):
        forms.append(_words(_ISO_DATE.sub(_date_words, line)))
    if any(isinstance(slot, NumberSlot) for slot in wanted.slots):
        forms.append(_words(_RANGE.sub(" to ", line)))
    if any(isinstance(slot, IdentifierSlot) for slot in wanted.slots):
        printed = (_spelled(written, labelled) for labelled in (True, False) if _is_code(written, labelled))
        forms += [_words(line), *printed]
    return tuple(dict.fromkeys(forms))


def _date_words(found: re.Match[str]) -> str:
    year, month, day = found.groups()
    name = MONTHS[int(month) - 1].lower() if 1 <= int(month) <= 12 else month
    return f"{year} {name} {day or ''}"


def _words(line: str) -> tuple[str, ...]:
    words: list[str] = []
    for part in _PARTS.findall(line):
        words += _SYMBOLS.get(part) or _number_words(part) or (part,)
    return tuple(words)


def _number_words(part: str) -> tuple[str, ...]:
    found = _NUMBER.fullmatch(part)
    if found is None or not (found["whole"] or found["fraction"]):
        return ()
    sign = ("minus",) if found["sign"] in ("-", "−") else ()
    whole = tuple(_DIGITS[int(digit)] for digit in found["whole"])
    point = ("point",) if found["point"] else ()
    return sign + whole + point + tuple(_DIGITS[int(digit)] for digit in found["fraction"])


def may_be_words(text: str) -> bool:
    """Whether a typed line is of words alone: no code is printed so."""
    return bool(re.search(r"[^\W\d_]", text)) and not any(_is_code(text, labelled) for labelled in (True, False))


def _parted(line: str, labelled: bool) -> tuple[str, str]:
    """A leading label word, where there is one, and the code."""
    label, blank, code = line.partition(" ")
    return (label, code) if labelled and blank else ("", line)


def _is_code(written: str, labelled: bool) -> bool:
    """Whether this may be a code as it is printed: it has a digit, or is in capitals; two letters may be initials."""
    code = _parted(written, labelled)[1]
    if any(letter.isdecimal() for letter in code) or code == code.upper():
        return True
    parts = code.split()
    return all(len(part) == 1 for part in parts) or (len(parts) == 1 and len(code) <= _INITIALS)


def _spelled(written: str, labelled: bool) -> tuple[str, ...]:
    """A code typed as it is printed: each character a word; a leading label word stays whole."""
    label, code = _parted(written.lower(), labelled)
    characters = tuple(_DIGITS[int(c)] if c.isdecimal() else c for c in code if c.isalnum() and c.isascii())
    return ((label,) if label else ()) + characters
