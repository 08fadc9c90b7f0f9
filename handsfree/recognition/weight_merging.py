"""Tuned weights: the base files with small additions, put together once at installation.

The addition to a linear layer is the product of two narrow matrices. The sum is written over the old weights in their
own form: the file keeps its form, size and speed. Some files hold 16-bit floats, others one byte a weight and a step
for the whole layer. Base weights lie on their own steps exactly, so there the new step differs from the old: with the
same one most of a small addition would be rounded away.
"""

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import ModelError

FORM = 1
"""Form of the file of additions."""
_HIGHEST_CODE = 255


@dataclass(frozen=True, slots=True)
class Addition:
    """What is added to one layer.

    Attributes:
        name: Of the layer's weights.
        file: Which base file they lie in.
        inputs: Of the layer.
        outputs: Of the layer.
        rank: Columns of `up` and rows of `down`.
        weights_at: First byte of the weights: of bytes inputs by outputs, of floats outputs by inputs, row by row.
        scale_at: First byte of the step of bytes, a little-endian 32-bit float; None where the weights are floats of 16
            bits.
        zero_point_at: Byte of the code that means zero.
        step: The new step.
    """

    name: str
    file: str
    inputs: int
    outputs: int
    rank: int
    weights_at: int
    scale_at: int | None = None
    zero_point_at: int = 0
    step: float = 1.0


def merge(delta: Path, base: Path, into: Path) -> None:
    """Write each base file that has additions, with them, under the same name.

    The product is taken in double precision, so that the rounded bytes do not depend on the machine.

    Args:
        delta: The file of additions.
        base: Folder of the base files.
        into: Folder for the new ones.

    Raises:
        ModelError: The file of additions is damaged or does not fit the base files.
    """
    additions, values = _read(delta)
    contents: dict[str, bytearray] = {}
    at = 0
    try:
        for addition in additions:
            if addition.file not in contents:
                contents[addition.file] = bytearray((base / addition.file).read_bytes())
            sizes = addition.rank * addition.inputs, addition.rank * addition.outputs
            down = values[at : at + sizes[0]].reshape(addition.rank, addition.inputs)
            up = values[at + sizes[0] : at + sum(sizes)].reshape(addition.outputs, addition.rank)
            at += sum(sizes)
            _add(contents[addition.file], addition, up.astype(np.float64) @ down.astype(np.float64))
    except (OSError, ValueError, IndexError) as error:
        raise ModelError(f"{delta.name}: does not fit the weights in {base} ({error})") from error
    for name, content in contents.items():
        (into / name).write_bytes(content)


def _add(content: bytearray, addition: Addition, extra: NDArray[np.float64]) -> None:
    if addition.scale_at is None:
        _add_to_floats(content, addition, extra)
    else:
        _add_to_bytes(content, addition, addition.scale_at, extra)


def _add_to_floats(content: bytearray, addition: Addition, extra: NDArray[np.float64]) -> None:
    count = addition.inputs * addition.outputs
    old = np.frombuffer(content, "<f2", count, addition.weights_at).reshape(extra.shape).astype(np.float64)
    content[addition.weights_at : addition.weights_at + 2 * count] = (old + extra).astype("<f2").tobytes()


def _add_to_bytes(content: bytearray, addition: Addition, scale_at: int, extra: NDArray[np.float64]) -> None:
    count = addition.inputs * addition.outputs
    old = np.frombuffer(content, np.uint8, count, addition.weights_at).reshape(addition.inputs, addition.outputs)
    scale = np.frombuffer(content, "<f4", 1, scale_at).astype(np.float64)[0]
    zero_point = content[addition.zero_point_at]
    step = np.float64(np.float32(addition.step))
    whole = scale * (old.astype(np.float64) - zero_point) + extra.T
    codes = np.clip(np.rint(whole / step) + zero_point, 0, _HIGHEST_CODE).astype(np.uint8)
    content[addition.weights_at : addition.weights_at + count] = codes.tobytes()
    content[scale_at : scale_at + 4] = np.array(addition.step, "<f4").tobytes()


def _read(delta: Path) -> tuple[list[Addition], NDArray[np.float16]]:
    try:
        with np.load(delta, allow_pickle=False) as archive:
            header = json.loads(archive["header"].tobytes())
            values = np.asarray(archive["values"], dtype=np.float16)
        if header["form"] != FORM:
            raise ModelError(f"{delta.name}: form {header['form']}, this version reads form {FORM}")
        additions = [Addition(**entry) for entry in header["layers"]]
    except (OSError, ValueError, KeyError, TypeError, EOFError) as error:
        raise ModelError(f"{delta.name}: not a file of additions to weights ({error})") from error
    if len(values) != sum(addition.rank * (addition.inputs + addition.outputs) for addition in additions):
        raise ModelError(f"{delta.name}: cut short")
    return additions, values
