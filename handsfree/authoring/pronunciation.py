"""How words sound, from the pronouncing dictionary inside the package of the light engine (CMU dictionary, BSD)."""

from functools import cache
from pathlib import Path

PHONE_GROUPS = (
    frozenset({"P", "B"}),
    frozenset({"T", "D"}),
    frozenset({"K", "G"}),
    frozenset({"F", "V", "TH", "DH"}),
    frozenset({"S", "Z", "SH", "ZH"}),
    frozenset({"CH", "JH"}),
    frozenset({"M", "N", "NG"}),
    frozenset({"L", "R", "W", "Y"}),
    frozenset({"IY", "IH", "EY", "EH", "AE"}),
    frozenset({"UW", "UH", "OW", "AO", "AA", "AH"}),
    frozenset({"ER", "R"}),
    frozenset({"AY", "OY", "AW"}),
)
"""Phones that are taken for one another more easily: same manner of articulation, place or voice apart (textbook
phonetics, from memory)."""
NEAR_COST = 0.5


@cache
def dictionary() -> dict[str, tuple[tuple[str, ...], ...]]:
    """Phones of each word; empty if the package is not installed."""
    try:
        import pocketsphinx
    except ImportError:
        return {}
    path = Path(pocketsphinx.__file__).parent / "model" / "en-us" / "cmudict-en-us.dict"
    found: dict[str, list[tuple[str, ...]]] = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        word, *phones = line.split()
        found.setdefault(word.partition("(")[0], []).append(tuple(phones))
    return {word: tuple(ways) for word, ways in found.items()}


def phones_of(phrase: str) -> tuple[str, ...] | None:
    """Phones of a phrase in the first pronunciation of each word; None if a word is not in the dictionary."""
    known = dictionary()
    phones: list[str] = []
    for word in phrase.split():
        if word not in known:
            return None
        phones += known[word][0]
    return tuple(phones)


def phone_distance(one: tuple[str, ...], two: tuple[str, ...]) -> float:
    """Edit distance in phones, where phones of one group are half apart.

    *Range*: 0 for the same sound, at most the length of the longer.
    """
    row = [float(index) for index in range(len(two) + 1)]
    for index, left in enumerate(one, start=1):
        before, row = row, [float(index)]
        for column, right in enumerate(two, start=1):
            changed = before[column - 1] + _apart(left, right)
            row.append(min(changed, before[column] + 1.0, row[-1] + 1.0))
    return row[-1]


def _apart(one: str, two: str) -> float:
    if one == two:
        return 0.0
    return NEAR_COST if any(one in group and two in group for group in PHONE_GROUPS) else 1.0


def relative_distance(one: str, two: str) -> float | None:
    """Distance of two phrases as a share of the longer one; None if a word is unknown."""
    first, second = phones_of(one), phones_of(two)
    if first is None or second is None:
        return None
    return phone_distance(first, second) / max(len(first), len(second), 1)
