"""Text to pieces and back, by merging pairs of bytes, as the third weights read and write it."""

import json
import re
from functools import cache
from itertools import pairwise
from pathlib import Path

from handsfree.errors import ModelError

_PARTS = re.compile(r"'(?:s|t|re|ve|m|ll|d)| ?[A-Za-z]+| ?[0-9]+| ?[^\sA-Za-z0-9]+|\s+")
"""Words, numbers and signs, each with the blank before it; pieces never cross them. Enough for ASCII text."""


class BytePieces:
    """A table of pieces and of the pairs that are merged to them.

    Args:
        path: `tokenizer.json`.

    Raises:
        ModelError: It is not such a file.
    """

    def __init__(self, path: Path) -> None:
        try:
            model = json.loads(path.read_text(encoding="utf-8"))["model"]
            merges = [pair.split(" ") if isinstance(pair, str) else pair for pair in model["merges"]]
            self._ranks = {(first, second): rank for rank, (first, second) in enumerate(merges)}
            self._ids: dict[str, int] = dict(model["vocab"])
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise ModelError(f"{path}: not a table of pieces ({error})") from error
        self._texts = {number: text for text, number in self._ids.items()}
        self._kept: dict[str, tuple[int, ...]] = {}

    def pieces(self, text: str) -> tuple[int, ...]:
        """The pieces of a text."""
        return tuple(piece for part in _PARTS.findall(text) for piece in self._of_part(part))

    def text(self, pieces: list[int]) -> str:
        """The text of a run of pieces; those beyond the table are left out."""
        signs = "".join(self._texts.get(piece, "") for piece in pieces)
        known = {sign: byte for byte, sign in enumerate(_signs())}
        return bytes(known[sign] for sign in signs if sign in known).decode("utf-8", "replace").strip()

    def _of_part(self, part: str) -> tuple[int, ...]:
        found = self._kept.get(part)
        if found is None:
            found = self._kept[part] = tuple(self._ids[piece] for piece in self._merged(part))
        return found

    def _merged(self, part: str) -> list[str]:
        pieces = [_signs()[byte] for byte in part.encode()]
        while len(pieces) > 1:
            ranks = [self._ranks.get(pair, len(self._ranks)) for pair in pairwise(pieces)]
            least = min(ranks)
            if least == len(self._ranks):
                break
            at = ranks.index(least)
            pieces[at : at + 2] = [pieces[at] + pieces[at + 1]]
        return pieces


@cache
def _signs() -> tuple[str, ...]:
    """How each byte is written in the table: itself where it prints, else a sign from U+0100 on."""
    printed = {*range(ord("!"), ord("~") + 1), *range(0xA1, 0xAD), *range(0xAE, 0x100)}
    others = iter(range(0x100, 0x200))
    return tuple(chr(byte) if byte in printed else chr(next(others)) for byte in range(256))
