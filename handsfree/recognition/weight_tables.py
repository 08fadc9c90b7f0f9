"""The tables of a file of weights in CTranslate2's form 6, and where each lies in it."""

import struct
from dataclasses import dataclass
from mmap import mmap

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import ModelError

Data = bytes | mmap
_FORM = 6
_HALF_FLOATS = 4
"""How the file says that a table is of 16-bit floats, as all tables of weights are."""


@dataclass(frozen=True, slots=True)
class WeightTable:
    """One table of 16-bit floats.

    Attributes:
        at: Byte at which it begins, row by row.
        shape: Its sizes; of a linear layer outputs, then inputs.
    """

    at: int
    shape: tuple[int, ...]

    def values(self, data: Data) -> NDArray[np.float32]:
        """Its numbers, read out of the file's bytes."""
        count = int(np.prod(self.shape))
        return np.frombuffer(data, "<f2", count, self.at).astype(np.float32).reshape(self.shape)


def weight_tables(data: Data, name: str) -> dict[str, WeightTable]:
    """Every table of 16-bit floats of a file, by its name.

    Args:
        data: The file's bytes.
        name: Of the file, for the message.

    Raises:
        ModelError: It is not such a file.
    """
    at = 0

    def number(form: str) -> int:
        nonlocal at
        (value,) = struct.unpack_from("<" + form, data, at)
        at += struct.calcsize("<" + form)
        return int(value)

    def text() -> str:
        nonlocal at
        length = number("H")
        at += length
        return data[at - length : at - 1].decode()

    found: dict[str, WeightTable] = {}
    try:
        form = number("I")
        if form != _FORM:
            raise ModelError(f"{name}: weights of form {form}, this version reads form {_FORM}")
        text(), number("I")
        for _ in range(number("I")):
            key = text()
            shape = tuple(number("I") for _ in range(number("B")))
            kind, size = number("B"), number("I")
            if kind == _HALF_FLOATS and shape:
                if at + size > len(data) or size != 2 * int(np.prod(shape)):
                    raise ModelError(f"{name}: {key} is cut short")
                found[key] = WeightTable(at, shape)
            at += size
    except (struct.error, UnicodeDecodeError) as error:
        raise ModelError(f"{name}: not weights that can be read ({error})") from error
    return found
