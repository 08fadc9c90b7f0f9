"""Recorded or rendered speech for the tests of recognition."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from handsfree.errors import HandsfreeError
from handsfree.model.audio import SAMPLE_RATE_HZ


@pytest.fixture(scope="session")
def spoken() -> Callable[[str], bytes]:
    """Renders a phrase with the bundled voice: half a second of faint noise before it, one second after."""
    np = pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")
    soxr = pytest.importorskip("soxr", reason="soxr is not installed: pip install 'handsfree[speech]'")
    from handsfree.voice.choose import choose_synthesizer

    try:
        voice = choose_synthesizer("neural")
    except HandsfreeError as error:
        pytest.skip(str(error))

    def render(text: str) -> bytes:
        speech = voice.render(text)
        samples = np.frombuffer(speech.pcm, "<i2").astype(np.float32)
        samples = soxr.resample(samples, speech.sample_rate_hz, SAMPLE_RATE_HZ)
        padded = np.concatenate([np.zeros(8000), samples, np.zeros(16000)])
        padded = padded + np.random.default_rng(7).normal(0, 8, len(padded))
        return bytes(np.clip(padded, -32768, 32767).astype("<i2").tobytes())

    return render


@pytest.fixture(scope="session")
def human_speech() -> Path:
    """The folder of recordings of real people, which is not part of this project."""
    folder = Path(os.environ.get("HANDSFREE_SPEECH", Path(__file__).parents[3] / "shared" / "speech"))
    if not (folder / "manifest.csv").is_file():
        pytest.skip("no recordings of real people (set HANDSFREE_SPEECH to a folder with manifest.csv)")
    return folder
