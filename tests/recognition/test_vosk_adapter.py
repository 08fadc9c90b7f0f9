"""The vosk adapter against a scripted stand-in for the library, whose answers have the form of vosk's own JSON.

Source of that form: the documentation of `SetMaxAlternatives` in the vosk API (fields "alternatives", "text",
"confidence"). What real weights do is tested by the contract, where they are installed.
"""

import json
import sys
from pathlib import Path
from types import ModuleType

import pytest
from recognition_helpers import phrases, tone

from handsfree.errors import ModelError
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.vosk_engine import VoskEngine

GRAPH = phrases(("stop", "control:stop"), ("next step", "control:next_step"))
SEGMENT = Segment(tone(0.5), 0.0, 0.1, 0.4, 0.3, 20.0)
KNOWN = {"stop", "next", "step"}


@pytest.fixture
def scripted(monkeypatch: pytest.MonkeyPatch) -> dict[str, object]:
    """What the library answers; what grammar it was given lands in "grammar"."""
    script: dict[str, object] = {"alternatives": []}
    library = ModuleType("vosk")

    class Model:
        def __init__(self, folder: str) -> None:
            if not Path(folder).is_dir():
                raise Exception("Failed to create a model")

        def vosk_model_find_word(self, word: str) -> int:
            return 1 if word in KNOWN else -1

    class KaldiRecognizer:
        def __init__(self, model: Model, rate: int, grammar: str | None = None) -> None:
            script["grammar"] = grammar

        def SetMaxAlternatives(self, count: int) -> None:  # noqa: N802 - vosk's name
            assert count > 1

        def AcceptWaveform(self, pcm: bytes) -> int:  # noqa: N802 - vosk's name
            return 0

        def FinalResult(self) -> str:  # noqa: N802 - vosk's name
            return json.dumps({"alternatives": script["alternatives"]})

    library.Model = Model  # type: ignore[attr-defined]
    library.KaldiRecognizer = KaldiRecognizer  # type: ignore[attr-defined]
    library.SetLogLevel = lambda level: None  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "vosk", library)
    return script


def test_the_likeliest_alternative_inside_the_graph_is_taken(scripted: dict[str, object], tmp_path: Path) -> None:
    scripted["alternatives"] = [
        {"text": "[unk] stop", "confidence": 105.0},
        {"text": "next step", "confidence": 103.0},
        {"text": "step next", "confidence": 102.0},
        {"text": "stop", "confidence": 98.0},
    ]
    hypothesis = VoskEngine(tmp_path).recognise(SEGMENT, GRAPH)
    assert hypothesis.words == ("next", "step")
    assert hypothesis.tags == ("control:next_step",)
    assert hypothesis.runner_up == ("stop",)
    assert hypothesis.evidence is not None
    assert hypothesis.evidence.free_gap == pytest.approx(2.0)
    assert hypothesis.evidence.margin == pytest.approx(5.0)
    assert json.loads(str(scripted["grammar"])) == ["next", "step", "stop", "[unk]"]


@pytest.mark.parametrize(
    "alternatives", [[], [{"text": "", "confidence": 0.0}], [{"text": "[unk]", "confidence": 9.0}]]
)
def test_nothing_inside_the_graph_is_nothing_heard(
    scripted: dict[str, object], tmp_path: Path, alternatives: list[object]
) -> None:
    scripted["alternatives"] = alternatives
    assert VoskEngine(tmp_path).recognise(SEGMENT, GRAPH).words == ()


def test_words_that_the_model_lacks_are_named_before_listening(scripted: dict[str, object], tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="does not know: juliett, xray"):
        VoskEngine(tmp_path).prepare(phrases(("xray", "x"), ("stop", "y"), ("juliett", "z")))


def test_dictation_uses_no_grammar(scripted: dict[str, object], tmp_path: Path) -> None:
    scripted["alternatives"] = [{"text": "warm and dry", "confidence": 200.0}]
    assert VoskEngine(tmp_path).write_down(SEGMENT.pcm) == "warm and dry"
    assert scripted["grammar"] is None


def test_a_folder_without_a_model_is_one_clear_line(scripted: dict[str, object], tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="not a vosk model"):
        VoskEngine(tmp_path / "none")
