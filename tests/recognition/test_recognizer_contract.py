"""One contract for every recogniser and a stand-in: speech of the bundled voice goes in, hypotheses come out."""

import math
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from recognition_helpers import LoudnessDetector, PitchEngine, blocks_of, phrases, silence, tone

from handsfree.errors import ModelError, UsageError
from handsfree.model.audio import SAMPLE_RATE_HZ, AudioBlock
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.choose import ENGINES, begin_loading, make_recognizer
from handsfree.recognition.endpointing import Endpointer
from handsfree.recognition.port import Recognizer
from handsfree.recognition.utterance_recognizer import UtteranceRecognizer

COMMANDS = phrases(("next step", "control:next_step"), ("stop", "control:stop"), ("light off", "control:light_off"))
STOPS = phrases(("stop", "control:stop"), ("what can i say", "control:help"))
OTHERS = phrases(("say again", "control:say_again"), ("repeat that", "control:say_again"))


@pytest.fixture(
    scope="module",
    params=["stand-in", *(pytest.param(name, marks=pytest.mark.sound) for name in ENGINES)],
)
def heard(request: pytest.FixtureRequest) -> tuple[Recognizer, Callable[[str], bytes]]:
    """A recogniser and the sound of a phrase for it."""
    if request.param == "stand-in":
        recognizer = UtteranceRecognizer(PitchEngine(), Endpointer(detector=LoudnessDetector))
        return recognizer, lambda text: silence(0.5) + tone(0.08 * len(text)) + silence(1.0)
    spoken = request.getfixturevalue("spoken")
    folder = os.environ.get("HANDSFREE_VOSK_MODEL")
    try:
        if request.param == "vosk" and folder:
            from handsfree.recognition.vosk_engine import VoskEngine

            return UtteranceRecognizer(VoskEngine(Path(folder))), spoken
        return make_recognizer(request.param), spoken
    except ModelError as error:
        pytest.skip(str(error))


def listen(recognizer: Recognizer, pcm: bytes, start_s: float = 0.0) -> list[Hypothesis]:
    found = [hypothesis for block in blocks_of(pcm, start_s) for hypothesis in recognizer.accept(block)]
    return found + list(recognizer.flush())


def test_hears_a_command_with_its_meaning_times_and_evidence(heard) -> None:
    recognizer, speech = heard
    recognizer.listen_for(COMMANDS)
    pcm = speech("next step")
    (hypothesis,) = listen(recognizer, pcm, start_s=50.0)
    assert hypothesis.words == ("next", "step")
    assert hypothesis.tags == ("control:next_step",)
    assert 50.3 < hypothesis.spoken_from_s < hypothesis.spoken_to_s < 50.0 + len(pcm) / 2 / SAMPLE_RATE_HZ - 0.5
    assert hypothesis.engine
    assert hypothesis.clip
    evidence = hypothesis.evidence
    assert evidence is not None
    assert evidence.average_logprob <= 0
    assert evidence.margin >= 0
    assert math.isfinite(evidence.free_gap)
    assert 0.05 < evidence.speech_s < 1.5


def test_a_stop_word_is_heard_soon(heard) -> None:
    recognizer, speech = heard
    recognizer.listen_for(STOPS)
    pcm = speech("stop")
    for block in blocks_of(pcm):
        found = recognizer.accept(block)
        if found:
            assert found[0].tags == ("control:stop",)
            # Nobody has compared the light engine's scores of "stop" with those of other words: it waits for the end.
            soon_s = 0.8 if found[0].engine == "pocketsphinx" else 0.3
            assert block.end_s - found[0].spoken_to_s < soon_s
            return
    pytest.fail("it was not heard")


def test_hears_only_what_is_in_the_graph(heard) -> None:
    recognizer, speech = heard
    recognizer.listen_for(OTHERS)
    for hypothesis in listen(recognizer, speech("next step")):
        assert hypothesis.words in {("say", "again"), ("repeat", "that"), ("say",), ()}


def test_what_it_listens_for_may_change_and_change_back(heard) -> None:
    recognizer, speech = heard
    for graph, text in ((COMMANDS, "next step"), (OTHERS, "say again"), (COMMANDS, "next step")):
        recognizer.listen_for(graph)
        (hypothesis,) = listen(recognizer, speech(text))
        assert hypothesis.words
        assert graph.words.issuperset(hypothesis.words)


def test_silence_is_not_reported(heard) -> None:
    recognizer, _ = heard
    recognizer.listen_for(COMMANDS)
    assert listen(recognizer, silence(2.0)) == []


def test_the_end_of_the_stream_ends_the_utterance(heard) -> None:
    recognizer, speech = heard
    recognizer.listen_for(COMMANDS)
    pcm = speech("next step")
    cut = pcm[: len(pcm) - round(2.3 * SAMPLE_RATE_HZ)]  # the silence after it
    assert [hypothesis.words for block in blocks_of(cut) for hypothesis in recognizer.accept(block)] == []
    assert recognizer.speaking
    (hypothesis,) = recognizer.flush()
    assert hypothesis.words == ("next", "step")
    assert not recognizer.speaking


def test_reset_forgets_the_sound_and_keeps_what_is_listened_for(heard) -> None:
    recognizer, speech = heard
    recognizer.listen_for(COMMANDS)
    pcm = speech("next step")
    for block in blocks_of(pcm[: len(pcm) - round(2.3 * SAMPLE_RATE_HZ)]):
        recognizer.accept(block)
    recognizer.reset()
    assert recognizer.flush() == ()
    (hypothesis,) = listen(recognizer, speech("next step"))
    assert hypothesis.words == ("next", "step")


def test_dictation_gives_words_without_meaning(heard) -> None:
    recognizer, speech = heard
    recognizer.listen_for_dictation()
    found = listen(recognizer, speech("The skin over the thumb is warm and dry."))
    assert found
    assert all(hypothesis.tags == () and hypothesis.words for hypothesis in found)


def test_a_block_can_be_written_down_at_once(heard) -> None:
    recognizer, speech = heard
    assert recognizer.transcribe(AudioBlock(speech("The skin is warm and dry."), 0.0))


@pytest.mark.parametrize("make", [make_recognizer, begin_loading])
def test_an_unknown_engine_lists_the_known_ones(make) -> None:
    with pytest.raises(UsageError, match="known: neural, neural-base, neural-tuned, pocketsphinx, vosk"):
        make("telepathy")


def test_what_cannot_be_loaded_says_so_when_it_is_waited_for(monkeypatch) -> None:
    pytest.importorskip("onnxruntime")

    def load(engine: str, settings: object) -> Recognizer:
        raise ModelError("damaged weights")

    monkeypatch.setattr("handsfree.recognition.choose.locate", lambda model=None: None)
    monkeypatch.setattr("handsfree.recognition.choose.make_recognizer", load)
    loaded = begin_loading()
    with pytest.raises(ModelError, match="damaged weights"):
        loaded()


def test_weights_that_are_not_installed_are_missed_before_anything_is_loaded(monkeypatch, tmp_path) -> None:
    pytest.importorskip("onnxruntime")
    monkeypatch.setenv("HANDSFREE_MODELS", str(tmp_path))
    with pytest.raises(ModelError, match="install them with"):
        begin_loading()
