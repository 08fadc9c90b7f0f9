"""How the third weights were trained to write a sentence: its words as said, in small letters, without signs."""

from collections.abc import Sequence

SPELLED = {"alfa": "alpha", "juliett": "juliet", "xray": "x-ray", "tree": "three", "fower": "four"}
"""Words of the grammars that are written as everybody else writes them; the last two are ways to say a digit."""


def plain_text(words: Sequence[str]) -> str:
    """The text of words, with the blank before it that every text of these weights begins with; "" for none."""
    return "".join(f" {SPELLED.get(word, word).lower()}" for word in words)
