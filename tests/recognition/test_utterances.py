"""When an utterance is reported, and what counts as a command while text is dictated. Rules of our own design."""

from dataclasses import replace

import pytest
from recognition_helpers import (
    HalfDeaf,
    LoudnessDetector,
    PitchEngine,
    blocks_of,
    missed,
    murmur,
    phrases,
    silence,
    tone,
)

from handsfree.model.audio import SAMPLE_RATE_HZ
from handsfree.model.graph import Arc, WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.endpoint_settings import EndpointSettings
from handsfree.recognition.endpointing import Endpointer, Segment
from handsfree.recognition.engine import nothing_heard
from handsfree.recognition.utterance_recognizer import COMMAND_GAP_NATS, UtteranceRecognizer

COMPLETE = phrases(("next", "control:next_step"))
STOP = phrases(("stop", "control:stop"))
GOES_ON = WordGraph(0, frozenset({1, 2}), (Arc(0, 1, "one", ("control:stop",)), Arc(1, 2, "two", ("control:stop",))), 3)
OPEN = WordGraph(0, frozenset({1, 2}), (Arc(0, 1, "one", ("digit:1",)), Arc(1, 2, "two", ("digit:2",))), 3)
SETTINGS = EndpointSettings(stop_silence_s=0.12, sure_silence_s=0.2, early_silence_s=0.35, end_silence_s=0.7)
SOUND = silence(0.5) + tone(0.4) + silence(1.5)
SPEECH_ENDS_S = 0.9


class CountingEngine(PitchEngine):
    """Counts how often it is asked and may be unsure; keeps when the sound of each time ended, in seconds."""

    def __init__(self, **evidence: float) -> None:
        self.asked = 0
        self.ends_s: list[float] = []
        self._evidence = evidence

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        self.asked += 1
        self.ends_s.append(segment.start_s + len(segment.pcm) / 2 / SAMPLE_RATE_HZ)
        hypothesis = super().recognise(segment, graph)
        assert isinstance(hypothesis.evidence, Evidence)
        return replace(hypothesis, evidence=replace(hypothesis.evidence, **self._evidence))


def reported_at_s(engine: CountingEngine, graph: WordGraph) -> float:
    recognizer = UtteranceRecognizer(engine, Endpointer(SETTINGS, LoudnessDetector))
    recognizer.listen_for(graph)
    for block in blocks_of(SOUND):
        if recognizer.accept(block):
            return block.end_s - SPEECH_ENDS_S
    pytest.fail("nothing was reported")


def test_a_complete_command_beyond_doubt_is_reported_after_the_shortest_silence() -> None:
    assert reported_at_s(CountingEngine(), COMPLETE) == pytest.approx(0.2, abs=0.07)


def test_a_complete_command_that_is_likely_is_reported_after_a_short_silence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("handsfree.recognition.utterance_recognizer.probability_right", lambda heard: 0.85)
    assert reported_at_s(CountingEngine(), COMPLETE) == pytest.approx(0.35, abs=0.07)


def test_a_complete_reading_that_may_be_half_of_another_is_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("handsfree.recognition.utterance_recognizer.probability_right", lambda heard: 0.6)
    assert reported_at_s(CountingEngine(), COMPLETE) == pytest.approx(0.7, abs=0.07)


def test_a_unit_that_might_still_be_said_is_waited_for_a_little() -> None:
    arcs = (Arc(0, 1, "one", ("digit:1",)), Arc(1, 2, "inch", ("unit:[in_i]",)))
    assert reported_at_s(CountingEngine(), WordGraph(0, frozenset({1, 2}), arcs, 3)) == pytest.approx(0.35, abs=0.07)


def test_a_reading_that_may_go_on_is_waited_for() -> None:
    engine = CountingEngine()
    assert reported_at_s(engine, OPEN) == pytest.approx(1.3, abs=0.07)
    assert engine.asked == 2, "searched ahead, then with all of the silence; no more, the sound did not change"


def test_what_is_beyond_doubt_is_searched_ahead_and_not_again() -> None:
    engine = CountingEngine()
    assert reported_at_s(engine, COMPLETE) == pytest.approx(0.2, abs=0.07)
    assert engine.asked == 1
    # The sound that it was searched in ends before the silence that it waited for is over.
    assert engine.ends_s == [pytest.approx(SPEECH_ENDS_S + 0.12, abs=0.05)]


@pytest.mark.parametrize(
    "doubt", [{"margin": 0.0, "average_logprob": -2.0}, {"free_gap": 25.0}, {"average_logprob": -3.0, "free_gap": 9.0}]
)
def test_a_doubtful_command_is_waited_for(doubt: dict[str, float]) -> None:
    assert reported_at_s(CountingEngine(**doubt), COMPLETE) == pytest.approx(0.7, abs=0.07)


def test_a_stop_word_does_not_wait_for_what_may_follow_it() -> None:
    assert reported_at_s(CountingEngine(), GOES_ON) == pytest.approx(0.2, abs=0.07)


def test_an_answer_that_may_be_repeated_is_waited_for() -> None:
    # The loop goes back through a silent arc, so the state that ends "stop" is not the one that goes on.
    repeated = WordGraph(0, frozenset({1}), (Arc(0, 1, "soft"), Arc(1, 2, None), Arc(2, 0, None)), 3)
    looped = WordGraph(0, frozenset({1}), (Arc(0, 1, "soft"), Arc(0, 2, "soft"), Arc(2, 1, "again")), 3)
    for graph in (repeated, looped):
        assert reported_at_s(CountingEngine(), graph) == pytest.approx(0.7, abs=0.07)


def test_speech_after_the_short_silence_belongs_to_the_same_reading() -> None:
    engine = CountingEngine()
    recognizer = UtteranceRecognizer(engine, Endpointer(SETTINGS, LoudnessDetector))
    recognizer.listen_for(OPEN)
    sound = silence(0.5) + tone(0.4) + silence(0.5) + tone(0.4) + silence(1.5)
    (hypothesis,) = [found for block in blocks_of(sound) for found in recognizer.accept(block)]
    assert hypothesis.spoken_to_s - hypothesis.spoken_from_s == pytest.approx(1.3, abs=0.07)


class Spelling(CountingEngine):
    """Hears one digit for each tone."""

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        heard = super().recognise(segment, graph)
        count = max(1, round(segment.speech_s / 0.4))
        words = ("one", "two", "three")[:count]
        return replace(heard, words=words, tags=tuple(f"digit:{number + 1}" for number in range(count)))


THREE = WordGraph(
    0,
    frozenset({1, 2, 3}),
    (Arc(0, 1, "one", ("digit:1",)), Arc(1, 2, "two", ("digit:2",)), Arc(2, 3, "three", ("digit:3",))),
    4,
)


@pytest.mark.parametrize(
    ("pauses_s", "heard"),
    [
        ((0.9, 0.9), [("one", "two", "three")]),
        ((0.4, 0.9), [("one", "two", "three")]),
        # Two digits in one breath are reported; what comes soon after is heard together with them.
        ((0.1, 0.9), [("one", "two"), ("one", "two", "three")]),
        ((0.1, 1.8), [("one", "two"), ("one", "two", "three")]),
        ((0.1, 2.1), [("one", "two"), ("one",)]),
        ((2.2, 0.1), [("one",), ("one", "two")]),
    ],
)
def test_digits_said_one_by_one_are_one_number(pauses_s: tuple[float, float], heard: list[tuple[str, ...]]) -> None:
    recognizer = UtteranceRecognizer(Spelling(), Endpointer(SETTINGS, LoudnessDetector))
    recognizer.listen_for(THREE)
    first, second = pauses_s
    sound = silence(0.5) + tone(0.4) + silence(first) + tone(0.4) + silence(second) + tone(0.4) + silence(2.0)
    found = [hypothesis.words for block in blocks_of(sound) for hypothesis in recognizer.accept(block)]
    assert found == heard


SENTENCE = phrases(("next", "control:next_step"))


class Continuing(Spelling):
    """Hears digits where they are listened for; where they are not, the sentence, or nothing likely."""

    def __init__(self, *, sure: bool) -> None:
        super().__init__()
        self.sure = sure

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        if graph != SENTENCE:
            return super().recognise(segment, graph)
        heard = PitchEngine.recognise(self, segment, graph)
        assert heard.evidence is not None
        return heard if self.sure else replace(heard, evidence=replace(heard.evidence, free_gap=30.0))


def heard_after_a_reading(
    engine: Continuing, pause_s: float, more: bytes, is_unfinished: bool = False
) -> list[tuple[tuple[str, ...], bool, float]]:
    """What is reported, and whether and since when as one reading: two digits, a pause in which another thing is asked
    as soon as they are reported, and more.
    """
    recognizer = UtteranceRecognizer(engine, Endpointer(SETTINGS, LoudnessDetector))
    recognizer.listen_for(THREE, lambda heard: is_unfinished)
    found = []
    for block in blocks_of(silence(0.5) + tone(0.8) + silence(pause_s) + more + silence(2.0)):
        for hypothesis in recognizer.accept(block):
            recognizer.listen_for(SENTENCE)
            found.append((hypothesis.words, hypothesis.goes_on, round(hypothesis.spoken_from_s, 1)))
    return found


def test_digits_after_the_read_back_has_begun_are_heard_together_with_those_before() -> None:
    assert heard_after_a_reading(Continuing(sure=False), 1.0, tone(0.4)) == [
        (("one", "two"), False, 0.5),
        (("one", "two", "three"), True, 0.5),
    ]


def test_an_answer_to_the_read_back_is_no_more_of_the_reading() -> None:
    assert heard_after_a_reading(Continuing(sure=True), 1.0, tone(0.4)) == [
        (("one", "two"), False, 0.5),
        (("next",), False, 2.3),
    ]


def test_what_is_said_long_after_a_reading_is_no_more_of_it() -> None:
    assert [words for words, _, _ in heard_after_a_reading(Continuing(sure=False), 2.1, tone(0.4))] == [
        ("one", "two"),
        ("next",),
    ]


def test_a_reading_that_is_not_whole_is_waited_for() -> None:
    assert heard_after_a_reading(Continuing(sure=False), 1.1, tone(0.4), is_unfinished=True) == [
        (("one", "two", "three"), False, 0.5)
    ]


def test_whether_a_reading_goes_on_is_known_while_it_is_said() -> None:
    recognizer = UtteranceRecognizer(Continuing(sure=False), Endpointer(SETTINGS, LoudnessDetector))
    recognizer.listen_for(THREE)
    seen = []
    for block in blocks_of(silence(0.5) + tone(0.8) + silence(1.0) + tone(0.4) + silence(2.0)):
        recognizer.accept(block)
        seen.append((round(block.start_s, 2), recognizer.goes_on))
    assert not any(goes_on for at_s, goes_on in seen if at_s < 2.3)
    assert all(goes_on for at_s, goes_on in seen if 2.5 <= at_s < 2.7)
    assert not seen[-1][1]


def test_sound_that_both_parts_hold_is_heard_once() -> None:
    early = Segment(bytes(32000), 0.0, 0.2, 0.8, 0.6, 20.0)
    late = Segment(bytes(32000), 0.9, 1.2, 1.8, 0.5, 12.0)
    both = early.followed_by(late)
    assert len(both.pcm) == pytest.approx(2 * 16000 * 1.9, abs=2)
    assert (both.start_s, both.speech_from_s, both.speech_to_s) == (0.0, 0.2, 1.8)
    assert both.speech_s == pytest.approx(1.1)
    assert both.signal_to_noise_db == 12.0
    assert both.longest_pause_s == pytest.approx(0.4)


def test_what_cannot_go_on_does_not_wait_for_more_digits() -> None:
    assert reported_at_s(CountingEngine(margin=0.0, average_logprob=-2.0), COMPLETE) == pytest.approx(0.7, abs=0.07)
    one = WordGraph(0, frozenset({1}), (Arc(0, 1, "one", ("digit:1",)),), 2)
    assert reported_at_s(CountingEngine(margin=0.0, average_logprob=-2.0), one) == pytest.approx(0.7, abs=0.07)


def test_a_command_is_reported_once() -> None:
    recognizer = UtteranceRecognizer(CountingEngine(), Endpointer(SETTINGS, LoudnessDetector))
    recognizer.listen_for(COMPLETE)
    found = [hypothesis for block in blocks_of(SOUND + SOUND) for hypothesis in recognizer.accept(block)]
    assert len([*found, *recognizer.flush()]) == 2


def test_nothing_is_reported_before_it_is_told_what_to_listen_for() -> None:
    recognizer = UtteranceRecognizer(CountingEngine(), Endpointer(SETTINGS, LoudnessDetector))
    assert [found for block in blocks_of(SOUND) for found in recognizer.accept(block)] == []


@pytest.mark.parametrize(
    ("gap", "is_command"), [(0.0, True), (COMMAND_GAP_NATS, True), (COMMAND_GAP_NATS + 0.1, False)]
)
def test_while_dictating_a_command_must_explain_the_sound_as_well_as_text_does(gap: float, is_command: bool) -> None:
    recognizer = UtteranceRecognizer(CountingEngine(free_gap=gap), Endpointer(SETTINGS, LoudnessDetector))
    recognizer.listen_for_dictation(COMPLETE)
    (hypothesis,) = [found for block in blocks_of(SOUND) for found in recognizer.accept(block)]
    assert hypothesis.words == (("next",) if is_command else ("a", "tone"))
    assert hypothesis.tags == (("control:next_step",) if is_command else ())


def test_dictation_without_commands_is_text() -> None:
    recognizer = UtteranceRecognizer(CountingEngine(), Endpointer(SETTINGS, LoudnessDetector))
    recognizer.listen_for_dictation()
    (hypothesis,) = [found for block in blocks_of(SOUND) for found in recognizer.accept(block)]
    assert (hypothesis.words, hypothesis.tags, hypothesis.free_text) == (("a", "tone"), (), "a tone")
    recognizer.listen_for(COMPLETE)
    assert [found.words for block in blocks_of(SOUND, 10.0) for found in recognizer.accept(block)] == [("next",)]


def test_speech_that_fits_nothing_has_no_words_and_hopeless_evidence() -> None:
    segment = Segment(tone(0.5), 0.0, 0.1, 0.4, 0.3, 20.0)
    hypothesis = nothing_heard(segment, "pitch", "a tone")
    assert (hypothesis.words, hypothesis.tags, hypothesis.clip) == ((), (), segment.pcm)
    assert hypothesis.evidence is not None
    assert hypothesis.evidence.margin == 0.0


class Noisy(Spelling):
    """Hears one digit for each tone, and so many at most; or nothing likely in what ends before the third second."""

    def __init__(self, *, most: int = 3, first_unsure: bool = False) -> None:
        super().__init__()
        self.most = most
        self.first_unsure = first_unsure

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        heard = super().recognise(segment, graph)
        assert heard.evidence is not None
        if self.first_unsure and segment.speech_to_s < 3.0:
            return nothing_heard(segment, self.name)
        return replace(heard, words=heard.words[: self.most], tags=heard.tags[: self.most])


def heard_of(engine: Spelling, sound: bytes) -> list[tuple[tuple[str, ...], bool, float]]:
    """What is reported, whether it may be a part of more, and since when it was said."""
    recognizer = UtteranceRecognizer(engine, Endpointer(SETTINGS, HalfDeaf))
    recognizer.listen_for(THREE)
    found = [hypothesis for block in blocks_of(sound) for hypothesis in recognizer.accept(block)]
    return [(one.words, one.is_part, round(one.spoken_from_s, 1)) for one in [*found, *recognizer.flush()]]


@pytest.mark.parametrize(
    ("sound", "heard"),
    [
        # The first, the last digit is taken for no speech by the detector.
        (missed(0.5) + murmur(0.4) + tone(0.8), [(("one", "two", "three"), False, 2.0)]),
        (tone(0.8) + murmur(0.4) + missed(0.4), [(("one", "two", "three"), False, 2.0)]),
        # It begins when the silence is nearly long enough.
        (tone(0.8) + murmur(0.6) + missed(0.4), [(("one", "two", "three"), False, 2.0)]),
        # One that was missed is not part of the next reading as well.
        (
            tone(0.4) + murmur(0.3) + missed(0.4) + murmur(2.5) + tone(0.4),
            [(("one", "two"), False, 2.0), (("one",), False, 5.6)],
        ),
    ],
)
def test_a_digit_that_the_detector_missed_is_heard(
    sound: bytes, heard: list[tuple[tuple[str, ...], bool, float]]
) -> None:
    assert heard_of(Spelling(), murmur(2.0) + sound + murmur(2.0)) == heard


def test_a_word_beside_a_reading_that_nobody_can_make_out_makes_it_doubtful() -> None:
    sound = murmur(2.0) + missed(0.5) + murmur(0.4) + tone(0.8) + murmur(2.0)
    assert heard_of(Noisy(most=2), sound) == [(("one", "two"), True, 2.9)]


def test_softer_noise_beside_a_reading_does_not_make_it_doubtful() -> None:
    sound = murmur(2.0) + missed(0.5, amplitude=2500) + murmur(0.4) + tone(0.8) + murmur(2.0)
    assert heard_of(Noisy(most=2), sound) == [(("one", "two"), False, 2.9)]


class Stopping(Spelling):
    """Hears the stop word in sound that begins before that second."""

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        heard = super().recognise(segment, graph)
        return replace(heard, words=("stop",), tags=("control:stop",)) if segment.speech_from_s < 2.5 else heard


def test_a_stop_word_that_the_detector_missed_beside_a_number_stops() -> None:
    sound = murmur(2.0) + missed(0.5) + murmur(0.4) + tone(0.8) + murmur(2.0)
    assert heard_of(Stopping(), sound) == [(("stop",), False, 2.0)]


def test_speech_that_was_not_understood_just_before_digits_is_heard_with_them() -> None:
    sound = murmur(2.0) + tone(0.4) + murmur(1.0) + tone(0.4) + murmur(2.0)
    assert heard_of(Noisy(first_unsure=True), sound) == [((), False, 2.0), (("one", "two"), False, 2.0)]


def test_digits_just_after_speech_that_was_not_understood_are_doubtful() -> None:
    sound = murmur(2.0) + tone(0.4) + murmur(1.0) + tone(0.4) + murmur(2.0)
    assert heard_of(Noisy(first_unsure=True, most=1), sound) == [((), False, 2.0), (("one",), True, 3.4)]


def test_digits_long_after_it_are_not() -> None:
    sound = murmur(2.0) + tone(0.4) + murmur(1.8) + tone(0.4) + murmur(2.0)
    assert heard_of(Noisy(first_unsure=True), sound) == [((), False, 2.0), (("one",), False, 4.2)]


class Short(Spelling):
    """Hears the last digit of no reading."""

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        heard = super().recognise(segment, graph)
        return replace(heard, words=heard.words[:-1] or heard.words, tags=heard.tags[:-1] or heard.tags)


def test_fewer_digits_than_pieces_of_sound_are_doubtful() -> None:
    three, two = ((tone(0.4) + murmur(0.15)) * count + murmur(2.0) for count in (3, 2))
    assert heard_of(Spelling(), murmur(1.0) + two) == [(("one", "two"), False, 1.0)]
    assert heard_of(Short(), murmur(1.0) + three) == [(("one", "two"), True, 1.0)]


def test_as_many_digits_as_there_may_be_lack_none() -> None:
    recognizer = UtteranceRecognizer(Short(), Endpointer(SETTINGS, HalfDeaf))
    recognizer.listen_for(OPEN)
    sound = murmur(1.0) + (tone(0.4) + murmur(0.15)) * 3 + murmur(2.0)
    (hypothesis,) = [found for block in blocks_of(sound) for found in recognizer.accept(block)]
    assert (hypothesis.words, hypothesis.is_part) == (("one", "two"), False)
