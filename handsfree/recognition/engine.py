"""What an engine must do with one utterance, and the recogniser that finds utterances for any engine."""

from typing import Protocol

from handsfree.model.audio import AudioBlock
from handsfree.model.commands import STOP_CONTROLS
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.endpointing import Endpointer, Segment

_SURE_AVERAGE = -1.4
_SURE_GAP = 8.0
_SURE_MARGIN = 3.0
COMMAND_GAP_NATS = 4.0
"""While text is dictated, an utterance is a command if the command explains the sound nearly as well as free text."""
_STOP_TAGS = frozenset(f"control:{control.value}" for control in STOP_CONTROLS)


class Engine(Protocol):
    """Recognises one utterance at a time."""

    @property
    def name(self) -> str:
        """What `Hypothesis.engine` says."""

    def prepare(self, graph: WordGraph) -> None:
        """Get ready to listen for a graph; kept for a while, so that coming back to it costs nothing.

        Raises:
            ModelError: The graph has words that this engine cannot hear.
        """

    def recognise(self, segment: Segment, graph: WordGraph) -> Hypothesis:
        """What was said, among what the graph allows."""

    def write_down(self, pcm: bytes) -> str:
        """What was said, without a graph."""


class UtteranceRecognizer:
    """A `Recognizer` made of an endpointer and an engine.

    A command after which the graph has nothing more to say is reported after a short silence; a reading, to which a
    digit may yet be added, after a longer one.

    Args:
        engine: Recognises each utterance.
        endpointer: Finds them.
    """

    def __init__(self, engine: Engine, endpointer: Endpointer | None = None) -> None:
        self._engine = engine
        self._endpointer = endpointer or Endpointer()
        self._graph: WordGraph | None = None
        self._dictation = False
        self._early: tuple[Segment, Hypothesis] | None = None

    @property
    def speaking(self) -> bool:
        """See `Recognizer.speaking`."""
        return self._endpointer.speaking

    def listen_for(self, graph: WordGraph) -> None:
        """See `Recognizer.listen_for`."""
        self._engine.prepare(graph)
        self._graph = graph
        self._dictation = False
        self._early = None

    def listen_for_dictation(self, commands: WordGraph | None = None) -> None:
        """See `Recognizer.listen_for_dictation`."""
        if commands is not None:
            self._engine.prepare(commands)
        self._graph = commands
        self._dictation = True
        self._early = None

    def accept(self, block: AudioBlock) -> tuple[Hypothesis, ...]:
        """See `Recognizer.accept`."""
        heard = self._recognise(self._endpointer.accept(block))
        early = self._hear_early()
        return heard if early is None else (*heard, early)

    def flush(self) -> tuple[Hypothesis, ...]:
        """See `Recognizer.flush`."""
        return self._recognise(self._endpointer.flush())

    def reset(self) -> None:
        """See `Recognizer.reset`."""
        self._endpointer.reset()
        self._early = None

    def transcribe(self, block: AudioBlock) -> str:
        """See `Recognizer.transcribe`."""
        return self._engine.write_down(block.pcm)

    def _recognise(self, segments: list[Segment]) -> tuple[Hypothesis, ...]:
        heard = (self._hear(segment) for segment in segments)
        return tuple(hypothesis for hypothesis in heard if hypothesis is not None)

    def _hear_early(self) -> Hypothesis | None:
        """What was said, if it is clear and nothing could follow."""
        segment = self._endpointer.paused()
        if segment is None or self._graph is None or (self._early is not None and self._early[0] == segment):
            return None
        hypothesis = self._engine.recognise(segment, self._graph)
        self._early = segment, hypothesis
        if self._dictation or not _is_sure(hypothesis):
            return None
        # "Stop" means the same whatever may follow it.
        is_stop = bool(hypothesis.tags) and _STOP_TAGS.issuperset(hypothesis.tags)
        if not is_stop and _may_go_on(self._graph, hypothesis):
            return None
        self._endpointer.close()
        return hypothesis

    def _hear(self, segment: Segment) -> Hypothesis | None:
        if self._graph is None:
            return self._dictated(segment, None) if self._dictation else None
        if self._early is not None and self._early[0] == segment:
            hypothesis = self._early[1]
        else:
            hypothesis = self._engine.recognise(segment, self._graph)
        if not self._dictation:
            return hypothesis
        evidence = hypothesis.evidence
        if hypothesis.words and evidence is not None and evidence.free_gap <= COMMAND_GAP_NATS:
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


def _is_sure(hypothesis: Hypothesis) -> bool:
    evidence = hypothesis.evidence
    return evidence is not None and (
        evidence.average_logprob >= _SURE_AVERAGE and evidence.free_gap <= _SURE_GAP and evidence.margin >= _SURE_MARGIN
    )


def _may_go_on(graph: WordGraph, hypothesis: Hypothesis) -> bool:
    """Whether a longer utterance of the graph begins with these words."""
    here = _silently(graph, {graph.start})
    for word in hypothesis.words:
        here = _silently(graph, {arc.target for arc in graph.arcs if arc.source in here and arc.word == word})
    # From any state, not from final ones alone: a repeated part goes on from a state that is not final itself.
    return any(arc.source in here and arc.word is not None for arc in graph.arcs)


def _silently(graph: WordGraph, states: set[int]) -> set[int]:
    """The states and all that are reached from them without a word."""
    reached = set(states)
    more = True
    while more:
        more = False
        for arc in graph.arcs:
            if arc.word is None and arc.source in reached and arc.target not in reached:
                reached.add(arc.target)
                more = True
    return reached


def nothing_heard(segment: Segment, engine: str, free_text: str | None = None) -> Hypothesis:
    """Speech that fits nothing: no words, and evidence that no decision accepts."""
    return Hypothesis(
        words=(),
        tags=(),
        spoken_from_s=segment.speech_from_s,
        spoken_to_s=segment.speech_to_s,
        engine=engine,
        evidence=Evidence(-99.0, 99.0, 0.0, segment.speech_s, segment.signal_to_noise_db),
        free_text=free_text,
        clip=segment.pcm,
    )
