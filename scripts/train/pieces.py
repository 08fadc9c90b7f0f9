"""Text to the pieces that the network writes."""

from pathlib import Path

_BLANK = "\u2581"
_FIRST = 259
"""Below lie marks and single bytes, which the network writes only where no piece has the character."""


class Pieces:
    """The vocabulary of the base, used the other way round.

    A text is cut into characters, and of all neighbours that together are a piece the one with the lowest number is
    joined, again and again: the pieces are numbered in the order in which they were made.

    Args:
        table: The file `tokenizer.bin`.
    """

    begin: tuple[int, ...] = (1,)
    end = 2

    def __init__(self, table: Path) -> None:
        data = table.read_bytes()
        pieces: list[bytes] = []
        at = 0
        while at < len(data):
            length = data[at]
            at += 1
            if length >= 128:
                length = data[at] * 128 + length - 128
                at += 1
            pieces.append(data[at : at + length])
            at += length
        self._numbers: dict[str, int] = {}
        for number, piece in enumerate(pieces[_FIRST:], _FIRST):
            self._numbers.setdefault(piece.decode("utf-8", "replace"), number)

    def of(self, text: str) -> list[int]:
        """The pieces of a text; none for "".

        Raises:
            KeyError: A character is in no piece.
        """
        if not text:
            return []
        parts = list(_BLANK + text.replace(" ", _BLANK))
        while True:
            pairs = [
                (number, place)
                for place in range(len(parts) - 1)
                if (number := self._numbers.get(parts[place] + parts[place + 1])) is not None
            ]
            if not pairs:
                return [self._numbers[part] for part in parts]
            _, place = min(pairs)
            parts[place : place + 2] = [parts[place] + parts[place + 1]]
