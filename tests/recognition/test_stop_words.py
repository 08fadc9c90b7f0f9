"""Stop words are heard early and in any surroundings; rules of our own design."""

from dataclasses import replace
from decimal import Decimal

import pytest
from recognition_helpers import LoudnessDetector, PitchEngine, blocks_of, phrases, silence, tone

from handsfree.model.commands import NumberSlot, OptionPhrases, OptionSlot, Wanted
from handsfree.model.graph import Arc, WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.model.readings import Side
from handsfree.recognition.endpointing import Endpointer, Segment
from handsfree.recognition.engine import nothing_heard
from handsfree.recognition.look_ahead import LookAhead, Next
from handsfree.recognition.stop_word_spotter import FIRST_LOOK_S, LONGEST_S, NEXT_LOOK_S, WINDOW_S
from handsfree.recognition.utterance_recognizer import UtteranceRecognizer
from handsfree.understanding.heat_words import may_be_cry
from handsfree.understanding.listening_graph import graph_for

LISTENED = phrases(("stop", "control:stop"), ("stop timer", "control:stop"), ("next step", "control:next_step"))
CLEAR = Evidence(-0.2, 0.0, 9.0, 0.4, 25.0)


class Scripted(PitchEngine):
    """Hears "stop" with a given evidence while only stop words are searched, and else what it is told."""

    def __init__(self, stop: Evidence = CLEAR, otherwise: Hypothesis | None = None) -> None:
        self.looks = 0
        self._stop = stop
        self._otherwise = otherwise

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        if "next" in graph.words:
            return self._otherwise or nothing_heard(segment, self.name, "something else")
        self.looks += 1
        return replace(nothing_heard(segment, self.name), words=("stop",), tags=("control:stop",), evidence=self._stop)


def listen(
    engine: Scripted, pcm: bytes, *, dictation: bool = False, start_s: float = 0.0
) -> list[tuple[tuple[str, ...], float]]:
    recognizer = UtteranceRecognizer(engine, Endpointer(detector=LoudnessDetector))
    if dictation:
        recognizer.listen_for_dictation(LISTENED)
    else:
        recognizer.listen_for(LISTENED)
    return [(found.words, block.end_s) for block in blocks_of(pcm, start_s) for found in recognizer.accept(block)]


@pytest.mark.parametrize("dictation", [False, True])
def test_a_clear_stop_is_reported_after_a_silence_shorter_than_between_words(dictation: bool) -> None:
    ((words, at_s),) = listen(Scripted(), silence(0.5) + tone(0.3) + silence(1.5), dictation=dictation)
    assert words == ("stop",)
    assert at_s - 0.8 == pytest.approx(0.12, abs=0.07)


def test_a_clear_stop_is_reported_while_somebody_goes_on_speaking() -> None:
    ((words, at_s), *_) = listen(Scripted(), silence(0.5) + tone(3.0) + silence(1.0))
    assert words == ("stop",)
    assert at_s - 0.5 == pytest.approx(FIRST_LOOK_S, abs=0.07)


class Once(Scripted):
    """Hears the stop word at its first look, and takes all other sound for an answer."""

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        if "next" not in graph.words and self.looks:
            return nothing_heard(segment, self.name)
        found = super().recognise(segment, graph)
        return found if found.words else replace(found, words=("next", "step"), tags=("control:next_step",))


@pytest.mark.parametrize("start_s", [0.0, 0.1, 772.98, 772.9799999995852])
@pytest.mark.parametrize(("seconds", "also"), [(0.8, 0), (2.0, 1)])
def test_the_end_of_a_stop_word_is_no_answer_but_what_follows_is(seconds: float, also: int, start_s: float) -> None:
    found = listen(Once(), silence(0.5) + tone(seconds) + silence(1.5), start_s=start_s)
    assert [words for words, _ in found] == [("stop",), *[("next", "step")] * also]


def test_what_might_be_a_stop_is_not_reported_before_its_end() -> None:
    doubtful = replace(CLEAR, free_gap=5.0)
    found = listen(Scripted(doubtful), silence(0.5) + tone(0.3) + silence(1.5))
    assert [words for words, _ in found] == [()]


def test_looks_are_few_and_end_with_long_speech() -> None:
    engine = Scripted(replace(CLEAR, free_gap=20.0))
    listen(engine, silence(0.5) + tone(6.0) + silence(1.0))
    assert 3 <= engine.looks <= 5
    assert LONGEST_S < 6.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("The sleeve slips. Stop!", ("stop",)),
        ("Stop, stop the light please.", ("stop",)),
        ("We did not stop.", ()),
        ("The bus stop, then the office.", ()),
    ],
)
def test_a_stop_at_either_end_of_a_longer_speech_is_read_from_its_text(text: str, words: tuple[str, ...]) -> None:
    otherwise = nothing_heard(Segment(tone(0.5), 0.0, 0.1, 2.4, 2.0, 20.0), "pitch", text)
    found = listen(Scripted(replace(CLEAR, free_gap=20.0), otherwise), silence(0.5) + tone(2.0) + silence(1.0))
    assert [heard for heard, _ in found] == [words]


def test_a_confident_answer_is_not_overruled_by_its_text() -> None:
    otherwise = Hypothesis(
        ("next", "step"), ("control:next_step",), 0.5, 1.5, "pitch", CLEAR, free_text="Next step. Stop."
    )
    found = listen(Scripted(replace(CLEAR, free_gap=20.0), otherwise), silence(0.5) + tone(0.9) + silence(1.0))
    assert [heard for heard, _ in found] == [("next", "step")]


def test_a_stop_word_that_begins_an_answer_waits_for_the_rest() -> None:
    graph = WordGraph(
        0,
        frozenset({1}),
        (
            Arc(0, 1, "pain", ("control:pain",)),
            Arc(0, 1, "stop", ("control:stop",)),
            Arc(0, 2, "pain", ("slot:pain",)),
            Arc(2, 1, "three", ("digit:3",)),
        ),
        3,
    )
    stops = LookAhead(graph).stop_words()
    assert stops is not None
    assert stops.words == {"stop"}
    assert LookAhead(phrases(("next step", "control:next_step"))).stop_words() is None


def test_what_may_follow() -> None:
    arcs = (
        Arc(0, 1, "one", ("digit:1",)),
        Arc(1, 2, "point", ("point",)),
        Arc(2, 3, "five", ("digit:5",)),
        Arc(3, 4, "degrees"),
        Arc(4, 5, "celsius", ("unit:Cel",)),
        Arc(3, 0, "to", ("to",)),
    )
    course = LookAhead(WordGraph(0, frozenset({1, 3, 5}), arcs, 6))
    assert course.after(("one",)) is Next.MORE
    assert course.after(("one", "point", "five")) is Next.ADDITION
    assert course.after(("one", "point", "five", "degrees", "celsius")) is Next.NOTHING


def test_once_all_is_answered_only_an_answer_again_may_follow() -> None:
    # The graph that a step with three answers listens for.
    def option(slot: str, *words: str) -> OptionSlot:
        return OptionSlot(slot, (slot,), tuple(OptionPhrases(word, (word,)) for word in words), (Side.RIGHT,))

    refill = NumberSlot("refill", ("refill",), "s", Decimal("0.2"), Decimal(10), 1, (Side.RIGHT,))
    pulse, color = option("pulse", "present", "absent"), option("color", "usual", "pale")
    course = LookAhead(graph_for(Wanted(slots=(pulse, refill, color))))

    def after(text: str) -> Next:
        return course.after(text.split())

    assert after("pulse present refill two color usual") is Next.ADDITION
    assert after("right pulse present color usual refill two seconds") is Next.ADDITION
    assert after("pulse present color usual") is Next.MORE
    assert after("pulse present refill two") is Next.MORE
    assert after("pulse present refill two color") is Next.MORE
    # The same answer twice is not another one.
    assert after("pulse present pulse present color usual") is Next.MORE
    # "two" may become "two point five".
    assert after("pulse present color usual refill two") is Next.MORE


LIT = phrases(("stop", "control:stop"), ("ouch", "control:cry"), ("next step", "control:next_step"))


class Watching(PitchEngine):
    """Makes out a word of heat at a time of the sound, with a given probability, and no stop word clearly."""

    def __init__(self, heat: float, at_s: float = 0.0) -> None:
        self.heard_s: list[float] = []
        self._heat = heat
        self._at_s = at_s

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        length_s = len(segment.pcm) / 32000
        self.heard_s.append(length_s)
        heat = self._heat if segment.start_s <= self._at_s <= segment.start_s + length_s else 0.0
        nothing = nothing_heard(segment, self.name, "it turns")
        return replace(nothing, words=("stop",), tags=("control:stop",), runner_up=("burns",), heat=heat)


def hear_heat(engine: Watching, seconds: float, graph: WordGraph = LIT) -> list[tuple[Hypothesis, float]]:
    recognizer = UtteranceRecognizer(engine, Endpointer(detector=LoudnessDetector))
    recognizer.listen_for(graph)
    pcm = silence(0.5) + tone(seconds) + silence(1.5)
    return [(found, block.end_s) for block in blocks_of(pcm) for found in recognizer.accept(block)]


def test_a_clear_word_of_heat_is_reported_while_somebody_goes_on_speaking() -> None:
    (found, at_s), *_ = hear_heat(Watching(0.8, at_s=3.0), 6.0)
    assert at_s == pytest.approx(3.0, abs=0.4)
    # What the stop words were matched to is dropped: it is no reading of a longer sentence.
    assert (found.words, found.tags, found.runner_up, found.heat) == ((), (), ("burns",), 0.8)
    assert may_be_cry(found)


def test_a_less_clear_one_is_reported_when_it_was_made_out_twice() -> None:
    engine = Watching(0.3, at_s=3.0)
    (found, at_s), *_ = hear_heat(engine, 6.0)
    assert found.heat == 0.3
    assert at_s == pytest.approx(3.0 + NEXT_LOOK_S, abs=0.4)
    (_, at_s), *_ = hear_heat(Watching(0.15, at_s=3.0), 6.0)
    assert at_s > 6.5


def test_a_less_clear_one_is_reported_after_a_pause_shorter_than_between_words() -> None:
    (found, at_s), *_ = hear_heat(Watching(0.15, at_s=0.6), 1.0)
    assert found.heat == 0.15
    assert at_s - 1.5 == pytest.approx(0.12, abs=0.07)


def test_a_faint_one_waits_for_the_whole() -> None:
    (_, at_s), *_ = hear_heat(Watching(0.05, at_s=0.6), 1.0)
    assert at_s - 1.5 >= 0.19


def test_of_long_speech_the_last_seconds_alone_are_searched() -> None:
    engine = Watching(0.0)
    hear_heat(engine, 9.0)
    assert len(engine.heard_s) > 20
    # The last two are of the whole utterance, once it may have ended.
    assert max(engine.heard_s[:-2]) <= WINDOW_S < min(engine.heard_s[-2:])


def test_where_no_cries_are_listened_for_nothing_is_looked_for_in_long_speech() -> None:
    engine = Watching(0.8, at_s=3.0)
    found = hear_heat(engine, 6.0, LISTENED)
    assert all(at_s > 6.5 for _, at_s in found)
