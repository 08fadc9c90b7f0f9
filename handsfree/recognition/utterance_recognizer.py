"""The recogniser that finds utterances for any engine and reports each as soon as it is whole."""

import logging
from collections.abc import Callable
from dataclasses import dataclass, replace

from handsfree.developer_log import timed
from handsfree.model.audio import AudioBlock
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.endpointing import Endpointer, Segment, chunk_levels
from handsfree.recognition.engine import OVERRULED, Engine
from handsfree.recognition.look_ahead import STOP_TAGS, LookAhead, Next
from handsfree.recognition.sound_beside import count_pieces
from handsfree.recognition.stop_word_spotter import StopWordSpotter
from handsfree.understanding.acceptance import probability_right
from handsfree.understanding.heat_words import CRY_TAG, may_be_cry

_LOG = logging.getLogger(__name__)

COMMAND_GAP_NATS = 4.0
"""While text is dictated, an utterance is a command if the command explains the sound nearly as well as free text."""
BEYOND_DOUBT = 0.9
"""Probability from which an utterance to which nothing can be added ends after the shortest silence."""
LIKELY = 0.8
"""Probability from which it ends after a short silence; a less likely one may be half of something else: "six six" was
heard as "six six six" with a probability of .6 while the "five" was still to come."""
LIKELIER_THAN_NOTHING = 0.2
"""Probability from which what was said before a pause and after it is taken for one reading."""
GOES_ON_WITHIN_S = 2.0
GOES_ON_PACES = 3.0
GOES_ON_WITHIN_AT_MOST_S = 3.0
"""How long after a reading what is said may be more of it; longer for those who paused inside it, by their pauses."""
BELONGS_WITHIN_S = 1.5
"""How long after speech that was not understood digits may be the rest of it."""
REST_WITHIN_S = 0.25
REST_SHORTER_S = 0.5
"""Speech that begins so soon after a stop word heard while somebody still spoke, and is so short, is its end."""

_NUMBER_TAGS = ("digit:", "teen:", "tens:", "hundred", "point", "letter:")
"""How tags begin after which more of the same may come."""


@dataclass(frozen=True, slots=True)
class _Told:
    """What was reported last and may be gone on with: a reading, or speech of which little could be made.

    Attributes:
        segment: Its sound.
        graph: What it was heard by.
        words: The reading; none where it was no likely one.
        is_doubtful: Whether nobody would take it as it stands.
    """

    segment: Segment
    graph: WordGraph
    words: tuple[str, ...]
    is_doubtful: bool

    def may_go_on_at(self, speech_from_s: float) -> bool:
        """Whether speech that begins then comes soon enough after it."""
        own_s = GOES_ON_PACES * self.segment.longest_pause_s
        least_s = GOES_ON_WITHIN_S if self.words else BELONGS_WITHIN_S
        within_s = min(GOES_ON_WITHIN_AT_MOST_S, max(least_s, own_s))
        return speech_from_s - self.segment.speech_to_s <= within_s


class UtteranceRecognizer:
    """A `Recognizer` made of an endpointer and an engine.

    How long it waits for more depends on what was said so far. Stop words are looked for while somebody still speaks. A
    command after which the graph has nothing more to say is reported after a short silence, and a reading to which a
    digit may yet be added after a longer one. Digits that come after that are heard together with it all the same.

    Args:
        engine: Recognises each utterance.
        endpointer: Finds them.
    """

    def __init__(self, engine: Engine, endpointer: Endpointer | None = None) -> None:
        self._engine = engine
        self._endpointer = endpointer or Endpointer()
        self._graph: WordGraph | None = None
        self._course: LookAhead | None = None
        self._stop_watch: StopWordSpotter | None = None
        self._dictation = False
        self._hears_cries = False
        self._early: tuple[Segment, Hypothesis, float | None] | None = None
        self._stopped_at_s: float | None = None
        self._is_unfinished: Callable[[Hypothesis], bool] = _never
        self._told: _Told | None = None

    @property
    def speaking(self) -> bool:
        """See `Recognizer.speaking`."""
        return self._endpointer.speaking

    def listen_for(self, graph: WordGraph, is_unfinished: Callable[[Hypothesis], bool] | None = None) -> None:
        """See `Recognizer.listen_for`."""
        self._attend(graph)
        self._dictation = False
        self._is_unfinished = is_unfinished or _never

    def listen_for_dictation(self, commands: WordGraph | None = None) -> None:
        """See `Recognizer.listen_for_dictation`."""
        self._attend(commands)
        self._dictation = True

    def _attend(self, graph: WordGraph | None) -> None:
        self._graph = graph
        self._early = None
        self._course = self._stop_watch = None
        self._hears_cries = False
        if graph is None:
            return
        self._engine.prepare(graph)
        self._hears_cries = any(CRY_TAG in arc.tags for arc in graph.arcs)
        self._course = LookAhead(graph)
        stop_words = self._course.stop_words()
        if stop_words is not None:
            self._engine.prepare(stop_words)
            self._stop_watch = StopWordSpotter(self._engine.recognise, stop_words, self._endpointer)

    def accept(self, block: AudioBlock) -> tuple[Hypothesis, ...]:
        """See `Recognizer.accept`."""
        heard = self._recognise(self._endpointer.accept(block))
        early = self._stop_watch.look() if self._stop_watch is not None else None
        if early is not None:
            self._stopped_at_s = early.spoken_to_s
        early = early or self._hear_early()
        if early is None:
            return heard
        self._endpointer.close()
        self._endpointer.forget(early.spoken_to_s)
        return (*heard, early)

    @property
    def goes_on(self) -> bool:
        """See `Recognizer.goes_on`."""
        begun_s, told = self._endpointer.speech_from_s, self._told
        return begun_s is not None and told is not None and bool(told.words) and told.may_go_on_at(begun_s)

    def flush(self) -> tuple[Hypothesis, ...]:
        """See `Recognizer.flush`."""
        return self._recognise(self._endpointer.flush())

    def reset(self) -> None:
        """See `Recognizer.reset`."""
        self._endpointer.reset()
        self._early = self._told = None

    def transcribe(self, block: AudioBlock) -> str:
        """See `Recognizer.transcribe`."""
        return self._engine.write_down(block.pcm)

    def _recognise(self, segments: list[Segment]) -> tuple[Hypothesis, ...]:
        heard = (self._hear(segment) for segment in segments)
        return tuple(hypothesis for hypothesis in heard if hypothesis is not None)

    def _hear_early(self) -> Hypothesis | None:
        """What was said, once the silence after it is long enough for how sure it is and for what could follow."""
        silent_s, settings = self._endpointer.silent_s, self._endpointer.settings
        if silent_s < settings.sure_silence_s - settings.lead_s or self._graph is None or self._dictation:
            return None
        segment = self._endpointer.so_far()
        if segment is None or self._is_rest(segment):
            return None
        if self._early is None or not self._will_do(*self._early, segment):
            hypothesis = self._search(segment, self._graph)
            self._early = segment, hypothesis, self._patience_s(hypothesis)
            if self._may_go_on_slowly(hypothesis):
                self._endpointer.wait(max(settings.slow_silence_s, 2 * segment.longest_pause_s))
        _, hypothesis, patience_s = self._early
        if patience_s is None or silent_s < patience_s or self._is_talk_of_others(segment, hypothesis):
            return None
        if self._endpointer.sounds and _is_number(hypothesis):
            return None
        return self._whole(segment, hypothesis, self._graph)

    def _will_do(self, heard: Segment, _: Hypothesis, patience_s: float | None, segment: Segment) -> bool:
        """Whether the utterance under way needs no further search after one with less of the silence behind it.

        It needs none before that silence is over, and after it none for what is beyond doubt.
        """
        sure_s = self._endpointer.settings.sure_silence_s
        is_same = (heard.speech_from_s, heard.speech_to_s) == (segment.speech_from_s, segment.speech_to_s)
        is_soon = self._endpointer.silent_s < sure_s or (patience_s is not None and patience_s <= sure_s)
        return heard == segment or (is_same and is_soon and heard.wider == segment.wider)

    def _patience_s(self, hypothesis: Hypothesis) -> float | None:
        """Seconds of silence to wait for more, or None for as long as any utterance may be silent."""
        if self._hears_cries and may_be_cry(hypothesis):
            return self._endpointer.settings.sure_silence_s
        if self._course is None or not hypothesis.words or hypothesis.evidence is None:
            return None
        settings, probability = self._endpointer.settings, probability_right(hypothesis)
        # "Stop" means the same whatever may follow it.
        if _stops(hypothesis) and probability >= LIKELY:
            return settings.sure_silence_s
        following = self._course.after(hypothesis.words)
        if following is Next.NOTHING and probability >= BEYOND_DOUBT:
            return settings.sure_silence_s
        return settings.early_silence_s if following is not Next.MORE and probability >= LIKELY else None

    def _may_go_on_slowly(self, hypothesis: Hypothesis) -> bool:
        """Whether digits may still follow from somebody who says them one by one: a pause must not shorten a number."""
        return (
            self._course is not None
            and _is_number(hypothesis)
            and (len(hypothesis.words) == 1 or self._endpointer.is_slow or self._is_unfinished(hypothesis))
            and self._course.after(hypothesis.words) is Next.MORE
        )

    def _is_rest(self, segment: Segment) -> bool:
        """Whether a segment is the end of a stop word that has been reported: "off" after "light"."""
        since = self._stopped_at_s
        return (
            since is not None
            # Either side of it: the two times are sums of their own, and may differ in the last place.
            and abs(segment.speech_from_s - since) < REST_WITHIN_S
            and segment.speech_s < REST_SHORTER_S
        )

    def _is_talk_of_others(self, segment: Segment, hypothesis: Hypothesis) -> bool:
        """Whether nobody near spoke, and what the room said is neither likely an answer nor a stop or a cry."""
        return not (
            segment.is_near
            or _stops(hypothesis)
            or (self._hears_cries and may_be_cry(hypothesis))
            or probability_right(hypothesis) >= LIKELY
        )

    def _search(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        """What was said, alone or as more of the reading before it."""
        alone = self._search_alone(segment, graph)
        told = self._told
        if told is None or not told.may_go_on_at(segment.speech_from_s) or _stops(alone) or _is_answer(alone):
            return alone
        if not told.words and (told.graph != graph or not _is_number(alone)):
            return alone
        both = self._search_alone(told.segment.followed_by(segment), told.graph)
        longer = len(both.words) > len(told.words) and (bool(told.words) or len(both.words) > len(alone.words))
        if longer and _is_number(both) and probability_right(both) >= LIKELIER_THAN_NOTHING:
            return replace(both, goes_on=bool(told.words))
        return replace(alone, is_part=True) if told.is_doubtful and _is_digits(alone) else alone

    def _whole(self, segment: Segment, hypothesis: Hypothesis, graph: WordGraph) -> Hypothesis:
        """What is reported of an utterance: where other sound beside it is as loud, a number is heard with that."""
        wider = segment.wider
        is_cry = self._hears_cries and may_be_cry(hypothesis)
        if wider is not None and not (is_cry or _stops(hypothesis) or _is_answer(hypothesis)):
            whole = self._search(wider, graph)
            least = LIKELIER_THAN_NOTHING if _is_number(hypothesis) else LIKELY
            longer = _is_number(whole) and len(whole.words) > len(hypothesis.words)
            stops = _stops(whole) and probability_right(whole) >= OVERRULED
            if stops or (longer and probability_right(whole) >= least):
                self._endpointer.forget(whole.spoken_to_s)
                segment, hypothesis = wider, whole
            elif _is_number(hypothesis) and (segment.has_word_beside or whole.words != hypothesis.words):
                hypothesis = replace(hypothesis, is_part=True)
        if self._lacks_digit(hypothesis):
            hypothesis = replace(hypothesis, is_part=True)
        self._tell(segment, hypothesis, graph)
        return hypothesis

    def _lacks_digit(self, hypothesis: Hypothesis) -> bool:
        """Whether digits that may have been more are fewer than the pieces of loud sound that they were heard in."""
        if self._course is None or not hypothesis.clip or not _is_digits(hypothesis):
            return False
        said = sum(tag.startswith("digit:") for tag in hypothesis.tags)
        if said < len(hypothesis.words) or self._course.after(hypothesis.words) is not Next.MORE:
            return False
        return count_pieces(chunk_levels(hypothesis.clip)) > said

    def _tell(self, segment: Segment, hypothesis: Hypothesis, graph: WordGraph) -> None:
        """Remember what is reported, in case it goes on."""
        told = self._told
        is_likely = probability_right(hypothesis) >= LIKELY
        if hypothesis.goes_on and told is not None:
            self._told = _Told(told.segment.followed_by(segment), told.graph, hypothesis.words, not is_likely)
        elif _is_number(hypothesis):
            self._told = _Told(segment, graph, hypothesis.words, not is_likely)
        elif is_likely or _stops(hypothesis):
            self._told = None
        elif told is None or not told.may_go_on_at(segment.speech_from_s):
            self._told = _Told(segment, graph, (), is_doubtful=True)

    def _search_alone(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        with timed(_LOG, "utterance_searched", logging.DEBUG):
            hypothesis = self._engine.recognise(segment, graph)
        if self._stop_watch is None or probability_right(hypothesis) >= OVERRULED:
            return hypothesis
        return self._stop_watch.in_text(hypothesis) or hypothesis

    def _hear(self, segment: Segment) -> Hypothesis | None:
        if self._graph is None:
            return self._dictated(segment, None) if self._dictation else None
        if self._early is not None and self._early[0] == segment:
            hypothesis = self._early[1]
        else:
            hypothesis = self._search(segment, self._graph)
        if (self._is_rest(segment) and not _stops(hypothesis)) or self._is_talk_of_others(segment, hypothesis):
            return None
        if not self._dictation:
            return self._whole(segment, hypothesis, self._graph)
        evidence = hypothesis.evidence
        if hypothesis.words and evidence is not None:
            # The second weights are the ones that know free text.
            gap = evidence.free_gap if evidence.second_free_gap is None else evidence.second_free_gap
            if gap <= COMMAND_GAP_NATS:
                return hypothesis
        return self._dictated(segment, hypothesis)

    def _dictated(self, segment: Segment, command: Hypothesis | None) -> Hypothesis | None:
        text = command.free_text if command is not None else None
        if text is None:
            text = self._engine.write_down(segment.pcm)
        if not text:
            return None
        return Hypothesis(
            words=tuple(text.split()),
            tags=(),
            spoken_from_s=segment.speech_from_s,
            spoken_to_s=segment.speech_to_s,
            engine=self._engine.name,
            evidence=command.evidence if command is not None else None,
            free_text=text,
            clip=segment.pcm,
        )


def _stops(hypothesis: Hypothesis) -> bool:
    return bool(hypothesis.tags) and STOP_TAGS.issuperset(hypothesis.tags)


def _is_number(hypothesis: Hypothesis) -> bool:
    return bool(hypothesis.tags) and hypothesis.tags[-1].startswith(_NUMBER_TAGS)


def _is_digits(hypothesis: Hypothesis) -> bool:
    """Whether it is digits and nothing else, without a label: they may be the rest of others."""
    numbers = sum(tag.startswith(_NUMBER_TAGS) for tag in hypothesis.tags)
    return _is_number(hypothesis) and numbers >= len(hypothesis.words)


def _is_answer(hypothesis: Hypothesis) -> bool:
    """Whether it is likely something else than more of a number."""
    return bool(hypothesis.words) and not _is_number(hypothesis) and probability_right(hypothesis) >= LIKELY


def _never(_: Hypothesis) -> bool:
    return False
