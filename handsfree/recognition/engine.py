"""What an engine must do with one utterance, and the recogniser that finds utterances for any engine."""

from typing import Protocol

from handsfree.model.audio import AudioBlock
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.endpointing import Endpointer, Segment

COMMAND_GAP_NATS = 4.0
"""While text is dictated, an utterance is a command if the command explains the sound nearly as well as free text."""


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

    Args:
        engine: Recognises each utterance.
        endpointer: Finds them.
    """

    def __init__(self, engine: Engine, endpointer: Endpointer | None = None) -> None:
        self._engine = engine
        self._endpointer = endpointer or Endpointer()
        self._graph: WordGraph | None = None
        self._dictation = False

    @property
    def speaking(self) -> bool:
        """See `Recognizer.speaking`."""
        return self._endpointer.speaking

    def listen_for(self, graph: WordGraph) -> None:
        """See `Recognizer.listen_for`."""
        self._engine.prepare(graph)
        self._graph = graph
        self._dictation = False

    def listen_for_dictation(self, commands: WordGraph | None = None) -> None:
        """See `Recognizer.listen_for_dictation`."""
        if commands is not None:
            self._engine.prepare(commands)
        self._graph = commands
        self._dictation = True

    def accept(self, block: AudioBlock) -> tuple[Hypothesis, ...]:
        """See `Recognizer.accept`."""
        return self._recognise(self._endpointer.accept(block))

    def flush(self) -> tuple[Hypothesis, ...]:
        """See `Recognizer.flush`."""
        return self._recognise(self._endpointer.flush())

    def reset(self) -> None:
        """See `Recognizer.reset`."""
        self._endpointer.reset()

    def transcribe(self, block: AudioBlock) -> str:
        """See `Recognizer.transcribe`."""
        return self._engine.write_down(block.pcm)

    def _recognise(self, segments: list[Segment]) -> tuple[Hypothesis, ...]:
        heard = (self._hear(segment) for segment in segments)
        return tuple(hypothesis for hypothesis in heard if hypothesis is not None)

    def _hear(self, segment: Segment) -> Hypothesis | None:
        if self._graph is None:
            return self._dictated(segment, None) if self._dictation else None
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
