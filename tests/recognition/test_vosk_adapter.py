"""The vosk adapter against a scripted stand-in for the library, whose answers have the form of vosk's own JSON.

Source of that form: the documentation of `SetMaxAlternatives` in the vosk API (fields "alternatives", "text",
"confidence"). What real weights do is tested by the contract, where they are installed.
"""

import json
import math
import sys
from pathlib import Path
from types import ModuleType

import pytest
from recognition_helpers import phrases, tone

from handsfree.errors import ModelError
from handsfree.recognition.endpointing import Segment
from handsfree.recognition.vosk_engine import VoskEngine
from handsfree.understanding.acceptance import probability_right

GRAPH = phrases(("stop", "control:stop"), ("next step", "control:next_step"))
SEGMENT = Segment(tone(0.5), 0.0, 0.1, 0.4, 0.3, 20.0)
KNOWN = {"stop", "next", "step", "größe", "[unk]"}


@pytest.fixture
def scripted(monkeypatch: pytest.MonkeyPatch) -> dict[str, object]:
    """What the library answers, with a grammar and "free"; what grammar it was given lands in "grammar"."""
    script: dict[str, object] = {"alternatives": [], "free": [], "known": KNOWN}
    library = ModuleType("vosk")

    class Model:
        def __init__(self, folder: str) -> None:
            if not Path(folder).is_dir():
                raise Exception("Failed to create a model")

        def vosk_model_find_word(self, word: str) -> int:
            return 1 if word in script["known"] else -1  # type: ignore[operator]

    class KaldiRecognizer:
        def __init__(self, model: Model, rate: int, grammar: str | None = None) -> None:
            self.grammar = grammar
            script["grammar"] = grammar or script.get("grammar")

        def SetMaxAlternatives(self, count: int) -> None:  # noqa: N802 - vosk's name
            assert count > 1

        def AcceptWaveform(self, pcm: bytes) -> int:  # noqa: N802 - vosk's name
            return 0

        def FinalResult(self) -> str:  # noqa: N802 - vosk's name
            return json.dumps({"alternatives": script["free" if self.grammar is None else "alternatives"]})

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
    assert hypothesis.free_text is None
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
    scripted["free"] = [{"text": "warm and dry", "confidence": 200.0}]
    assert VoskEngine(tmp_path).write_down(SEGMENT.pcm) == "warm and dry"
    assert scripted["grammar"] is None


def test_a_word_without_rival_is_doubted_where_free_text_explains_the_sound_better(
    scripted: dict[str, object], tmp_path: Path
) -> None:
    scripted["alternatives"] = [{"text": "stop", "confidence": 120.0}]
    scripted["free"] = [{"text": "a longer story", "confidence": 154.0}]
    hypothesis = VoskEngine(tmp_path).recognise(SEGMENT, GRAPH)
    assert hypothesis.evidence is not None
    assert hypothesis.evidence.free_gap == pytest.approx(34.0)
    assert hypothesis.evidence.margin < math.inf
    assert hypothesis.free_text == "a longer story"
    assert probability_right(hypothesis) < 0.15
    scripted["free"] = [{"text": "stop", "confidence": 121.0}]
    heard = VoskEngine(tmp_path).recognise(SEGMENT, GRAPH)
    assert heard.evidence is not None
    assert heard.evidence.free_gap == pytest.approx(1.0)


def test_letters_of_other_languages_are_given_as_they_are(scripted: dict[str, object], tmp_path: Path) -> None:
    VoskEngine(tmp_path).recognise(SEGMENT, phrases(("größe", "x")))
    assert scripted["grammar"] == '["größe", "[unk]"]'


def test_a_model_that_cannot_reject_is_refused(scripted: dict[str, object], tmp_path: Path) -> None:
    scripted["known"] = KNOWN - {"[unk]"}
    with pytest.raises(ModelError, match=r"no \[unk\], so it would take any speech for a command"):
        VoskEngine(tmp_path)


def test_a_folder_without_a_model_is_one_clear_line(scripted: dict[str, object], tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="not a vosk model"):
        VoskEngine(tmp_path / "none")
