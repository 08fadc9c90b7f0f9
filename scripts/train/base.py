"""The weights that training starts from, read out of the pinned files and named as the architecture names them.

The files are flatbuffers (ONNX Runtime's own format). A linear layer lies in them as one byte a weight, with one scale
and one zero point a matrix; everything else as 32-bit floats. Training happens where the files need not be: what it
needs goes into one archive.
"""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

ENCODER, DECODER = "encoder_model.ort", "decoder_model_merged.ort"
EMBEDDING = "model.decoder.embed_tokens.weight"
_LAYER = re.compile(r"layers\.(\d+)/(self_attn|encoder_attn|mlp)/(\w+)/")
_FLOATS = {
    "conv1.weight_add_tensor": "model.encoder.conv1.weight",
    "conv2.weight_add_tensor": "model.encoder.conv2.weight",
    "conv3.weight_add_tensor": "model.encoder.conv3.weight",
    "conv2.bias": "model.encoder.conv2.bias",
    "conv3.bias": "model.encoder.conv3.bias",
    "layer_norm.weight": "model.encoder.layer_norm.weight",
    "model.decoder.norm.weight_merged_0": "model.decoder.norm.weight",
}
_GROUP_NORM = {"Mul": "model.encoder.groupnorm.weight", "Add": "model.encoder.groupnorm.bias"}


@dataclass(frozen=True, slots=True)
class Matrix:
    """One linear layer as it lies in a file.

    Attributes:
        file: Name of the file.
        weights_at: Byte at which its codes begin, row by row, inputs by outputs.
        scale_at: Byte at which its scale lies, a little-endian 32-bit float.
        zero_point_at: Byte at which its zero point lies.
        codes: Shape (inputs, outputs).
        scale: Step between two codes.
        zero_point: Code of zero.
    """

    file: str
    weights_at: int
    scale_at: int
    zero_point_at: int
    codes: NDArray[np.uint8]
    scale: float
    zero_point: int

    @property
    def weight(self) -> NDArray[np.float32]:
        """The weights, shape (outputs, inputs), as PyTorch keeps them."""
        return (np.float32(self.scale) * (self.codes.T.astype(np.float32) - np.float32(self.zero_point))).astype("f4")


@dataclass(frozen=True, slots=True)
class Base:
    """All weights by their names in the architecture.

    Attributes:
        linear: Linear layers, the embedding left out.
        embedding: The embedding, which is the output layer too; its codes are (vocabulary, width).
        floats: The rest.
    """

    linear: dict[str, Matrix]
    embedding: Matrix
    floats: dict[str, NDArray[np.float32]]

    def state(self) -> dict[str, NDArray[np.float32]]:
        """Every weight as floats."""
        whole = {name: matrix.weight for name, matrix in self.linear.items()}
        embedding = np.ascontiguousarray(self.embedding.weight.T)
        return {**whole, EMBEDDING: embedding, "proj_out.weight": embedding, **self.floats}


def read_base(folder: Path) -> Base:
    """Read the pinned files.

    Raises:
        ValueError: They do not hold what is expected.
    """
    linear: dict[str, Matrix] = {}
    floats: dict[str, NDArray[np.float32]] = {}
    embedding: Matrix | None = None
    for file, prefix in ((ENCODER, "model.encoder."), (DECODER, "")):
        data = (folder / file).read_bytes()
        tensors, nodes = _contents(data)
        raw = {name: (at, kind, shape) for name, at, kind, shape in tensors}
        for operator, inputs, outputs in nodes:
            codes = next((name for name in inputs if name.endswith("_quantized") and name in raw), None)
            if operator == "Gather" and codes is not None and EMBEDDING in codes:
                embedding = _matrix(data, file, codes, raw)
            elif codes is not None and (layer := _LAYER.search(outputs[0])):
                number, block, part = layer.groups()
                stack = prefix or "model.decoder."
                linear[f"{stack}layers.{number}.{block}.{part}.weight"] = _matrix(data, file, codes, raw)
            elif operator in _GROUP_NORM and outputs[0].startswith("/groupnorm/"):
                own = next(name for name in inputs if name in raw)
                floats[_GROUP_NORM[operator]] = _floats(data, raw[own]).reshape(-1)
        for name, entry in raw.items():
            short = name.removesuffix("_merged_0")
            if name in _FLOATS:
                floats[_FLOATS[name]] = _floats(data, entry)
            elif re.search(r"layers\.\d+\..*(layernorm\.weight|\.bias)$", short):
                floats[prefix + short] = _floats(data, entry)
    if embedding is None:
        raise ValueError(f"{folder}: holds no embedding")
    return Base(linear, embedding, floats)


def save_base(base: Base, path: Path) -> None:
    """Write what training needs into one compressed archive."""
    arrays: dict[str, NDArray[Any]] = {f"float|{name}": value for name, value in base.floats.items()}
    for name, matrix in {**base.linear, EMBEDDING: base.embedding}.items():
        arrays[f"codes|{name}"] = matrix.codes
        where = (matrix.file, matrix.weights_at, matrix.scale_at, matrix.zero_point_at, matrix.scale, matrix.zero_point)
        arrays[f"where|{name}"] = np.array([str(value) for value in where])
    np.savez_compressed(path, **arrays)


def load_base(path: Path) -> Base:
    """Read back what `save_base` wrote."""
    with np.load(path) as archive:
        arrays = dict(archive)
    found: dict[str, Matrix] = {}
    for key, codes in arrays.items():
        kind, _, name = key.partition("|")
        if kind == "codes":
            file, weights_at, scale_at, zero_at, scale, zero = (str(item) for item in arrays[f"where|{name}"])
            found[name] = Matrix(file, int(weights_at), int(scale_at), int(zero_at), codes, float(scale), int(zero))
    embedding = found.pop(EMBEDDING)
    floats = {key.removeprefix("float|"): value for key, value in arrays.items() if key.startswith("float|")}
    return Base(found, embedding, floats)


Tensor = tuple[str, int, int, tuple[int, ...]]
Node = tuple[str, list[str], list[str]]


def _contents(data: bytes) -> tuple[list[Tensor], list[Node]]:
    """Every tensor (name, first byte, kind, shape) and node (operator, inputs, outputs) of a file, branches too."""
    import handsfree  # noqa: F401 - keeps onnxruntime, which it comes before, from reporting its use

    # isort: split
    from onnxruntime.tools.ort_format_model.ort_flatbuffers_py.fbs.InferenceSession import InferenceSession

    tensors: list[Tensor] = []
    nodes: list[Node] = []
    graphs = [InferenceSession.GetRootAsInferenceSession(data, 0).Model().Graph()]
    while graphs:
        graph = graphs.pop()
        for index in range(graph.InitializersLength()):
            tensor = graph.Initializers(index)
            shape = tuple(tensor.Dims(axis) for axis in range(tensor.DimsLength()))
            # The raw data is the fifth field of a tensor; the vector's first byte is where the bytes lie in the file.
            field = tensor._tab.Offset(12)
            if field:
                tensors.append((tensor.Name().decode(), tensor._tab.Vector(field), tensor.DataType(), shape))
        for index in range(graph.NodesLength()):
            node = graph.Nodes(index)
            inputs = [node.Inputs(place).decode() for place in range(node.InputsLength())]
            outputs = [node.Outputs(place).decode() for place in range(node.OutputsLength())]
            nodes.append((node.OpType().decode(), inputs, outputs))
            attributes = [node.Attributes(place) for place in range(node.AttributesLength())]
            graphs += [attribute.G() for attribute in attributes if attribute.G() is not None]
    return tensors, nodes


def _matrix(data: bytes, file: str, codes: str, raw: dict[str, tuple[int, int, tuple[int, ...]]]) -> Matrix:
    at, kind, shape = raw[codes]
    if kind != 2:
        raise ValueError(f"{file}: {codes} is not of unsigned bytes")
    stem = codes.removesuffix("_quantized")
    scale_at, zero_at = raw[f"{stem}_scale"][0], raw[f"{stem}_zero_point"][0]
    values = np.frombuffer(data, np.uint8, int(np.prod(shape)), at).reshape(shape)
    scale = float(np.frombuffer(data, "<f4", 1, scale_at)[0])
    return Matrix(file, at, scale_at, zero_at, values, scale, data[zero_at])


def _floats(data: bytes, entry: tuple[int, int, tuple[int, ...]]) -> NDArray[np.float32]:
    at, _, shape = entry
    return np.frombuffer(data, "<f4", int(np.prod(shape)), at).reshape(shape).copy()
