"""Three digits as real people say them, with their pauses and their soft words, through the whole default recogniser.

Each reading is three one-second clips of one speaker of the Speech Commands data set (P. Warden, arXiv:1804.03209),
on none of which weights were trained: one after the other as they are, half a second and more between the words. What
is said is the data set's own label.
"""

from decimal import Decimal
from functools import partial
from pathlib import Path

import pytest

np = pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")
soundfile = pytest.importorskip("soundfile", reason="soundfile is not installed: pip install 'handsfree[speech]'")

from recognition_helpers import blocks_of  # noqa: E402

from handsfree.errors import ModelError  # noqa: E402
from handsfree.model.audio import SAMPLE_RATE_HZ  # noqa: E402
from handsfree.model.commands import GiveValues, NumberSlot, SlotValue, Wanted  # noqa: E402
from handsfree.model.readings import Exact  # noqa: E402
from handsfree.understanding.completeness import is_unfinished  # noqa: E402
from handsfree.understanding.interpreter import interpret  # noqa: E402
from handsfree.understanding.listening_graph import graph_for  # noqa: E402

FLOOR = 8 / 32768
"""Level of the faint noise around the reading, of full scale."""
LENGTH = Wanted(slots=(NumberSlot("length", ("length",), "mm", Decimal(0), Decimal(999)),))
PAUSED = ("one/02746d24_nohash_0", "five/02746d24_nohash_0", "two/02746d24_nohash_1")
"""0.2 s between the first two, 1 s before the third."""
PAUSED_TOO = ("five/063d48cf_nohash_0", "zero/063d48cf_nohash_0", "eight/063d48cf_nohash_1")
MISSED = ("three/229978fd_nohash_3", "two/229978fd_nohash_3", "two/229978fd_nohash_3")
"""The detector takes "two", loud and clear, for no speech at all."""


@pytest.fixture(scope="module")
def recognizer():
    from handsfree.recognition.choose import make_recognizer

    try:
        return make_recognizer("neural")
    except ModelError as error:
        pytest.skip(str(error))


@pytest.mark.parametrize(
    ("clips", "said"), [(PAUSED, "152"), (PAUSED_TOO, "508"), (MISSED, "322")], ids=["pauses", "pauses too", "missed"]
)
def test_a_reading_with_pauses_is_one_reading(
    recognizer, human_speech: Path, clips: tuple[str, ...], said: str
) -> None:
    paths = [human_speech / "commands" / "train" / f"{clip}.flac" for clip in clips]
    if not all(path.is_file() for path in paths):
        pytest.skip("these recordings are not there")
    words = [soundfile.read(path, dtype="float64")[0] for path in paths]
    sound = np.concatenate([np.zeros(round(0.6 * SAMPLE_RATE_HZ)), *words, np.zeros(2 * SAMPLE_RATE_HZ)])
    sound = sound + np.random.default_rng(7).normal(0, FLOOR, len(sound))
    pcm = np.clip(np.round(sound * 32768), -32768, 32767).astype("<i2").tobytes()
    recognizer.reset()
    recognizer.listen_for(graph_for(LENGTH), partial(is_unfinished, wanted=LENGTH))
    heard = [hypothesis for block in blocks_of(pcm) for hypothesis in recognizer.accept(block)]
    meant = [interpret(hypothesis, LENGTH) for hypothesis in [*heard, *recognizer.flush()]]
    assert meant == [GiveValues((SlotValue("length", Exact(Decimal(said), 0, None)),))]
