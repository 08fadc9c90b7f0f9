"""A voice in a process of its own: what it computes cannot hold up the sound and the listening of a live session."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing import get_context
from multiprocessing.connection import Connection

from handsfree.errors import VoiceError
from handsfree.model.audio import Speech
from handsfree.voice.port import Synthesizer

TIMEOUT_S = 30.0
"""Loading takes two to three seconds, the longest prompt less than one."""


class VoiceApart:
    """See `Synthesizer`. The process starts at once and makes itself ready; it ends with this one.

    A voice whose process ended is started once more for the text that found it so.

    Args:
        make: Makes the voice; must be picklable, and quick here, where only the name is asked for.

    Raises:
        VoiceError: The voice is not installed.
    """

    def __init__(self, make: Callable[[], Synthesizer]) -> None:
        self._make = make
        self._name = make().name
        self._lock = threading.Lock()
        self._start()

    @property
    def name(self) -> str:
        """See `Synthesizer.name`."""
        return self._name

    def render(self, text: str) -> Speech:
        """See `Synthesizer.render`. Waits for the voice to be ready."""
        with self._lock:
            try:
                answer = self._ask(text)
            except (EOFError, OSError):
                self._start_again()
                try:
                    answer = self._ask(text)
                except (EOFError, OSError) as error:
                    status = self._start_again()
                    raise VoiceError(f"the process of the voice ended (exit status {status})") from error
        if isinstance(answer, VoiceError):
            raise answer
        return answer

    def close(self) -> None:
        """End the process."""
        self._connection.close()
        self._process.terminate()
        self._process.join()

    def _start(self) -> None:
        # Spawned, not forked: this process may already have threads and an open sound device.
        context = get_context("spawn")
        self._connection, theirs = context.Pipe()
        self._process = context.Process(target=_serve, args=(theirs, self._make), name="voice", daemon=True)
        with _interrupts_ignored():
            self._process.start()
        # With its other end closed here, a process that died is seen as the end of the stream.
        theirs.close()

    def _start_again(self) -> int | None:
        """Returns the exit status of the process that was."""
        self.close()
        status = self._process.exitcode
        self._start()
        return status

    def _ask(self, text: str) -> Speech | VoiceError:
        self._connection.send(text)
        if not self._connection.poll(TIMEOUT_S):
            self._start_again()
            return VoiceError(f"the voice gave nothing within {TIMEOUT_S:.0f} s")
        answer: Speech | VoiceError = self._connection.recv()
        return answer


@contextmanager
def _interrupts_ignored() -> Iterator[None]:
    """Let what is started meanwhile ignore Ctrl-C from its first moment, which reaches every process of a terminal."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _serve(connection: Connection, make: Callable[[], Synthesizer]) -> None:
    """Answer texts with sound until the other side is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    voice = make()
    # A voice that fails here fails at its first text, where somebody is told.
    with suppress(VoiceError):
        voice.render("Ready.")
    with suppress(EOFError, OSError):
        while True:
            text: str = connection.recv()
            answer: Speech | VoiceError
            try:
                answer = voice.render(text)
            except VoiceError as error:
                answer = error
            connection.send(answer)
