"""Averages files of additions: runs that began from the same additions err in other places, their average less.

The weighted sum of the products is cut to a rank again, layer by layer, by its largest singular values.

Use: python scripts/train/average.py RESULT --rank 32 --of 0.1 first.npz --of 0.3 run1.npz ...
"""

import argparse
import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def average(parts: list[tuple[float, Path]], rank: int, into: Path) -> float:
    """Write the average.

    Args:
        parts: Weight of each file, and the file; all of the same layers.
        rank: Of the result, at most.
        into: The result, in the same form.

    Returns:
        Share of the squared size that was cut away.
    """
    headers, values = zip(*(_read(path) for _, path in parts), strict=True)
    layers, written, cut, whole = [], [], 0.0, 0.0
    at = [0] * len(parts)
    for same in zip(*(header["layers"] for header in headers), strict=True):
        ups, downs = [], []
        for number, ((weight, _), layer) in enumerate(zip(parts, same, strict=True)):
            down, up = _taken(values[number], at[number], layer)
            at[number] += down.size + up.size
            downs.append(down)
            ups.append(weight * up)
        left, sizes, right = _singular(np.hstack(ups), np.vstack(downs))
        kept = min(rank, len(sizes))
        cut += float(np.sum(sizes[kept:] ** 2))
        whole += float(np.sum(sizes**2))
        root = np.sqrt(sizes[:kept])
        layers.append({**same[0], "rank": kept})
        written += [(root[:, None] * right[:kept]).reshape(-1), (left[:, :kept] * root).reshape(-1)]
    header = json.dumps({**headers[0], "layers": layers}, separators=(",", ":")).encode()
    np.savez(into, header=np.frombuffer(header, np.uint8), values=np.concatenate(written).astype("<f2"))
    return cut / whole


def _read(path: Path) -> tuple[dict[str, Any], Floats]:
    with np.load(path) as archive:
        return json.loads(archive["header"].tobytes()), archive["values"].astype("f8")


def _taken(values: Floats, at: int, layer: dict[str, Any]) -> tuple[Floats, Floats]:
    rank, inputs, outputs = layer["rank"], layer["inputs"], layer["outputs"]
    middle, end = at + rank * inputs, at + rank * (inputs + outputs)
    return values[at:middle].reshape(rank, inputs), values[middle:end].reshape(outputs, rank)


def _singular(up: Floats, down: Floats) -> tuple[Floats, Floats, Floats]:
    """Singular values of `up @ down` without the product."""
    outer, left = np.linalg.qr(up)
    inner, right = np.linalg.qr(down.T)
    turned, sizes, rest = np.linalg.svd(left @ right.T)
    return outer @ turned, sizes, rest @ inner.T


def main() -> int:
    """Average and say what was lost."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("result", type=Path)
    parser.add_argument("--rank", type=int, default=32)
    parser.add_argument("--of", nargs=2, action="append", required=True, metavar=("WEIGHT", "FILE"))
    options = parser.parse_args()
    cut = average([(float(weight), Path(path)) for weight, path in options.of], options.rank, options.result)
    print(f"{options.result}: {options.result.stat().st_size} bytes, {cut:.4f} of the squared size cut away")
    return 0


if __name__ == "__main__":
    sys.exit(main())
