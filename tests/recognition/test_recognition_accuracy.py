"""Real people, a small sample. Source of the bounds: a laboratory trial of this engine on larger samples of the same
recordings (.913 of 300 short words, .920 of 100 single digits), less three standard errors at the sizes used here.
"""

import csv
from pathlib import Path

import pytest
from recognition_helpers import phrases

from handsfree.errors import ModelError
from handsfree.model.graph import WordGraph
from handsfree.recognition.endpointing import Segment

np = pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")
soundfile = pytest.importorskip("soundfile", reason="soundfile is not installed: pip install 'handsfree[speech]'")
pytestmark = pytest.mark.sound

SHORT = ("yes", "no", "up", "down", "left", "right", "on", "off", "stop", "go")
DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


@pytest.fixture(scope="module")
def engine():
    from handsfree.recognition.choose import make_engine

    try:
        return make_engine("neural-base")
    except ModelError as error:
        pytest.skip(str(error))


def right(engine, folder: Path, part: str, words: tuple[str, ...], each: int) -> float:
    graph: WordGraph = phrases(*((word, word) for word in words))
    with (folder / "manifest.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["path"].startswith(part)]
    chosen = [row for word in words for row in [row for row in rows if row["spoken"] == word][:each]]
    assert len(chosen) == each * len(words)
    correct = 0
    for row in chosen:
        samples, _ = soundfile.read(folder / row["path"], dtype="int16")
        hypothesis = engine.recognise(Segment(samples.tobytes(), 0.0, 0.0, 1.0, 1.0, None), graph)
        correct += hypothesis.words == (row["spoken"],)
    return correct / len(chosen)


@pytest.mark.parametrize(("part", "words", "published"), [("words/", SHORT, 0.913), ("words30/", DIGITS, 0.92)])
def test_short_words_and_digits_of_many_people(
    engine, human_speech: Path, part: str, words: tuple[str, ...], published: float
) -> None:
    each = 5
    standard_error = (published * (1 - published) / (each * len(words))) ** 0.5
    assert right(engine, human_speech, part, words, each) >= published - 3 * standard_error
