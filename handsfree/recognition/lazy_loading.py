"""A recogniser that is still being loaded: who begins to speak need not wait for what will listen."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from handsfree.model.audio import AudioBlock
from handsfree.model.graph import WordGraph
from handsfree.model.hypotheses import Hypothesis
from handsfree.recognition.port import Recognizer


class LazyRecognizer:
    """Loads a recogniser beside everything else; whoever needs it first waits for it. See `Recognizer`.

    Args:
        load: Loads it. What it raises comes out of the first call.
    """

    def __init__(self, load: Callable[[], Recognizer]) -> None:
        pool = ThreadPoolExecutor(1, "loads-recogniser")
        self._loading = pool.submit(load)
        pool.shutdown(wait=False)

    @property
    def speaking(self) -> bool:
        """See `Recognizer.speaking`."""
        return self._loading.done() and self._loading.result().speaking

    def listen_for(self, graph: WordGraph) -> None:
        """See `Recognizer.listen_for`."""
        self._loading.result().listen_for(graph)

    def listen_for_dictation(self, commands: WordGraph | None = None) -> None:
        """See `Recognizer.listen_for_dictation`."""
        self._loading.result().listen_for_dictation(commands)

    def accept(self, block: AudioBlock) -> tuple[Hypothesis, ...]:
        """See `Recognizer.accept`."""
        return self._loading.result().accept(block)

    def flush(self) -> tuple[Hypothesis, ...]:
        """See `Recognizer.flush`."""
        return self._loading.result().flush()

    def reset(self) -> None:
        """See `Recognizer.reset`; before it is loaded there is nothing to forget."""
        if self._loading.done():
            self._loading.result().reset()

    def transcribe(self, block: AudioBlock) -> str:
        """See `Recognizer.transcribe`."""
        return self._loading.result().transcribe(block)
