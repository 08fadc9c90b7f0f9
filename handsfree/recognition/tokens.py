"""The vocabulary of the neural recogniser: pieces of text with numbers."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import ModelError

BEGIN = 1
END = 2
_BLANK = "\u2581"
_BYTE_TOKENS = range(3, 259)
_USEFUL = frozenset("abcdefghijklmnopqrstuvwxyz0123456789 .,!?;:-–−'%°/½")


@dataclass(slots=True)
class Branch:
    """A node of the tree of all pieces, lower-cased.

    Attributes:
        children: By next character.
        tokens: Pieces that end here.
    """

    children: dict[str, "Branch"] = field(default_factory=dict)
    tokens: list[int] = field(default_factory=list)


class Vocabulary:
    """Pieces by number.

    Args:
        pieces: The bytes of each, in order of their numbers; U+2581 stands for a blank.
    """

    def __init__(self, pieces: Sequence[bytes]) -> None:
        self._pieces = pieces
        self.tree = Branch()
        for token, piece in enumerate(pieces):
            if token <= END or token in _BYTE_TOKENS:
                continue
            text = piece.decode("utf-8", "replace").replace(_BLANK, " ").lower()
            if text and _USEFUL.issuperset(text):
                self._add(text, token)

    def _add(self, text: str, token: int) -> None:
        branch = self.tree
        for character in text:
            branch = branch.children.setdefault(character, Branch())
        branch.tokens.append(token)

    @cached_property
    def boundaries(self) -> NDArray[np.bool_]:
        """Which pieces may stand after a whole word: what begins with a blank or a mark, and the end."""
        marks = tuple(character for character in ".,!?;:-–−°/ ")
        texts = [piece.decode("utf-8", "replace").replace(_BLANK, " ") for piece in self._pieces]
        return np.array([token == END or text.startswith(marks) for token, text in enumerate(texts)])

    def __len__(self) -> int:
        return len(self._pieces)

    def text(self, tokens: list[int]) -> str:
        """The text of a run of tokens, without blanks at its ends."""
        joined = b"".join(self._pieces[token] for token in tokens if token > END)
        return joined.decode("utf-8", "replace").replace(_BLANK, " ").strip()


def read_vocabulary(path: Path) -> Vocabulary:
    """Read a tokenizer file: each piece after its length, one byte, or two from 128 bytes on.

    Raises:
        ModelError: It is not such a file.
    """
    data = path.read_bytes()
    pieces: list[bytes] = []
    at = 0
    try:
        while at < len(data):
            length = data[at]
            at += 1
            if length >= 128:
                length = data[at] * 128 + length - 128
                at += 1
            pieces.append(data[at : at + length])
            at += length
    except IndexError as error:
        raise ModelError(f"{path}: cut short (a tokenizer file is needed)") from error
    if at != len(data) or len(pieces) <= _BYTE_TOKENS.stop:
        raise ModelError(f"{path}: not a tokenizer file")
    return _vocabulary(tuple(pieces))


@lru_cache(maxsize=2)
def _vocabulary(pieces: tuple[bytes, ...]) -> Vocabulary:
    """Weights of one family have the same pieces, and their tree takes long to grow."""
    return Vocabulary(pieces)
