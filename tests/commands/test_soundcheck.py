"""The sound check: figures against sound made here, verdicts by rules of our own, a whole check with the bundled voice.

Source of the levels: a sine of amplitude a has a level of 20 log10(a / sqrt 2) dB of full scale (mathematics).
"""

import json
import math
from array import array
from dataclasses import replace

import pytest

from handsfree.application.sound_check import (
    PHRASES,
    QUIET_S,
    READINGS,
    SENTENCES,
    WANTED,
    CheckVerdict,
    Result,
    aligned,
    check_person,
    judge,
    verdict_of,
)
from handsfree.application.sound_levels import Levels, Measured, advice
from handsfree.cli import main
from handsfree.errors import HandsfreeError
from handsfree.model.audio import BLOCK_SAMPLES, SAMPLE_RATE_HZ, AudioBlock, Speech
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.understanding.graphs import match
from handsfree.understanding.listening_graph import graph_for

SURE = Evidence(-0.1, 0.0, 10.0, 0.9, 25.0)
DOUBTFUL = Evidence(-0.7, 1.0, 1.0, 0.9, 25.0)


def said(text, evidence=SURE):
    found = match(graph_for(WANTED), text.split())
    assert found is not None, text
    return Hypothesis(tuple(text.split()), found.tags, 0.0, 1.0, "neural", evidence)


def blocks(amplitude, seconds, start_s):
    count = round(seconds * SAMPLE_RATE_HZ / BLOCK_SAMPLES)
    for number in range(count):
        first = number * BLOCK_SAMPLES
        samples = (round(32767 * amplitude * math.sin(0.3 * (first + n))) for n in range(BLOCK_SAMPLES))
        yield AudioBlock(array("h", samples).tobytes(), start_s + first / SAMPLE_RATE_HZ)


def measured(loud, soft):
    levels = Levels()
    sound = [*blocks(soft, 3, 0.0), *blocks(loud, 1, 3.0), *blocks(soft, 2, 4.0)]
    assert list(levels.passing(iter(sound))) == sound
    levels.spoken(3.0, 4.0)
    return levels.measured()


def test_level_floor_and_their_difference_are_those_of_sines():
    found = measured(0.1, 0.001)
    assert found.speech_dbfs == pytest.approx(20 * math.log10(0.1 / math.sqrt(2)), abs=0.2)
    assert found.floor_dbfs == pytest.approx(20 * math.log10(0.001 / math.sqrt(2)), abs=0.3)
    assert found.signal_to_noise_db == pytest.approx(40.0, abs=0.4)
    assert found.clipped_share == 0.0
    assert advice(found, understood=True) == ()


def test_a_sine_at_full_scale_is_clipped():
    # |sin| >= 32700/32767 for 4.07 % of a period.
    assert measured(1.0, 0.001).clipped_share == pytest.approx(0.0407, abs=0.005)


@pytest.mark.parametrize(
    ("sound", "words"),
    [
        (Measured(None, -60.0, None, 0.0), "Nothing was heard"),
        (Measured(-20.0, -60.0, 40.0, 0.02), "cut off"),
        (Measured(-25.0, -33.0, 8.0, 0.0), "too loud"),
        (Measured(-25.0, -40.0, 15.0, 0.0), "closer microphone"),
        (Measured(-50.0, -75.0, 25.0, 0.0), "soft"),
        (Measured(-8.0, -50.0, 42.0, 0.0), "very loud"),
    ],
)
def test_what_is_amiss_is_said_first(sound, words):
    assert words in advice(sound, understood=True)[0]


def test_sentences_are_judged_as_the_tool_would_act():
    assert judge("next step", said("next step")).result is Result.RIGHT
    assert judge("next step", said("say again")).result is Result.WRONG
    assert judge("next step", None).result is Result.MISSED
    reading = judge("zero one two", said("zero one three"))
    assert (reading.result, reading.digits_right) == (Result.WRONG, 2)
    asked = judge("zero one two", said("zero one two", DOUBTFUL))
    assert (asked.result, asked.digits_right) == (Result.ASKED, 3)


def test_a_sentence_that_was_missed_does_not_shift_the_others():
    heard = aligned([said(text) for text in SENTENCES if text != "affirmative"])
    assert [one.sentence for one in heard] == list(SENTENCES)
    assert [one.sentence for one in heard if one.result is not Result.RIGHT] == ["affirmative"]


def test_something_else_said_between_does_not_count():
    texts = [*SENTENCES[:3], "where are we", *SENTENCES[3:]]
    assert {one.result for one in aligned([said(text) for text in texts])} == {Result.RIGHT}


@pytest.mark.parametrize(
    ("missed", "verdict"),
    [
        ((), CheckVerdict.WELL),
        (PHRASES[:1], CheckVerdict.WELL),
        (PHRASES[:2], CheckVerdict.WITH_REPEATS),
        (READINGS[:1], CheckVerdict.WITH_REPEATS),
        (PHRASES[:3], CheckVerdict.NOT_RELIABLY),
        (READINGS[:2], CheckVerdict.NOT_RELIABLY),
    ],
)
def test_the_verdict_follows_what_was_understood(missed, verdict):
    assert verdict_of(judge(text, None if text in missed else said(text)) for text in SENTENCES)[0] is verdict


def test_a_wrong_reading_is_never_well():
    heard = [judge(text, said(text)) for text in SENTENCES[:-1]]
    assert verdict_of([*heard, judge("eight nine", said("eight five"))])[0] is not CheckVerdict.WELL


class Told:
    """A recogniser that is told by the prompts what will be said; each utterance ends a second after it was asked."""

    speaking = False

    def __init__(self, deaf_to=()):
        self.lines = []
        self.deaf_to = deaf_to
        self.asked_s = None

    def listen_for(self, graph):
        assert graph.key == graph_for(WANTED).key

    def reset(self):
        self.asked_s = None

    def tell(self, line):
        self.lines.append(line)

    def accept(self, block):
        self.asked_s = block.start_s if self.asked_s is None else self.asked_s
        sentence = self.lines[-1].removeprefix("Say: ")
        if block.end_s - self.asked_s < 1.0 or sentence in self.deaf_to:
            return ()
        return (replace(said(sentence), spoken_from_s=self.asked_s, spoken_to_s=block.end_s),)


def test_a_person_is_told_what_to_say_and_what_became_of_it():
    recognizer = Told(deaf_to=("negative",))
    found = check_person(blocks(0.1, 60, 0.0), recognizer, recognizer.tell)
    assert recognizer.lines[0] == f"Be silent for {QUIET_S:.0f} seconds."
    assert recognizer.lines[1::2] == [f"Say: {sentence}" for sentence in SENTENCES]
    assert recognizer.lines[2::2] == [f"     {'missed' if one == 'negative' else 'right'}" for one in SENTENCES]
    assert (found.verdict, found.phrases_right, found.digits_right) == (CheckVerdict.WELL, 5, 10)
    assert found.lines[0] == "understood: well (5 of 6 phrases, 10 of 10 digits)"
    assert "  negative: missed, not heard" in found.lines
    assert found.data["sentences"][3]["result"] == "missed"


def test_a_recording_that_is_not_there_is_one_line_and_exits_6(capsys, tmp_path):
    pytest.importorskip("onnxruntime", reason="onnxruntime is not installed: pip install 'handsfree[speech]'")
    with pytest.raises(SystemExit) as left:
        main(["soundcheck", "--listen", str(tmp_path / "none.wav")])
    captured = capsys.readouterr()
    if left.value.code == 5:
        pytest.skip("the recogniser weights are not installed: handsfree models install")
    assert left.value.code == 6
    assert captured.err.count("\n") == 1


@pytest.mark.sound
def test_a_clear_voice_in_a_quiet_room_is_understood_and_silence_is_not(capsys, tmp_path):
    np = pytest.importorskip("numpy", reason="numpy is not installed: pip install 'handsfree[speech]'")
    from handsfree.audio.resample import to_rate
    from handsfree.audio.wav import write_wav
    from handsfree.recognition.choose import make_engine
    from handsfree.voice.choose import choose_synthesizer

    try:
        make_engine("neural")
        voice = choose_synthesizer("neural")
    except HandsfreeError as error:
        pytest.skip(str(error))
    parts = [np.zeros(3 * SAMPLE_RATE_HZ)]
    for sentence in SENTENCES:
        speech = voice.render(", ".join(sentence.split()) + "." if sentence in READINGS else sentence)
        samples = to_rate(np.frombuffer(speech.pcm, "<i2"), speech.sample_rate_hz, SAMPLE_RATE_HZ)
        parts += [samples.astype(np.float64), np.zeros(SAMPLE_RATE_HZ)]
    sound = np.concatenate(parts) + np.random.default_rng(1).normal(0, 8, sum(map(len, parts)))
    path = tmp_path / "check.wav"
    write_wav(path, Speech(np.clip(sound, -32768, 32767).astype("<i2").tobytes(), SAMPLE_RATE_HZ))
    main(["soundcheck", "--listen", str(path), "--json"])
    found = json.loads(capsys.readouterr().out)
    assert found["understood"] in ("well", "with repeats")
    assert found["sound"]["signal_to_noise_db"] > 25
    assert len(found["sentences"]) == len(SENTENCES)

    write_wav(path, Speech(bytes(2 * 4 * SAMPLE_RATE_HZ), SAMPLE_RATE_HZ))
    with pytest.raises(SystemExit) as left:
        main(["soundcheck", "--listen", str(path)])
    assert left.value.code == 6
    assert "not reliably" in capsys.readouterr().out
