"""What every recogniser does: sound in, hypotheses out, nothing but what the graph allows."""

from collections.abc import Callable
from typing import Protocol

from handsfree.model.audio import AudioBlock
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis


class Recognizer(Protocol):
    """Listens to a stream of blocks and reports an utterance when it has ended.

    What it listens for counts for utterances that end after the call. Times come from `AudioBlock.start_s` alone.
    """

    @property
    def speaking(self) -> bool:
        """Whether somebody is being heard right now."""

    @property
    def goes_on(self) -> bool:
        """Whether what is being said now began so soon after a reading that it may be more of it."""

    def listen_for(self, graph: WordGraph, is_unfinished: Callable[[Hypothesis], bool] | None = None) -> None:
        """From now on hear only what this graph allows.

        What goes on with a reading soon after it was reported is heard together with it, by the graph of then, and
        reported as one reading (`Hypothesis.goes_on`).

        Args:
            graph: What may be said.
            is_unfinished: Whether more must be waited for after a reading, though it could be whole.
        """

    def listen_for_dictation(self, commands: WordGraph | None = None) -> None:
        """From now on write down free text.

        Args:
            commands: What is still a command when it is said alone ("end note", "stop"). Those come with tags; text
                comes as words without tags.
        """

    def accept(self, block: AudioBlock) -> tuple[Hypothesis, ...]:
        """Take a block; return the utterances that ended with it.

        Speech that fits nothing comes as a hypothesis with no words and no tags.
        """

    def flush(self) -> tuple[Hypothesis, ...]:
        """The stream has ended: return what was still being said."""

    def reset(self) -> None:
        """Forget sound heard so far, not what is listened for."""

    def transcribe(self, block: AudioBlock) -> str:
        """Write down one piece of sound as free text, without detection of speech; "" if nothing is understood."""
