"""Tuned weights put together from base and additions. Expected bytes are worked out here with whole fractions."""

import hashlib
import json
import shutil
import struct
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import ModelError
from handsfree.recognition.manifest import Base, Delta, Model, ModelFile, Wheel
from handsfree.recognition.models import ModelStore
from handsfree.recognition.weight_merging import FORM, merge

NAME = "weights.ort"
INPUTS, OUTPUTS, RANK = 3, 4, 2
WEIGHTS_AT, SCALE_AT, ZERO_AT = 8, 24, 30
ZERO_POINT, SCALE, STEP = 100, 0.5, 0.625
DOWN = np.array([[0.5, -1.0, 0.25], [1.0, 0.0, -0.5]], "<f2")
UP = np.array([[1.0, 0.5], [0.0, -2.0], [0.75, 0.25], [-1.0, 1.0]], "<f2")


def base_bytes() -> bytes:
    content = bytearray(range(200, 240))
    content[WEIGHTS_AT : WEIGHTS_AT + INPUTS * OUTPUTS] = bytes([100, 101, 99, 255, 0, 130, 90, 100, 110, 120, 7, 103])
    content[SCALE_AT : SCALE_AT + 4] = struct.pack("<f", SCALE)
    content[ZERO_AT] = ZERO_POINT
    return bytes(content)


def save_delta(path: Path, values: np.ndarray | None = None, **changes: object) -> Path:
    places = {"weights_at": WEIGHTS_AT, "scale_at": SCALE_AT, "zero_point_at": ZERO_AT, "step": STEP}
    layer = {"name": "a", "file": NAME, "inputs": INPUTS, "outputs": OUTPUTS, "rank": RANK, **places, **changes}
    header = json.dumps({"form": changes.pop("form", FORM), "layers": [layer]}).encode()
    whole = np.concatenate([DOWN.reshape(-1), UP.reshape(-1)]) if values is None else values
    np.savez(path, header=np.frombuffer(header, np.uint8), values=whole)
    return path


def expected() -> bytes:
    old, content = base_bytes(), bytearray(base_bytes())
    for row in range(INPUTS):
        for column in range(OUTPUTS):
            at = WEIGHTS_AT + row * OUTPUTS + column
            extra = sum(Fraction(float(UP[column, k])) * Fraction(float(DOWN[k, row])) for k in range(RANK))
            code = round((Fraction(SCALE) * (old[at] - ZERO_POINT) + extra) / Fraction(STEP)) + ZERO_POINT
            content[at] = min(255, max(0, code))
    content[SCALE_AT : SCALE_AT + 4] = struct.pack("<f", STEP)
    return bytes(content)


def test_adds_rounds_and_touches_nothing_else(tmp_path: Path) -> None:
    base, into = tmp_path / "base", tmp_path / "into"
    base.mkdir()
    into.mkdir()
    (base / NAME).write_bytes(base_bytes())
    merge(save_delta(tmp_path / "delta.npz"), base, into)
    assert (into / NAME).read_bytes() == expected()
    assert (base / NAME).read_bytes() == base_bytes()


def test_a_file_that_does_not_fit_is_one_clear_line(tmp_path: Path) -> None:
    (tmp_path / NAME).write_bytes(base_bytes())
    with pytest.raises(ModelError, match=r"beyond\.npz: does not fit the weights"):
        merge(save_delta(tmp_path / "beyond.npz", weights_at=1000), tmp_path, tmp_path)
    with pytest.raises(ModelError, match=r"short\.npz: cut short"):
        merge(save_delta(tmp_path / "short.npz", DOWN.reshape(-1)), tmp_path, tmp_path)
    (tmp_path / "noise.npz").write_bytes(b"no such thing")
    with pytest.raises(ModelError, match=r"noise\.npz: not a file of additions"):
        merge(tmp_path / "noise.npz", tmp_path, tmp_path)


def listed(content: bytes) -> ModelFile:
    return ModelFile(NAME, len(content), hashlib.sha256(content).hexdigest(), NAME)


@pytest.fixture
def store(tmp_path: Path) -> ModelStore:
    delta = save_delta(tmp_path / "delta.npz")
    digest = hashlib.sha256(delta.read_bytes()).hexdigest()
    base = Model("toy", "neural", "en-US", "MIT", "", Wheel("toy==1", "any"), (listed(base_bytes()),), default=True)
    added = Delta(delta.name, delta.stat().st_size, digest)
    tuned = Model("toy-tuned", "neural", "en-US", "MIT", "", Base("toy"), (listed(expected()),), False, added)
    copy = tmp_path / "copy"
    copy.mkdir()
    (copy / NAME).write_bytes(base_bytes())
    return ModelStore((base, tuned), tmp_path / "models", lambda _, into: Path(shutil.copytree(copy, into / "copy")),
                      tmp_path)  # fmt: skip


def test_installing_the_default_puts_the_tuned_weights_in_place_too(store: ModelStore) -> None:
    assert store.install().name == "toy"
    assert (store.verify("toy-tuned") / NAME).read_bytes() == expected()


def test_installing_the_tuned_weights_brings_their_base(store: ModelStore) -> None:
    assert store.install("toy-tuned").name == "toy-tuned"
    assert store.verify("toy")


def test_weights_of_another_version_are_not_listened_with(store: ModelStore, tmp_path: Path) -> None:
    store.install("toy-tuned")
    base, tuned = store.models
    other = ModelFile(NAME, len(expected()), "0" * 64, NAME)
    later = ModelStore((base, replace(tuned, files=(other,))), store.folder, shipped=tmp_path)
    assert not later.is_installed("toy-tuned")
    with pytest.raises(ModelError, match=r"another version .* install again with: handsfree models install toy-tuned"):
        later.locate("toy-tuned")
    assert later.locate("toy") == store.locate("toy")


def test_altered_additions_leave_nothing_behind(store: ModelStore, tmp_path: Path) -> None:
    path = tmp_path / "delta.npz"
    path.write_bytes(path.read_bytes() + b"x")
    with pytest.raises(ModelError, match=r"delta\.npz: SHA-256"):
        store.install("toy-tuned")
    assert [folder.name for folder in store.folder.iterdir()] == ["toy"]


def product(path: Path) -> np.ndarray:
    """`up @ down` of the one layer of a file."""
    with np.load(path) as archive:
        layer = json.loads(archive["header"].tobytes())["layers"][0]
        values = archive["values"].astype("f8")
    down = values[: layer["rank"] * INPUTS].reshape(-1, INPUTS)
    return values[down.size :].reshape(OUTPUTS, -1) @ down


def test_an_average_is_the_weighted_sum_of_the_products(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(Path(__file__).resolve().parents[2] / "scripts" / "train"))
    from average import average

    one = save_delta(tmp_path / "one.npz")
    two = save_delta(tmp_path / "two.npz", np.concatenate([DOWN[::-1].reshape(-1), UP.reshape(-1)]))
    lost = average([(0.25, one), (0.75, two)], 3, tmp_path / "whole.npz")
    assert lost < 1e-12
    # 16-bit floats keep eleven bits.
    expected_sum = 0.25 * UP.astype("f8") @ DOWN + 0.75 * UP.astype("f8") @ DOWN[::-1]
    np.testing.assert_allclose(product(tmp_path / "whole.npz"), expected_sum, atol=0.005)
    # Cut to rank 1 what is left is nearest in the sum of squares (Eckart and Young, Psychometrika 1 (1936) 211).
    lost = average([(0.25, one), (0.75, two)], 1, tmp_path / "cut.npz")
    sizes = np.linalg.svd(expected_sum, compute_uv=False)
    assert lost == pytest.approx(sum(sizes[1:] ** 2) / sum(sizes**2), rel=1e-6)
    assert np.sum((product(tmp_path / "cut.npz") - expected_sum) ** 2) == pytest.approx(sum(sizes[1:] ** 2), rel=0.05)


FLOATS = np.array([[1.0, -0.5, 0.25], [2.0, 0.0, -3.0], [0.125, 1.5, 4.0], [-1.0, 1e-3, 0.1]], "<f2")


def float_bytes() -> bytes:
    return b"head" + FLOATS.tobytes() + b"tail"


def expected_floats() -> bytes:
    whole = [
        [Fraction(float(FLOATS[row, column])) + sum(
            Fraction(float(UP[row, k])) * Fraction(float(DOWN[k, column])) for k in range(RANK)
        ) for column in range(INPUTS)]
        for row in range(OUTPUTS)
    ]  # fmt: skip
    # Every sum here has so few digits that its 64-bit float is exact, which is rounded once to 16 bits.
    return b"head" + np.array([[float(value) for value in row] for row in whole]).astype("<f2").tobytes() + b"tail"


def float_delta(path: Path) -> Path:
    layer = {"name": "a", "file": NAME, "inputs": INPUTS, "outputs": OUTPUTS, "rank": RANK, "weights_at": 4}
    header = json.dumps({"form": FORM, "layers": [layer]}).encode()
    np.savez(path, header=np.frombuffer(header, np.uint8), values=np.concatenate([DOWN.reshape(-1), UP.reshape(-1)]))
    return path


@pytest.fixture
def floats(tmp_path: Path) -> ModelStore:
    """A model whose files come out of a package of its own, with additions kept here."""
    delta = float_delta(tmp_path / "floats.npz")
    added = Delta(delta.name, delta.stat().st_size, hashlib.sha256(delta.read_bytes()).hexdigest())
    model = Model("toy-floats", "neural", "en", "MIT", "", Wheel("toy==1", "any"), (listed(expected_floats()),), False,
                  added)  # fmt: skip
    copy = tmp_path / "copy"
    copy.mkdir()
    (copy / NAME).write_bytes(float_bytes())
    return ModelStore((model,), tmp_path / "models", lambda _, into: Path(shutil.copytree(copy, into / "copy")),
                      tmp_path)  # fmt: skip


def test_what_a_package_holds_is_put_together_with_its_additions_and_not_kept_beside(floats: ModelStore) -> None:
    assert (floats.install("toy-floats") / NAME).read_bytes() == expected_floats()
    assert floats.verify("toy-floats")
    assert [path.name for path in floats.folder.iterdir()] == ["toy-floats"]
    assert floats.find("toy-floats").origin == "Python package toy==1 with the additions in floats.npz"


def test_a_package_already_on_this_machine_gets_its_additions_too(floats: ModelStore, tmp_path: Path) -> None:
    (tmp_path / "brought").mkdir()
    (tmp_path / "brought" / NAME).write_bytes(float_bytes())
    assert (floats.install("toy-floats", tmp_path / "brought") / NAME).read_bytes() == expected_floats()


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (lambda folder: (folder / "floats.npz").write_bytes(b"x"), r"floats\.npz: SHA-256"),
        (lambda folder: (folder / "floats.npz").unlink(), r"floats\.npz: no such file"),
        (lambda folder: (folder / "copy" / NAME).write_bytes(float_bytes()[:-1] + b"?"), r"weights\.ort: SHA-256"),
        (lambda folder: (folder / "copy" / NAME).write_bytes(b"half"), r"floats\.npz: does not fit the weights"),
        (lambda folder: (folder / "copy" / NAME).unlink(), r"holds no weights\.ort"),
    ],
)
def test_what_is_altered_or_missing_is_refused_in_one_line(floats: ModelStore, tmp_path: Path, spoil, message) -> None:
    spoil(tmp_path)
    with pytest.raises(ModelError, match=message) as told:
        floats.install("toy-floats")
    assert "\n" not in str(told.value)
    assert not floats.is_installed("toy-floats")
