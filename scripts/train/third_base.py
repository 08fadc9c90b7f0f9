"""The third weights that training starts from, and how texts are written for them.

Names are those of their file (CTranslate2, form 6), in which a query, a key and a value are one layer. The vocabulary
is cut to the common pieces, which the product divides the probability among, and those that are to be written.
"""

import csv
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.recognition.byte_pieces import BytePieces
from handsfree.recognition.general_network import BEGIN, COMMON, END
from handsfree.recognition.plain_text import plain_text
from handsfree.recognition.weight_tables import weight_tables

FILE = "model.bin"
TABLE = "tokenizer.json"
EMBEDDING = "decoder/embeddings/weight"


class PlainPieces:
    """Text to the rows of the cut vocabulary: the words alone, in small letters, as the product asks for them.

    Args:
        table: The file `tokenizer.json`.
        kept: The pieces of the vocabulary, one a row.
    """

    def __init__(self, table: Path, kept: NDArray[np.int64]) -> None:
        self._pieces = BytePieces(table)
        self._rows = {int(piece): row for row, piece in enumerate(kept)}
        self.begin = tuple(self._rows[piece] for piece in BEGIN)
        self.end = self._rows[END]

    def of(self, text: str) -> list[int]:
        """The rows of a text; none for "".

        Raises:
            KeyError: One of its pieces was not kept.
        """
        return [self._rows[piece] for piece in self._pieces.pieces(plain(text))]


def plain(text: str) -> str:
    """A text as the third weights are to write it: "Three, zero." is " three zero"."""
    return plain_text(text.replace(",", "").rstrip(".").split())


def save_third(folder: Path, texts: Iterable[str], path: Path) -> None:
    """Write what training needs of the installed weights, and of their vocabulary, into one archive.

    Args:
        folder: Where they are installed, untrained.
        texts: All that is to be written.
        path: The archive.
    """
    data = (folder / FILE).read_bytes()
    tables = weight_tables(data, FILE)
    pieces = BytePieces(folder / TABLE)
    kept = np.array(
        sorted({*range(COMMON), END, *BEGIN, *(piece for text in texts for piece in pieces.pieces(plain(text)))})
    )
    arrays: dict[str, NDArray[Any]] = {
        f"table|{name}": table.values(data).astype("<f2") for name, table in tables.items()
    }
    arrays[f"table|{EMBEDDING}"] = arrays[f"table|{EMBEDDING}"][kept]
    places = {name: table.at for name, table in tables.items()}
    np.savez_compressed(path, kept=kept, places=np.array(json.dumps(places)), **arrays)


def texts_of(folders: Iterable[Path]) -> set[str]:
    """What is to be written of the clips of packs."""
    found: set[str] = set()
    for folder in folders:
        with (folder / "clips.csv").open(encoding="utf-8", newline="") as file:
            found |= {row["text"] for row in csv.DictReader(file)}
    return found
