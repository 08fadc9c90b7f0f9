"""Writes the additions as the file that is shipped, see `handsfree.recognition.weight_merging`, and reads them."""

import json
from collections.abc import Mapping
from pathlib import Path

import numpy as np
from layers import Place, TunedLinear
from numpy.typing import NDArray

from handsfree.recognition.weight_merging import FORM


def save_delta(path: Path, places: Mapping[str, Place], layers: Mapping[str, TunedLinear]) -> None:
    """Write the additions, 16-bit floats, with the place in the base files that each belongs to."""
    entries, values = [], []
    for name, layer in sorted(layers.items()):
        place = places[name]
        down = layer.down.detach().cpu().numpy().astype("<f2")
        up = layer.up.detach().cpu().numpy().astype("<f2")
        entries.append(
            {
                "name": name,
                "file": place.file,
                "inputs": down.shape[1],
                "outputs": len(up),
                "rank": len(down),
                "weights_at": place.weights_at,
                **place.codes,
            }
        )
        values += [down.reshape(-1), up.reshape(-1)]
    header = json.dumps({"form": FORM, "layers": entries}, separators=(",", ":")).encode()
    np.savez(path, header=np.frombuffer(header, np.uint8), values=np.concatenate(values))


def load_delta(path: Path) -> dict[str, tuple[NDArray[np.float32], NDArray[np.float32]]]:
    """Each layer's `down` and `up` of a file that `save_delta` wrote."""
    with np.load(path) as archive:
        header, values = json.loads(archive["header"].tobytes()), archive["values"].astype("f4")
    found, at = {}, 0
    for layer in header["layers"]:
        rank, inputs, outputs = layer["rank"], layer["inputs"], layer["outputs"]
        middle, end = at + rank * inputs, at + rank * (inputs + outputs)
        found[layer["name"]] = values[at:middle].reshape(rank, inputs), values[middle:end].reshape(outputs, rank)
        at = end
    return found
