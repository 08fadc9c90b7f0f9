"""The training tools: weights read from the pinned files, pieces, and every stage once, small.

References: ONNX Runtime running the same files, and the pieces that it writes.
"""

import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import ModelError
from handsfree.recognition.beam_search import search
from handsfree.recognition.choose import THIRD_MODEL
from handsfree.recognition.models import locate
from handsfree.recognition.neural_network import Network
from handsfree.recognition.tokens import read_vocabulary
from handsfree.recognition.weight_merging import merge

TOOLS = Path(__file__).resolve().parents[2] / "scripts" / "train"
SENTENCES = ("next step", "alpha bravo nine", "seventeen point five centimeters")


@pytest.fixture
def folder() -> Path:
    try:
        return locate()
    except ModelError as error:
        pytest.skip(str(error))


@pytest.fixture
def tools(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(TOOLS))


def spoken() -> list[np.ndarray]:
    """Sentences at 16 kHz with silence around them."""
    from clips import Sentence, VoiceShare, rendered

    found = [Sentence("test", words, words) for words in SENTENCES]
    sounds = [said.sound for said in rendered(found, [VoiceShare("flite", "slt", 1.0)], 1, 1)]
    return [np.pad(sound, (4800, 3200)) for sound in sounds]


@pytest.mark.sound
def test_every_weight_is_read_and_kept(folder: Path, tools: None, tmp_path: Path) -> None:
    from base import load_base, read_base, save_base

    base = read_base(folder)
    # Encoder: 6 layers of 6 matrices; decoder: 6 of 10 (architecture of the Hugging Face class MoonshineModel).
    assert len(base.linear) == 6 * 6 + 6 * 10
    save_base(base, tmp_path / "base.npz")
    again = load_base(tmp_path / "base.npz").state()
    assert all(np.array_equal(value, again[name]) for name, value in base.state().items())


@pytest.mark.sound
@pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")
def test_pieces_are_those_that_the_network_writes(folder: Path, tools: None) -> None:
    from pieces import Pieces

    network, vocabulary = Network(folder), read_vocabulary(folder / "tokenizer.bin")
    pieces = Pieces(folder / "tokenizer.bin")
    for sound in spoken():
        written = search(network, network.encode(sound), None, len(sound) / 16000).free_tokens
        assert written
        assert pieces.of(vocabulary.text(written)) == written


@pytest.mark.sound
@pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")
def test_the_network_in_pytorch_is_the_same(folder: Path, tools: None) -> None:
    torch = pytest.importorskip("torch", reason="PyTorch is not installed (pip install handsfree[train])")
    pytest.importorskip("transformers", reason="transformers is not installed (pip install handsfree[train])")
    from base import read_base
    from network import FirstNetwork

    # Additions of nothing, on the steps of the base: the base itself.
    network, plain = Network(folder), FirstNetwork(read_base(folder), 1, 1.0).eval()
    for sound in spoken():
        ours = network.encode(sound)
        with torch.no_grad():
            theirs = plain.encode(torch.from_numpy(sound)[None], torch.tensor([float(len(sound))]))
            assert np.sum(ours * theirs.numpy()) / np.linalg.norm(ours) / theirs.norm() > 0.99
            written = search(network, ours, None, len(sound) / 16000).free_tokens
            likeliest = plain.scores(theirs, torch.tensor([[1, *written]]))[0].argmax(-1).tolist()
        assert likeliest == [*written, 2]


@pytest.mark.sound
@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
def test_one_command_makes_additions_that_can_be_put_together(folder: Path, tmp_path: Path) -> None:
    pytest.importorskip("torch", reason="PyTorch is not installed (pip install handsfree[train])")
    pytest.importorskip("transformers", reason="transformers is not installed (pip install handsfree[train])")
    work = tmp_path / "work"
    subprocess.run(
        [sys.executable, TOOLS / "run.py", TOOLS / "smoke.toml", "--work", work], check=True, capture_output=True
    )
    into = tmp_path / "into"
    into.mkdir()
    merge(work / "delta.npz", folder, into)
    names = {"encoder_model.ort", "decoder_model_merged.ort"}
    assert {path.name for path in into.iterdir()} == names
    for name in names:
        old, new = (folder / name).read_bytes(), (into / name).read_bytes()
        assert len(old) == len(new)
        assert old != new


@pytest.fixture
def third_folder() -> Path:
    try:
        return locate(THIRD_MODEL)
    except ModelError as error:
        pytest.skip(str(error))


@pytest.mark.sound
@pytest.mark.skipif(shutil.which("flite") is None, reason="flite is not installed")
def test_the_third_network_in_pytorch_is_the_same(third_folder: Path, tools: None, tmp_path: Path) -> None:
    torch = pytest.importorskip("torch", reason="PyTorch is not installed (pip install handsfree[train])")
    pytest.importorskip("ctranslate2", reason="ctranslate2 is not installed: pip install handsfree[speech]")
    from third_base import TABLE, save_third
    from third_network import Third

    from handsfree.recognition.general_network import Encoding, GeneralNetwork
    from handsfree.recognition.spectrogram import spectrogram

    save_third(third_folder, SENTENCES, tmp_path / "third.npz")
    shutil.copyfile(third_folder / TABLE, tmp_path / TABLE)
    family = Third(tmp_path)
    plain = family.build(1, 1.0).eval()
    network = GeneralNetwork(third_folder)
    for sound, words in zip(spoken(), SENTENCES, strict=True):
        columns = 2 * (len(sound) // 320 + 20)
        rows = family.pieces.of(words)
        with torch.no_grad():
            mel = plain.spectrogram(torch.from_numpy(sound)[None], columns)
            heard = plain.encoded(mel)
            asked = torch.tensor([[*family.pieces.begin, *rows]])
            scores = plain.scores(heard, asked)[0, 1:].log_softmax(-1).numpy()
        assert mel[0].numpy() == pytest.approx(spectrogram(sound, columns), abs=1e-3)
        # The product's encoder rounds to 8 bits.
        ours = network.encode(sound, columns).encoder
        assert np.sum(ours * heard[0].numpy()) / np.linalg.norm(ours) / np.linalg.norm(heard) > 0.99
        text = [int(family.kept[row]) for row in rows]
        (theirs,) = network.score(Encoding(heard[0].numpy(), mel[0].numpy()), [text])
        assert scores[np.arange(len(rows) + 1), [*rows, family.pieces.end]] == pytest.approx(theirs.own, abs=0.05)


@pytest.mark.sound
@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="espeak-ng is not installed")
def test_the_third_weights_are_trained_by_the_same_command(third_folder: Path, tmp_path: Path) -> None:
    pytest.importorskip("torch", reason="PyTorch is not installed (pip install handsfree[train])")
    work, into = tmp_path / "work", tmp_path / "into"
    subprocess.run(
        [sys.executable, TOOLS / "run.py", TOOLS / "third-smoke.toml", "--work", work, "--untrained", third_folder],
        check=True,
        capture_output=True,
    )
    into.mkdir()
    merge(work / "delta.npz", third_folder, into)
    old, new = (third_folder / "model.bin").read_bytes(), (into / "model.bin").read_bytes()
    assert [path.name for path in into.iterdir()] == ["model.bin"]
    assert len(old) == len(new)
    assert old != new
    # All but the linear layers is as before, the table of pieces among it.
    assert old[:39_000_000] == new[:39_000_000]
