"""Stop words have a path of their own: they are looked for while somebody still speaks, in whatever is listened for.

Only the stop words are searched, so that a look costs little, and a look is no decision: what is not clearly a stop
word goes on and is recognised as a whole, where a stop word is accepted on weak evidence still.
"""

import re
from collections.abc import Callable
from dataclasses import replace

from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.endpointing import Endpointer, Segment
from handsfree.understanding.heat_words import CRY_TAG

# Source of the limits: 50 recordings of "stop" and 219 of other short words by many speakers (Speech Commands). After a
# pause of 0.12 s, 44 of 50 "stop" are within the first pair of limits, and none of the 219 others.
_GAP_AFTER_PAUSE = 3.0
_AVERAGE_AFTER_PAUSE = -1.2
_GAP_WHILE_SPEAKING = 1.0
_AVERAGE_WHILE_SPEAKING = -0.8
# Source: 40 cries and 40 pieces of talk of synthetic voices, each in quiet and noise; no talk reached a limit.
_HEAT_AFTER_PAUSE = 0.1
_HEAT_WHILE_SPEAKING = 0.7
_HEAT_TWICE = 0.2
"""In two looks one after the other: a word that is cut off in one is whole in the next."""
FIRST_LOOK_S = 0.45
NEXT_LOOK_S = 0.3
LONGEST_S = 1.4
"""Seconds of speech after which an utterance is no stop word any more; its end is still read for one."""
WINDOW_S = 4.0
"""Words of heat are looked for in so many seconds up to now, however long somebody speaks."""
_IN_TEXT = Evidence(average_logprob=-1.0, free_gap=0.0, margin=0.0, speech_s=0.5)
_CLAUSES = re.compile(r"[.,!?;:]+")

Search = Callable[[Segment, WordGraph], Hypothesis]


class StopWordSpotter:
    """Looks for stop words in the utterance that is under way.

    Args:
        search: Recognises a piece of sound under a graph.
        stop_words: The sentences that stop.
        endpointer: Has the utterance.
    """

    def __init__(self, search: Search, stop_words: WordGraph, endpointer: Endpointer) -> None:
        self._search = search
        self._graph = stop_words
        self._endpointer = endpointer
        self._looked_at: tuple[float, bool] = (0.0, False)
        self._heat_before = 0.0
        self._tags = _sentences(stop_words)
        self._hears_cries = any(CRY_TAG in arc.tags for arc in stop_words.arcs)

    def look(self) -> Hypothesis | None:
        """A stop word, if the speech so far is clearly one, or a word of heat in it; to be called after every block."""
        speech_s = self._endpointer.speech_s
        if speech_s < self._looked_at[0]:
            self._looked_at, self._heat_before = (0.0, False), 0.0
        is_long = speech_s > LONGEST_S
        if not speech_s or (is_long and not self._hears_cries):
            return None
        paused = self._endpointer.hushed_s >= self._endpointer.settings.stop_silence_s
        last_s, was_paused = self._looked_at
        due_s = FIRST_LOOK_S if not last_s else last_s + NEXT_LOOK_S
        is_due = (speech_s > last_s or not was_paused) if paused else speech_s >= due_s
        segment = self._endpointer.so_far() if is_due else None
        if segment is None:
            return None
        self._looked_at = speech_s, paused
        hypothesis = self._search(segment.last(WINDOW_S) if is_long else segment, self._graph)
        if not is_long and hypothesis.words and _is_clear(hypothesis.evidence, paused=paused):
            return hypothesis
        # What the stop words were matched to is no reading of a sentence that has more words.
        return replace(hypothesis, words=(), tags=()) if self._is_heat(hypothesis.heat or 0.0, paused=paused) else None

    def _is_heat(self, heat: float, *, paused: bool) -> bool:
        before, self._heat_before = self._heat_before, heat
        once = _HEAT_AFTER_PAUSE if paused else _HEAT_WHILE_SPEAKING
        return heat >= once or min(heat, before) >= _HEAT_TWICE

    def in_text(self, hypothesis: Hypothesis) -> Hypothesis | None:
        """The stop word that the free text begins or ends with, as a clause of its own ("Wait, it slips. Stop!").

        What is said besides it is dropped. The evidence is weak on purpose: nobody has compared it with other words.
        """
        clauses = [clause.split() for clause in _CLAUSES.split((hypothesis.free_text or "").lower())]
        spoken = [tuple(clause) for clause in clauses if clause]
        for words in (*spoken[-1:], *spoken[:1]):
            tags = self._tags.get(words)
            if tags is not None and hypothesis.evidence is not None:
                weak = replace(_IN_TEXT, signal_to_noise_db=hypothesis.evidence.signal_to_noise_db)
                return replace(hypothesis, words=words, tags=tags, evidence=weak, runner_up=hypothesis.words or None)
        return None


def _is_clear(evidence: Evidence | None, *, paused: bool) -> bool:
    if evidence is None:
        return False
    gap, average = (
        (_GAP_AFTER_PAUSE, _AVERAGE_AFTER_PAUSE) if paused else (_GAP_WHILE_SPEAKING, _AVERAGE_WHILE_SPEAKING)
    )
    return evidence.free_gap <= gap and evidence.average_logprob >= average


def _sentences(graph: WordGraph) -> dict[tuple[str, ...], tuple[str, ...]]:
    """Words and tags of every sentence of a graph that has no loop."""
    found: dict[tuple[str, ...], tuple[str, ...]] = {}
    paths: list[tuple[int, tuple[str, ...], tuple[str, ...]]] = [(graph.start, (), ())]
    for state, words, tags in paths:  # grows while it is walked
        if state in graph.finals:
            found[words] = tags
        paths += [(arc.target, (*words, arc.word or ""), tags + arc.tags) for arc in graph.arcs if arc.source == state]
    return found
