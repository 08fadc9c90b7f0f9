"""Sentences as a file, so that what draws them and what speaks them may run on different machines."""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path

WORD_BY_WORD = " | "
DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
LETTERS = (
    "alpha bravo charlie delta echo foxtrot golf hotel india juliet kilo lima mike november oscar papa "
    "quebec romeo sierra tango uniform victor whiskey x-ray yankee zulu"
).split()
"""Spelled as the base network writes them."""
DIGIT_KIND = "digits"
ONE_DIGIT = "digit"
"""A synthetic digit by itself, which training joins to strings."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """Something to say.

    Attributes:
        kind: Its class.
        words: As a voice is to say it, with commas where it pauses; parts between `WORD_BY_WORD` are said alone and
            then joined.
        text: What the network is to write.
    """

    kind: str
    words: str
    text: str


def written(words: Sequence[str]) -> str:
    """What the network is to write: as said, capitalised, commas between single letters and digits of a code."""
    single = {*DIGITS, *LETTERS, "oh", "niner"}
    text = ""
    for before, word in zip(("", *words), words, strict=False):
        comma = "," if before in single and word in single and "point" not in words else ""
        text += f"{comma} {word}" if before else word
    return f"{text[:1].upper()}{text[1:]}."


def save_sentences(found: Iterable[Sentence], path: Path) -> None:
    """Write sentences."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, [field.name for field in fields(Sentence)])
        writer.writeheader()
        writer.writerows(asdict(sentence) for sentence in found)


def load_sentences(path: Path) -> list[Sentence]:
    """Read back what `save_sentences` wrote."""
    with path.open(encoding="utf-8", newline="") as file:
        return [Sentence(**row) for row in csv.DictReader(file)]
