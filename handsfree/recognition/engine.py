"""What an engine must do with one utterance."""

from typing import Protocol

from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Evidence, Hypothesis
from handsfree.recognition.endpointing import Segment

OVERRULED = 0.5
"""Less likely than this, a stop word in the free text counts for more; an engine need not write free text else."""


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
